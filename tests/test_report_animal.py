"""``brumal animal``: genes and why, weights, clutches, kin, verdicts, and what was typed wrong."""

from __future__ import annotations

import io
import re
from functools import lru_cache
from pathlib import Path

import pytest
from rich.console import Console

from brumal.cli import main
from brumal.genetics.evidence.why_known import why_known
from brumal.genetics.welfare import animal_welfare
from brumal.insight.sheets.animal_sheet import AnimalSheet, animal_sheet
from brumal.pipeline import Prepared, prepare
from brumal.report.animal import words
from brumal.report.animal.report import WEIGHINGS_PRINTED, animal_page, print_animal
from brumal.rules.table import judge_animal
from season_folders import season_folder
from season_outputs import DEMO, LONG, hostile_season

HERD = """id,name,sex,hatched,dam,sire,morph,weight_g,status
S,Sleet,male,2016-07-01,,,Clown,900,breeder
D,Dew,female,2016-07-01,,,Normal,1900,breeder
A,Ash,female,2020-07-01,D,S,het Clown,1700,breeder
B,Birch,,2020-07-01,D,S,het Clown,,breeder
H,Haw,male,2021-07-01,E,S,het Clown,,outside
X,Ash,female,2023-07-01,A,Old One,50% het Clown,,holdback
"""
CLUTCHES = """dam,sire,laid,eggs,slugs,hatched,morphs,trouble,note
D,S,2020-05-01,6,1,4,3 het Clown; 1 Normal,egg binding,vet called
A,,2024-05-02,,,,,,
A,Gone,,0,,,,,
"""


@lru_cache
def demo() -> Prepared:
    return prepare(DEMO)


def sheet_of(id_: str) -> AnimalSheet:
    return animal_sheet(demo(), id_)


@pytest.fixture
def herd(tmp_path: Path) -> Prepared:
    return prepare(season_folder(tmp_path, animals=HERD, clutches=CLUTCHES))


def printed(sheet: AnimalSheet) -> str:
    out = io.StringIO()
    print_animal(sheet, Console(file=out, width=80, highlight=False, markup=False, emoji=False))
    return out.getvalue()


def flat(text: str) -> str:
    return " ".join(text.split())


def genes(sheet: AnimalSheet) -> dict[str, str]:
    return {gene.locus: words.gene_line(gene) for gene in sheet.genes}


def test_four_normal_young_of_visual_mates_leave_one_ninth_of_two_thirds() -> None:
    """trade-facts 2.5 (Young; Bridge 1997, from memory): p 2/3, mate visual, n = 4: 1/9."""
    hoar = sheet_of("M04")
    assert genes(hoar)["clown"] == "wild type (88.9%) or het Clown (11.1%)"
    clown = next(gene for gene in hoar.genes if gene.locus == "clown")
    assert dict(clown.options)["het Clown"] == pytest.approx(1 / 9, abs=1e-12)
    text = flat(printed(hoar))
    assert "3 normal young from visual Frost (F01) make it less likely" in text
    assert "locus carries" in text


def test_one_visual_young_proves_the_het() -> None:
    """trade-facts 2.5: one visual young, P = 1."""
    mizar = sheet_of("F09")
    assert genes(mizar) == {"clown": "het Clown, certain", "pastel": "Super Pastel, certain"}
    text = flat(printed(mizar))
    assert "Morph: Super Pastel 66% het Clown." in text
    assert "het Clown: certain, proved by visual young (Yarrow (F16)" in text
    assert "Found Mizar (F09) as 66% het Clown; expected het Clown for certain" in text


def test_the_side_of_a_sex_linked_gene_is_told() -> None:
    """Bayes: half each before; his daughter has it, with 1 - r from his X and r from his Y.

    r = 0.05 is common practice, no source; the young of his clutches are not sexed and say nothing.
    """
    options = next(gene.options for gene in sheet_of("M02").genes if gene.locus == "banana")
    assert [name for name, _ in options] == ["Banana on X", "Banana on Y"]
    assert [chance for _, chance in options] == pytest.approx([0.95, 0.05])


