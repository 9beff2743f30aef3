"""``brumal cross``: odds against textbooks and the genetics beneath, wrong use, hostile texts."""

from __future__ import annotations

import csv
import io
import re
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from brumal.cli import main
from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.clutch_odds import Predicate, chance_of_one, visual_classes
from brumal.genetics.notation.naming import diplotype_pairs
from brumal.genetics.notation.parse import parse_morph
from brumal.genetics.welfare import welfare_risks
from brumal.genetics.wishes import Need
from brumal.insight.sheets.cross_sheet import Asked, CrossSheet, cross_animals, cross_notations
from brumal.pipeline import Prepared, prepare
from brumal.report.cross import words
from brumal.report.cross.pictures import MOST_BARS, looks_picture
from brumal.report.cross.report import cross_csv, cross_page, print_cross
from season_folders import season_folder
from season_outputs import DEMO, LONG, hostile_season

CATALOGUE, _ = load_catalogue()
ALL = 100_000


def crossed(dam: str, sire: str, **asked: object) -> CrossSheet:
    both = []
    for text in (dam, sire):
        morph, problems = parse_morph(text, CATALOGUE)
        assert morph is not None, problems
        both.append((text, morph))
    how = Asked(**({"most": ALL, "genotypes": True} | asked))  # type: ignore[arg-type]
    return cross_notations(both[0], both[1], CATALOGUE, how)


def shares(sheet: CrossSheet) -> dict[str, float]:
    return {look.name: look.chances.each for look in sheet.looks}


def printed(sheet: CrossSheet) -> str:
    out = io.StringIO()
    print_cross(sheet, Console(file=out, width=80, highlight=False, markup=False, emoji=False))
    return out.getvalue()


@lru_cache
def demo() -> Prepared:
    return prepare(DEMO)


def test_a_two_thirds_carrier_on_a_visual_with_six_eggs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """trade-facts 2.1: 2/3 x (1 - 1/64) = 21/32, not 1 - (2/3)^6 = 0.912; 1/3 an egg."""
    sheet = crossed("66% het Clown", "Clown")
    clown = next(look for look in sheet.looks if look.name == "Clown")
    assert clown.chances.each == pytest.approx(1 / 3, abs=1e-15)
    assert clown.chances.one == pytest.approx(21 / 32, abs=1e-15)
    assert clown.chances.expected == pytest.approx(2, abs=1e-14)

    assert main(["cross", "66% het Clown", "Clown", "--out", str(tmp_path)]) == 0
    assert re.search(r"^Clown +1/3 +33\.3% +2 +65\.6%$", capsys.readouterr().out, re.M)
    (table,) = tmp_path.glob("*.csv")
    rows = {row["name"]: row for row in csv.DictReader(io.StringIO(table.read_text("utf-8")))}
    assert float(rows["Clown"]["at_least_one"]) == pytest.approx(21 / 32, abs=1e-9)


@pytest.mark.parametrize(
    ("dam", "sire", "expected"),
    [
        ("het Clown", "het Clown", {"66% het Clown": 3 / 4, "Clown": 1 / 4}),
        ("Pastel", "Pastel", {"Normal": 1 / 4, "Pastel": 1 / 2, "Super Pastel": 1 / 4}),
        ("het Clown", "Clown", {"het Clown": 1 / 2, "Clown": 1 / 2}),
        (
            "het Clown het Piebald",
            "het Clown het Piebald",
            {
                "66% het Clown 66% het Piebald": 9 / 16,
                "Clown 66% het Piebald": 3 / 16,
                "Piebald 66% het Clown": 3 / 16,
                "Clown Piebald": 1 / 16,
            },
        ),
        (
            "Mojave",
            "Lesser",
            {"Normal": 1 / 4, "Mojave": 1 / 4, "Lesser": 1 / 4, "Lesser Mojave": 1 / 4},
        ),
        ("Lesser Mojave", "Normal", {"Mojave": 1 / 2, "Lesser": 1 / 2}),
        ("66% het Clown", "66% het Clown", {"50% het Clown": 8 / 9, "Clown": 1 / 9}),
    ],
)
def test_textbook_crosses(dam: str, sire: str, expected: dict[str, float]) -> None:
    """trade-facts 2.1: any genetics textbook, e.g. Griffiths et al. (from memory)."""
    found = shares(crossed(dam, sire))
    assert found.keys() == expected.keys()
    assert found == pytest.approx(expected, abs=1e-14)


