"""A season folder with white snakes, unknown make-up and sexed young, from files to prices."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from brumal.genetics.evidence.why_known import why_known
from brumal.insight.sheets.animal_sheet import animal_sheet
from brumal.insight.sheets.cross_sheet import Asked, cross_animals
from brumal.pipeline import Prepared, prepare
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.pairs.looks import Looks, outcomes_of_many
from brumal.planner.pairs.pricing import pricing_of, telling_prices
from brumal.planner.risk.parent_draws import draw_parents
from brumal.planner.risk.young_draws import draw_young, whole_prices
from brumal.records.faults import InputError
from season_folders import season_folder

HEAD = "id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,last_laid\n"
SEASON = """season: {name: White, pair_from: 2026-12-01, pair_to: 2027-03-31}
values:
  base: 30
  wanted:
    - {morph: Piebald, value: 300}
    - {morph: het Piebald, value: 60}
    - {morph: Blue Eyed Leucistic, value: 200, chance: 0.1}
    - {morph: Lesser Mojave Piebald, value: 900}
  extra: {visual: {Pastel: 20, Yellow Belly: 15}, het: {Clown: 40}}
"""


def row(id_: str, sex: str, morph: str, dam: str = "", sire: str = "") -> str:
    year = 2023 if dam else 2021
    return f"{id_},,{sex},{year}-06-01,{dam},{sire},{morph},1800,2026-11-01,3,breeder,\n"


def season(folder: Path, *rows: str, extra: str = "", **files: str) -> Prepared:
    return prepare(
        season_folder(folder, animals=HEAD + "".join(rows), season=SEASON + extra, **files)
    )


def white(folder: Path, extra: str = "") -> Prepared:
    return season(
        folder,
        row("F1", "female", "Lesser Pastel Piebald het Clown"),
        row("F2", "female", "Ivory 66% het Piebald"),
        row("M1", "male", "Mojave Piebald 50% het Clown"),
        row("M2", "male", "Yellow Belly het Piebald"),
        extra=extra,
    )


def test_looks_and_their_values_add_up_to_the_price_of_a_young(tmp_path: Path) -> None:
    prepared = white(tmp_path)
    telling, pricing = telling_prices(prepared), pricing_of(prepared)
    pairs = [(dam, sire) for dam in ("F1", "F2") for sire in ("M1", "M2")]
    for pair, looks in zip(pairs, outcomes_of_many(prepared, telling.sheets, pairs), strict=True):
        assert sum(look.chance for look in looks) == pytest.approx(1.0)
        mean = sum(look.chance * look.value for look in looks)
        assert mean == pytest.approx(pricing.value(*pair), abs=1e-9)
        assert mean == pytest.approx(telling.value(*pair), abs=1e-9)


def test_a_white_young_is_sold_by_what_is_certain(tmp_path: Path) -> None:
    """By hand: every young of two Piebalds is one; a white one shows no Pastel.

    Lesser Mojave Piebald 900; half of its dam's and a quarter of its sire's Clown: 1 - (1 - 1/2)
    (1 - 1/4) = 5/8 carry Clown, at 40 each. Lesser Pastel Piebald: 300 and 20 for Pastel; an
    eighth would show Clown, so that 1/2 of 7/8 carry it unseen.
    """
    prepared = white(tmp_path)
    (looks,) = outcomes_of_many(prepared, telling_prices(prepared).sheets, [("F1", "M1")])
    by_name = {look.morph: look for look in looks}
    snow = by_name["Lesser Mojave Piebald 62% het Clown 50% Pastel"]
    assert snow.chance == pytest.approx(1 / 4)
    assert snow.value == pytest.approx(900 + 40 * 5 / 8)
    plain = next(look for name, look in by_name.items() if name.startswith("Lesser Pastel Piebald"))
    assert plain.value == pytest.approx(300 + 20 + 40 * 4 / 7)


def test_drawn_young_are_priced_and_named_as_reckoned(tmp_path: Path) -> None:
    prepared = white(tmp_path)
    rng = np.random.default_rng(16)
    prices, seasons = whole_prices(prepared), 4000
    for pair in (("F1", "M1"), ("F2", "M2"), ("F2", "M1")):
        groups = [odds.group for odds in prepared.cross(*pair).groups]
        parents = draw_parents(prepared, [pair], groups, 16, seasons)
        counts = np.full(seasons, 5)
        young = draw_young(prepared, prices, parents, pair, counts, rng)
        worth = young.value[young.kind].reshape(seasons, 5).mean(axis=1)
        error = worth.std() / np.sqrt(seasons)
        assert abs(worth.mean() - pricing_of(prepared).value(*pair)) < 5 * error + 1e-9
        (looks,) = outcomes_of_many(prepared, telling_prices(prepared).sheets, [pair])
        drawn = np.bincount(young.kind) / young.kind.size
        named = {young.look[n]: 0.0 for n in range(len(young.look))}
        for number, share in enumerate(drawn.tolist()):
            named[young.look[number]] += share
        ivory = sum(look.chance for look in looks if look.morph.startswith("Ivory"))
        assert named.get("Ivory", 0.0) == pytest.approx(ivory, abs=0.02)
        assert not {name for name in named if name.startswith("Ivory ")}


def test_unknown_make_up_is_sharpened_by_parents_and_young(tmp_path: Path) -> None:
    """Four alleles, equally common: of the 16 pairs of draws 7 hold a Mojave.

    Young with Lesser from a normal mate: one Lesser is there. Of the seven ordered pairs with
    Lesser one is Super Lesser (passes it always), six pass it with 1/2: given one Lesser young the
    weights are 1 and 3, so that Super Lesser has 1/4.
    """
    prepared = season(
        tmp_path,
        row("F1", "female", "BEL"),
        row("F2", "female", "Blue Eyed Leucistic"),
        row("F3", "female", "BEL", "F4", "M1"),
        row("F4", "female", "Lesser"),
        row("M1", "male", "Mojave"),
        row("M2", "male", "Normal"),
        clutches="dam,sire,laid,eggs,slugs,hatched,morphs,trouble,note\n"
        "F2,M2,2025-04-01,1,0,1,Lesser,,\n",
    )
    locus = "blue-eyed leucistic"

    def chances(animal: str) -> dict[frozenset[str], float]:
        found = prepared.genotypes[animal].groups[locus]
        return {frozenset({one, two}): chance for ((one,), (two,)), chance in found}

    one = chances("F1")
    assert sum(p for pair, p in one.items() if "Mojave" in pair) == pytest.approx(7 / 16)
    assert one[frozenset({"Lesser", "Mojave"})] == pytest.approx(2 / 16)
    two = chances("F2")
    assert two[frozenset({"Lesser"})] == pytest.approx(1 / 4)
    assert sum(p for pair, p in two.items() if "Lesser" in pair) == pytest.approx(1.0)
    assert chances("F3") == {frozenset({"Lesser", "Mojave"}): pytest.approx(1.0)}
    told = why_known(prepared.inferred, "F2")
    assert told[0] == "'Blue Eyed Leucistic': stated in its morph."
    assert "two copies of Lesser: 25.0%." in told
    assert animal_sheet(prepared, "F1").understood == "Blue Eyed Leucistic"
    # A request for one is met by any such pair, and by no other young.
    sheet = cross_animals(prepared, "F4", "M1", Asked(eggs=4))
    bel = next(each for each in sheet.wanted if each.morph == "Blue Eyed Leucistic")
    assert bel.chances.each == pytest.approx(1 / 4)


def test_the_default_of_a_possible_het_is_set_once(tmp_path: Path) -> None:
    rows = (row("F1", "female", "poss het Clown"), row("M1", "male", "Clown"))
    with pytest.raises(InputError) as raised:
        season(tmp_path, *rows)
    assert "notation.possible" in str(raised.value.faults[0])
    for written, chance in (("66%", 2 / 3), ("50%", 0.5), ("0.4", 0.4)):
        prepared = season(tmp_path, *rows, extra=f"notation: {{possible: {written}}}\n")
        clown = dict(prepared.genotypes["F1"].groups["clown"])
        assert clown[("+",), ("Clown",)] == pytest.approx(chance)
    with pytest.raises(InputError):
        season(tmp_path, *rows, extra="notation: {possible: 120%}\n")


def test_sexes_of_young_tell_on_which_chromosome_a_gene_lies(tmp_path: Path) -> None:
    """Sons with Banana from the Y: (1 - r) a son, r from the X; r is 0.05 in the catalogue."""
    prepared = season(
        tmp_path,
        row("F1", "female", "Normal"),
        row("M1", "male", "Banana"),
        clutches="dam,sire,laid,eggs,slugs,hatched,morphs,trouble,note\n"
        "F1,M1,2025-04-01,4,0,4,2.0 Banana; 0.1 Banana; female Normal,,\n",
    )
    r = 0.05
    on_y, on_x = (1 - r) ** 2 * r * (1 - r), r**2 * (1 - r) * r
    odds = prepared.genotypes["M1"].groups["sex"]
    chance = sum(p for pair, p in odds if ("Y", "Banana") in pair)
    assert chance == pytest.approx(on_y / (on_y + on_x), abs=1e-12)


def test_results_bear_the_names_of_the_trade_where_asked(tmp_path: Path) -> None:
    prepared = white(tmp_path, "notation: {combination_names: true}\n")
    (looks,) = outcomes_of_many(prepared, telling_prices(prepared).sheets, [("F1", "M1")])
    assert any(
        look.morph.startswith("Lesser Mojave Piebald (Blue Eyed Leucistic) ") for look in looks
    )
    sheet = cross_animals(prepared, "F1", "M1", Asked())
    assert any("(Blue Eyed Leucistic)" in look.name for look in sheet.looks)
    assert any(
        look.name.startswith("Super Pastave") or "Pastave" in look.name for look in sheet.looks
    )


def test_seasons_that_differ_in_names_alone_keep_their_own(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    plain = white(tmp_path / "a")
    traded = white(tmp_path / "b", "notation: {combination_names: true}\n")
    looks, sheets = Looks(), telling_prices(plain).sheets
    (one,), (two,) = (
        looks.of_many(each, sheets, [find_candidates(each).clutches["F1", "M1"]])
        for each in (plain, traded)
    )
    assert [look.value for look in one] == pytest.approx([look.value for look in two])
    assert not any("(Blue Eyed Leucistic)" in look.morph for look in one)
    assert any("(Blue Eyed Leucistic)" in look.morph for look in two)