@pytest.mark.parametrize("id_", ["F01", "F05", "F20", "F28", "M04", "O09"])
def test_the_sheet_holds_what_genetics_and_rules_say(id_: str) -> None:
    prepared, sheet = demo(), sheet_of(id_)
    text = flat(printed(sheet))
    for why in why_known(prepared.inferred, id_):
        assert flat(why) in text
    for verdict in judge_animal(prepared.animals[id_], prepared.rules):
        assert flat(verdict.text) in text
    assert sheet.risks == animal_welfare(prepared.genotypes[id_], prepared.catalogue)
    for gene in sheet.genes:
        assert sum(chance for _, chance in gene.options) == pytest.approx(1)
    assert "F and kinship are as recorded." in text


def test_welfare_notes_of_the_animal_itself() -> None:
    text = flat(printed(sheet_of("F20")))
    assert "Welfare - Cornice (F20) is Spider: Wobble syndrome" in text
    assert "Welfare" not in printed(sheet_of("F01"))


def test_kin_of_the_demo_by_hand() -> None:
    """F of the young of uncle and niece is 1/8 (Falconer & Mackay 1996, from memory)."""
    frost = sheet_of("F01")
    groups = dict(words.kin_groups(frost))
    assert groups["Parents"] == ["Dam: Alder (O06), het Clown", "Sire: Bergamot (O08), Clown"]
    assert groups["Full siblings"] == ["Aurora (F10), Clown"]
    assert (
        "Moraine (O05): uncle and niece; F of their young 0.125 as recorded"
        in (groups["Mates on record"])
    )
    assert groups["Young on record"] == [
        "Polaris (M01), Pastel Clown, hatched 2019-07-08; with Moraine (O05)",
        "Icicle (F05), Clown 50% het Piebald, hatched 2020-07-16; with Tundra (O09)",
    ]
    assert "Half siblings" not in groups
    # Polaris: Alder's daughter by Alder's brother.
    polaris = sheet_of("M01").standing.F
    assert polaris == pytest.approx(1 / 8)


def test_kin_of_a_small_herd(herd: Prepared) -> None:
    ash = animal_sheet(herd, "A")
    groups = dict(words.kin_groups(ash))
    assert groups["Full siblings"] == ["Birch (B), het Clown"]
    assert groups["Half siblings"] == ["Haw (H), het Clown; through Sleet (S)"]
    assert groups["Young on record"] == ["Ash (X), 50% het Clown, hatched 2023-07-01; with Old One"]
    assert groups["Mates on record"] == [
        "Gone: not in the animals table; F of their young 0 as recorded",
        "Old One: unrelated as far as recorded; F of their young 0 as recorded",
    ]
    assert dict(words.kin_groups(animal_sheet(herd, "H")))["Parents"] == [
        "Dam: E, known by name only",
        "Sire: Sleet (S), Clown",
    ]
    assert words.standing_line(ash) == (
        "Ash (A): F 0 as recorded; 1 generation recorded in full; known: parents 100%."
    )


def test_clutches_of_her_and_of_him(herd: Prepared) -> None:
    (dew,) = animal_sheet(herd, "D").clutches
    assert (words.laid_words(dew), words.mate_words(dew)) == ("2020-05-01", "Sleet (S)")
    assert words.clutch_line(dew) == (
        "6 eggs, 1 slug, 4 hatched: 3 het Clown; 1 Normal. Trouble: egg binding. Note: vet called."
    )
    (sleet,) = animal_sheet(herd, "S").clutches
    assert words.mate_words(sleet) == "Dew (D)"
    bare, none = animal_sheet(herd, "A").clutches
    assert (words.mate_words(bare), words.clutch_line(bare)) == (
        "mate not recorded",
        "no counts recorded.",
    )
    assert (words.laid_words(none), words.clutch_line(none)) == (
        "not laid",
        "paired, laid nothing.",
    )


def test_an_animal_of_which_little_is_known(herd: Prepared) -> None:
    birch, haw = animal_sheet(herd, "B"), animal_sheet(herd, "H")
    assert words.head_line(birch) == "Birch (B): sex not recorded, breeder, hatched 2020-07-01"
    assert "Birch (B) has no weighing on record." in printed(birch)
    text = printed(haw)
    assert "outside the collection" in flat(text)
    assert "months on" not in text
    for sheet in (birch, haw):
        assert "<svg" not in animal_page(sheet)