@pytest.mark.parametrize(
    ("eggs", "quarter", "half"),
    [(4, 0.683594, 0.9375), (6, 0.822021, 0.984375), (10, 0.943686, 0.999023)],
)
def test_at_least_one_of_known_parents(eggs: int, quarter: float, half: float) -> None:
    """trade-facts 2.1, recomputed there: 1 - (3/4)^n and 1 - (1/2)^n."""
    looks = {look.name: look.chances.one for look in crossed("Pastel", "Pastel", eggs=eggs).looks}
    assert looks["Super Pastel"] == pytest.approx(quarter, abs=1e-6)
    assert looks["Pastel"] == pytest.approx(half, abs=1e-6)


def test_genotypes_of_two_double_hets() -> None:
    """Mendel 1866 (from memory): 1:2:1:2:4:2:1:2:1 in sixteenths."""
    sheet = crossed("het Clown het Piebald", "het Clown het Piebald")
    assert sheet.genotypes is not None
    found = {genotype.name: genotype.chances.each * 16 for genotype in sheet.genotypes}
    assert found == pytest.approx(
        {
            "het Clown het Piebald": 4,
            "het Clown": 2,
            "het Piebald": 2,
            "Clown het Piebald": 2,
            "Piebald het Clown": 2,
            "Normal": 1,
            "Clown": 1,
            "Piebald": 1,
            "Clown Piebald": 1,
        }
    )
    triple = crossed("het Clown het Piebald het Albino", "het Clown het Piebald het Albino")
    assert shares(triple)["Albino Clown Piebald"] == pytest.approx(1 / 64)


def test_a_sex_linked_gene_goes_to_sons_from_the_y() -> None:
    """1 - r of the sons and r of the daughters, r = 0.05: common practice, no source."""
    sheet = crossed("Normal", "Banana on Y")
    banana, normal = (
        next(look for look in sheet.looks if look.name == name) for name in ("Banana", "Normal")
    )
    assert (banana.females, normal.females) == (pytest.approx(0.05), pytest.approx(0.95))
    assert sheet.genotypes is not None
    found = {words.genotype_name(genotype): genotype.chances.each for genotype in sheet.genotypes}
    assert found == pytest.approx(
        {
            "Banana on Y, male": 0.475,
            "Normal, female": 0.475,
            "Normal, male": 0.025,
            "Banana, female": 0.025,
        }
    )
    assert "females" in printed(sheet)
    assert "females" not in printed(crossed("Pastel", "Clown"))


def test_which_side_a_males_gene_lies_on_is_an_uncertainty_of_its_own() -> None:
    """Unknown side, half each: six sons or six daughters hang together, so no 1 - (1/2)^6."""
    sheet = crossed("Normal", "Banana")
    assert not sheet.certain
    assert words.unsure_lines(sheet.sire) == [
        "not certain: Banana on X (50.0%) or Banana on Y (50.0%)"
    ]
    assert sheet.genotypes is not None
    son = next(each for each in sheet.genotypes if words.genotype_name(each) == "Normal, male")
    each_case = (0.475, 0.025)
    mixed = sum(1 - (1 - chance) ** 6 for chance in each_case) / 2
    assert son.chances.each == pytest.approx(0.25)
    assert son.chances.one == pytest.approx(mixed)


def test_two_copies_of_a_dominant_are_named_though_unseen() -> None:
    """1:2:1 of which 3 look alike: two copies in a third of them."""
    (pinstripe, _) = crossed("Pinstripe", "Pinstripe").looks
    assert words.look_name(pinstripe) == "Pinstripe (two copies of Pinstripe in 33.3%)"


GENES = ("Clown", "Piebald", "Albino", "Pastel", "Enchi", "Banana", "Pinstripe", "Spider")
RECESSIVES = GENES[:3]


@st.composite
def morphs(draw: st.DrawFn) -> str:
    chosen = draw(st.lists(st.sampled_from(GENES), unique=True, max_size=4))
    told = []
    for gene in sorted(chosen, key=lambda gene: gene in RECESSIVES):
        if gene not in RECESSIVES:
            told.append(gene)
            continue
        told.append(draw(st.sampled_from([f"visual {gene}", f"het {gene}", f"37% het {gene}"])))
    return " ".join(told) or "Normal"