def test_weights_are_listed_the_latest_first_and_none_is_cut_unsaid() -> None:
    frost = sheet_of("F01")
    text, page = printed(frost), animal_page(frost)
    assert text.index("2026-11-08  2,285") < text.index("2026-05-06  2,810  before laying")
    more = len(frost.series.points) - WEIGHINGS_PRINTED
    assert more > 0
    assert f"and {more} more, on the page." in text
    for point in frost.series.points:
        day = f'<th scope="row"><span class="day">{point.on}</span></th>'
        assert f'{day}<td class="number">{point.grams:,.0f}</td>' in page
    assert "Weight of Frost (F01)" in page
    assert "+2.5 g a day (in four cases of five +1.2 to +3.9)" in flat(text)


def test_the_command_writes_the_same_page_by_id_or_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["animal", str(DEMO), "F01"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("Frost (F01): female, breeder, hatched 2016-07-11\n")
    assert max(len(line) for line in text.splitlines()) <= 80
    page = tmp_path / "brumal-out" / "demo" / "animal" / "animal-F01.html"
    first = page.read_bytes()
    assert main(["animal", str(DEMO), "frost"]) == 0
    assert page.read_bytes() == first


def test_the_order_of_rows_does_not_matter(tmp_path: Path) -> None:
    head, *rows = HERD.splitlines()
    pages = []
    for name, order in (("one", rows), ("two", rows[::-1])):
        folder = tmp_path / name
        folder.mkdir()
        table = "\n".join([head, *order])
        prepared = prepare(season_folder(folder, animals=table, clutches=CLUTCHES))
        pages.append([animal_page(animal_sheet(prepared, id_)) for id_ in "SDABHX"])
    assert pages[0] == pages[1]


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("F99", "found 'F99'; expected an animal of the season folder, by id or name. Nearest on"),
        ("Frosst", "Nearest on record: Frost (F01)"),
        ("", "Nearest on record:"),
    ],
)
def test_an_unknown_animal(capsys: pytest.CaptureFixture[str], asked: str, told: str) -> None:
    assert main(["animal", str(DEMO), asked]) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    assert told in flat(captured.err)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("ash", "found 'ash', the name of A, X; expected the id of one animal"),
        ("Old One", "found 'Old One', named as a parent only; expected an animal with a row"),
    ],
)
def test_a_name_that_says_too_little(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], asked: str, told: str
) -> None:
    folder = season_folder(tmp_path, animals=HERD)
    assert main(["animal", str(folder), asked]) == 1
    assert told in flat(capsys.readouterr().err)


def test_hostile_names_stay_inert_and_within_80_columns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "season"
    folder.mkdir()
    hostile_season(folder)
    for id_ in [*(f"F{number}" for number in range(8)), "F9", "F10", "M0", "M3", "=1+2"]:
        out = tmp_path / f"out {id_}"
        assert main(["animal", str(folder), id_, "--out", str(out)]) == 0
        (page,) = (path.read_text("utf-8") for path in out.glob("*.html"))
        assert not re.search(r"<(script|img|b>)", page)
        assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e]", page)
    text = capsys.readouterr().out
    assert not re.search("[\x00-\x09\x0b-\x1f\u202a-\u202e]", text)
    assert LONG in text.replace("\n", "")
    assert max(len(line) for line in text.splitlines() if "Written" not in line) <= 80


def test_her_seasons_and_what_her_forecast_stands_on_are_told() -> None:
    for id_, seasons in (
        ("F01", "Seasons: 2026 laid, 2025 laid."),
        ("F02", "Seasons: 2026 laid, 2025 nothing on record."),
        ("F08", "Seasons: 2026 nothing on record, 2025 laid."),
    ):
        sheet = sheet_of(id_)
        assert seasons in flat(printed(sheet))
        assert seasons in animal_page(sheet)
    stands = (
        "The chance is taken from what is usual, after a season in which she laid; the number of"
    )
    assert stands in flat(printed(sheet_of("F02")))
    assert "Seasons:" not in printed(sheet_of("M01"))