@settings(max_examples=60, deadline=None)
@given(dam=morphs(), sire=morphs(), eggs=st.integers(1, 12), most=st.integers(1, 8))
def test_odds_sum_to_one_and_short_lists_are_the_start_of_the_whole(
    dam: str, sire: str, eggs: int, most: int
) -> None:
    whole, short = crossed(dam, sire, eggs=eggs), crossed(dam, sire, eggs=eggs, most=most)
    assert whole.genotypes is not None
    assert short.genotypes is not None
    for rows, part, left in (
        (whole.looks, short.looks, short.looks_left),
        (whole.genotypes, short.genotypes, short.genotypes_left),
    ):
        found = [row.chances.each for row in rows]
        assert sum(found) == pytest.approx(1, abs=1e-12)
        # Equal chances may differ in the last digit, and stand in the order of their names.
        assert all(one >= other - 2e-12 for one, other in pairwise(found))
        assert len(part) == min(most, len(rows))
        assert [row.chances.each for row in part] == pytest.approx(found[:most])
        assert left.kinds == len(rows) - len(part)
        assert sum(found[:most]) + left.chance == pytest.approx(1, abs=1e-12)
        for row in rows:
            assert row.chances.expected == pytest.approx(eggs * row.chances.each)
            # At least one is likelier than one given egg, and no likelier than independent eggs.
            bound = 1 - (1 - row.chances.each) ** eggs
            assert row.chances.each - 1e-12 <= row.chances.one <= bound + 1e-12
    assert len({row.name for row in whole.looks}) == len(whole.looks)


def satisfies(need: Need, group: str, catalogue: Catalogue) -> Predicate:
    return lambda pair: need.satisfied(diplotype_pairs(group, pair, catalogue)[need.locus])


@pytest.mark.parametrize(("dam", "sire"), [("F05", "M03"), ("F06", "M04"), ("F14", "M02")])
def test_demo_pairs_have_the_figures_of_the_genetics_beneath(dam: str, sire: str) -> None:
    prepared = demo()
    sheet = cross_animals(prepared, dam, sire, Asked(most=ALL))
    offspring, catalogue = prepared.cross(dam, sire), prepared.catalogue
    looks = visual_classes(offspring, catalogue)
    assert sorted(look.chances.each for look in sheet.looks) == pytest.approx(
        sorted(look.chance for look in looks)
    )
    assert sheet.risks == welfare_risks(offspring, catalogue)
    assert sheet.count.mean == pytest.approx(
        sum(n * chance for n, chance in enumerate(sheet.count.young))
    )
    for wish, odds in zip(prepared.wishes, sheet.wanted, strict=True):
        # Every wish of the demo asks for one locus of a linkage group.
        predicates = {
            group.id: satisfies(need, group.id, catalogue)
            for need in wish.needs
            for group in catalogue.groups.values()
            if need.locus in group.loci
        }
        one = chance_of_one(offspring, predicates, sheet.count.young, catalogue)
        assert odds.chances.one == pytest.approx(one, abs=1e-12)
        assert 1 - odds.counts[0] == pytest.approx(one, abs=1e-12)
        assert sum(n * chance for n, chance in enumerate(odds.counts)) == pytest.approx(
            odds.chances.expected
        )
    text = printed(sheet)
    for look in sheet.looks:
        assert words.share(look.chances.one) in text


def test_kin_uncertain_together_are_crossed_together(tmp_path: Path) -> None:
    """Two sibs out of a 50 % het dam: both het with 1/8, not 1/16, so 1/32 of the young show it."""
    herd = """id,name,sex,dam,sire,morph
D,Dew,female,,,50% het Clown
S,Sleet,male,,,Normal
A,Ash,female,D,S,Normal
B,Birch,male,D,S,Normal
"""
    prepared = prepare(season_folder(tmp_path, animals=herd))
    sheet = cross_animals(prepared, "A", "B", Asked(eggs=8))
    clown = next(look for look in sheet.looks if look.name == "Clown")
    assert clown.chances.each == pytest.approx(1 / 32)
    assert clown.chances.one == pytest.approx((1 - (3 / 4) ** 8) / 8)
    assert sheet.relation == "full siblings"
    assert words.verdict_lines(sheet.verdicts)[0].startswith(
        "Not met: Young of Ash and Birch would have F 0.25; 0.0625 is the most"
    )


def test_an_animal_of_unknown_sex_is_taken_in_its_role(tmp_path: Path) -> None:
    herd = "id,sex,morph\nA,,Normal\nB,,Banana\n"
    sheet = cross_animals(prepare(season_folder(tmp_path, animals=herd)), "A", "B", Asked(eggs=4))
    assert words.unsure_lines(sheet.dam) == []
    assert words.unsure_lines(sheet.sire) == [
        "not certain: Banana on X (50.0%) or Banana on Y (50.0%)"
    ]
    assert "Not met: The sex of B is not recorded." in " ".join(printed(sheet).split())


def test_words_and_order_on_the_terminal() -> None:
    assert printed(crossed("Pastel het Clown", "Clown", genotypes=False)).startswith(
        """\
Pastel het Clown x Clown
Dam: Pastel het Clown
Sire: Clown
Counted on 6 eggs, each taken to hatch: without a folder there is no forecast.
--eggs sets another number.

Odds of each look
look              odds  share  expected  one or more
het Clown          1/4  25.0%       1.5        82.2%
Pastel het Clown   1/4  25.0%       1.5        82.2%
Clown              1/4  25.0%       1.5        82.2%
Pastel Clown       1/4  25.0%       1.5        82.2%

Welfare
""".replace("forecast.\n", "forecast. \n")
    )


def test_the_forecast_is_told_and_a_stated_number_takes_its_place() -> None:
    forecast = cross_animals(demo(), "F06", "M04", Asked())
    clutch = forecast.count.forecast
    assert clutch is not None
    assert words.count_line(forecast.count).startswith(
        f"Clutch by the forecast: she lays with a chance of {clutch.goes:.1%}, then "
    )
    none = forecast.count.young[0]
    assert none > 1 - clutch.goes
    stated = cross_animals(demo(), "F06", "M04", Asked(eggs=1))
    assert words.count_line(stated.count) == "Counted on 1 egg, each taken to hatch, as you say."
    assert all(
        look.chances.one == pytest.approx(look.chances.each, abs=1e-15) for look in stated.looks
    )


def test_harm_is_told_first_with_its_source_and_again_for_the_parent() -> None:
    text = " ".join(printed(cross_animals(demo(), "F20", "M04", Asked())).split())
    head = "Welfare: Spider (neurological) in 50.0% of the young. Read the notes before you pair."
    assert text.index(head) < text.index("Odds of each look")
    assert "Starck, Schrenk, Schroeder & Pees 2022" in text
    assert "unless rules.accept_welfare names 'Spider'." in text
    assert "Cornice (F20) is Spider (neurological): the note above." in text
    assert "a licensed vet decides on health" in text
    both = words.young_risks(crossed("Spider", "Spider").risks)
    assert any(line.startswith("Super Spider in 25.0% of the young") for line in both)
    assert both[-1] == words.LETHAL_NOTE
    assert words.NO_NOTE in cross_page(crossed("Pastel", "Clown"))


def test_what_a_list_leaves_out_is_counted() -> None:
    sheet = crossed("Pastel Enchi", "Pastel Enchi", most=4, genotypes=False)
    line = "Not listed: 5 more looks, together 37.5% of the young; --most 9 lists them all."
    assert line in " ".join(printed(sheet).split())
    assert line in cross_page(sheet)
    assert "looks not listed,5,,0.375,,," in cross_csv(sheet).splitlines()
    genes = "Pastel Enchi Pinstripe Mojave Banana Spider Calico Chocolate Desert Leopard Acid"
    hets = " het Clown het Piebald het Albino het Ghost het Puzzle het Zebra het Sunset"
    many = crossed(genes + hets, genes + hets, most=40, genotypes=True)
    assert len(many.looks) == 40
    assert "--most sets how many are listed" in " ".join(printed(many).split())


def test_the_picture_tells_bars_and_marks_in_words_too() -> None:
    sheet = crossed("66% het Clown", "Clown")
    root = Xml.fromstring(str(looks_picture(sheet)))
    told = {element.tag.split("}")[1]: element.text for element in root}
    assert told["desc"] == (
        "het Clown: 66.7% of the young, at least one with 99.0%; "
        "Clown: 33.3% of the young, at least one with 65.6%."
    )
    bars = [each for each in root if each.get("class") == "fill-one"]
    troughs = [each for each in root if each.get("class") == "trough"]
    lengths = [
        float(bar.get("width", "")) / float(trough.get("width", ""))
        for bar, trough in zip(bars, troughs, strict=True)
    ]
    assert lengths == pytest.approx([2 / 3, 1 / 3], abs=1e-3)
    texts = [each.text for each in root if each.tag.endswith("}text")]
    assert {"Clown", "33.3%", "one or more 65.6%"} <= set(texts)
    many = crossed("Pastel Enchi Mojave Banana", "Pastel Enchi Lesser Banana")
    assert len(many.looks) > MOST_BARS
    assert f"The {len(many.looks) - MOST_BARS} least likely of the table" in cross_page(many)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (["F01"], "found only 'F01'; expected FOLDER DAM SIRE for two animals of a folder"),
        (["{demo}", "F01"], "found the folder '{demo}' and 'F01' alone; expected FOLDER DAM"),
        (["Pastel", "het", "Clown"], "A morph of several words needs quotes round it."),
        (["{demo}", "F01", "M01", "M02"], "found 4 words ("),
        (["F01", "M04"], "found two words, read as morphs; expected FOLDER DAM SIRE"),
        (["Pastle", "Clown"], "command line, dam: found 'Pastle'"),
        (["Banana on Y", "Clown"], "command line, dam: found Banana on Y; expected a dam's"),
        (["", "Clown"], "command line, dam: found nothing; expected a morph"),
        (["{demo}", "M01", "F01"], "found Polaris (M01), a male, as the dam; expected a female."),
        (["{demo}", "F01", "F02"], "found Snowdrop (F02), a female, as the sire; expected a male"),
        (["{demo}", "F01", "frost"], "found Frost (F01) twice; expected a dam and a sire"),
        (["{demo}", "F01", "M99"], "found 'M99'; expected an animal of the season folder, by id"),
    ],
)
def test_what_was_typed_wrong(
    capsys: pytest.CaptureFixture[str], asked: list[str], told: str
) -> None:
    assert main(["cross", *(word.format(demo=DEMO) for word in asked)]) == 1
    found = "".join(capsys.readouterr().err.split())
    assert "".join(told.format(demo=DEMO).split()) in found


@pytest.mark.parametrize("number", ["0", "61", "six", "1.5", "-1"])
def test_eggs_are_a_whole_number(capsys: pytest.CaptureFixture[str], number: str) -> None:
    with pytest.raises(SystemExit):
        main(["cross", "Clown", "Clown", f"--eggs={number}"])
    assert "a whole number from 1 to 60" in capsys.readouterr().err


def test_results_go_to_a_folder_of_their_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["cross", "Pastel het Clown", "66% het Clown"]) == 0
    assert main(["cross", str(DEMO), "Hyssop", "M04"]) == 0
    out = tmp_path / "brumal-out"
    assert (out / "cross" / "cross-Pastel_het_Clown-66_het_Clown.html").is_file()
    page = out / "demo" / "cross" / "cross-F06-M04.html"
    first = page.read_bytes()
    assert main(["cross", str(DEMO), "F06", "hoar"]) == 0
    assert page.read_bytes() == first


def test_the_keepers_own_genes_count(tmp_path: Path) -> None:
    herd = "id,sex,morph\nF,female,Moonglow\nM,male,Moonglow\n"
    genes = "genes:\n  - {name: Moonglow, inheritance: incomplete dominant}\n"
    sheet = cross_animals(
        prepare(season_folder(tmp_path, animals=herd, genes=genes)), "F", "M", Asked()
    )
    assert shares(sheet) == pytest.approx(
        {"Moonglow": 1 / 2, "Normal": 1 / 4, "Super Moonglow": 1 / 4}
    )


def test_hostile_names_stay_inert_and_within_80_columns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "season"
    folder.mkdir()
    hostile_season(folder)
    for number in range(8):
        out = tmp_path / f"out{number}"
        assert main(["cross", str(folder), f"F{number}", f"M{number}", "--out", str(out)]) == 0
        (page,) = (path.read_text("utf-8") for path in out.glob("*.html"))
        assert not re.search(r"<(script|img|b>)", page)
        assert "&lt;b&gt;Season&lt;/b&gt; {{ 7 * 7 }}" in page
        assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e]", page)
    text = capsys.readouterr().out
    assert not re.search("[\x00-\x09\x0b-\x1f\u202a-\u202e]", text)
    assert LONG in text.replace("\n", "")
    assert max(len(line) for line in text.splitlines() if "Written" not in line) <= 80


def test_the_table_cannot_act_as_a_formula() -> None:
    sheet = cross_animals(demo(), "F06", "M04", Asked(genotypes=True))
    rows = list(csv.DictReader(io.StringIO(cross_csv(sheet))))
    assert {row["kind"] for row in rows} == {"look", "genotype", "wanted"}
    assert sum(float(row["chance"]) for row in rows if row["kind"] == "look") == pytest.approx(1)
    assert not any(cell[:1] in ("=", "@", "+") for row in rows for cell in row.values())


def test_chances_are_written_without_false_certainty() -> None:
    assert [words.share(chance) for chance in (0, 0.0001, 1 / 3, 0.99999, 1)] == [
        "0%",
        "<0.1%",
        "33.3%",
        ">99.9%",
        "100%",
    ]
    assert [words.odds(chance) for chance in (3 / 16, 1 / 9, 1, 0, 0.123456789)] == [
        "3/16",
        "1/9",
        "1",
        "",
        "",
    ]
