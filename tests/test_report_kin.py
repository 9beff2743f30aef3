"""``brumal kin``: the words, the pictures, the tables, the page, and what was typed wrong."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from pydantic import TypeAdapter

from brumal.cli import main
from brumal.pedigree.graph import FounderFacts, Pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.ordering import line_order, pooled
from brumal.pedigree.pair import KinPair, examine_pair
from brumal.pedigree.summary import summarise
from brumal.records.animals import Sex
from brumal.records.settings import Settings
from brumal.report.kin import words
from brumal.report.kin.heat import heat_picture
from brumal.report.kin.pictures import MOST_ARCS, arcs_picture, cut, lines_picture
from brumal.report.kin.report import animals_csv, matrix_csv, pair_page
from pedigrees_for_tests import pedigree_of
from records_by_hand import settings
from season_folders import season_folder

F, M = Sex.FEMALE, Sex.MALE

LITTER = pedigree_of("A:S,D B:S,D", sexes={"S": M, "D": F, "A": F, "B": M})

HERD = """id,name,sex,hatched,dam,sire,morph
S,Sleet,male,2018-07-01,,,Normal
D,Dew,female,2018-07-01,,,Normal
A,Ash,female,2020-07-01,D,S,Normal
B,Birch,male,2020-07-01,D,S,Normal
X,Ash,female,2022-07-01,A,Old One,Normal
"""
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2026-11-15}
kin: {exceptions: [[A, B, to keep the line of Dew]], penalty_per_F: 400}
"""


def pair_of(text: str, one: str, other: str, facts: FounderFacts | None = None) -> KinPair:
    return examine_pair(pedigree_of(text, facts), one, other)


def deep() -> Pedigree:
    """Full siblings for 12 generations."""
    text = "1:0,0 2:0,0"
    for dam in range(1, 25, 2):
        text += f" {dam + 2}:{dam + 1},{dam} {dam + 3}:{dam + 1},{dam}"
    return pedigree_of(text)


def texts(picture: object) -> list[str]:
    root = Xml.fromstring(str(picture))
    return [element.text or "" for element in root.iter() if element.tag.endswith("}text")]


def run(folder: Path, *asked: str) -> int:
    return main(["kin", str(folder), *asked, "--out", str(folder / "out")])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return season_folder(tmp_path, animals=HERD, season=SEASON)


def test_a_pair_on_the_terminal(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder, "A", "Birch") == 0
    out = capsys.readouterr().out
    assert out.startswith(
        """\
Ash (A) and Birch (B): full siblings.
Seen from 2026-11-15.
Their young would have F 0.25 as recorded, the kinship of the two.
The cap limits.max_F is 0.0625: the pair is above it.
kin.penalty_per_F takes 100.00 EUR off a clutch of the two.
A young held back would have mean kinship 0.2875 to the collection.
Exception for this pair, in the keeper's words: to keep the line of Dew

Common ancestors and paths
1. Dew (D), F 0 as recorded: 0.125 by 1 path
    Ash (A) - [Dew (D)] - Birch (B)
       n 3: (1/2)^3 x (1 + 0) = 0.125
2. Sleet (S), F 0 as recorded: 0.125 by 1 path
    Ash (A) - [Sleet (S)] - Birch (B)
       n 3: (1/2)^3 x (1 + 0) = 0.125
Sum over 2 sources: 0.25; by the tabular method: 0.25.

How much is known
Ash (A): F 0 as recorded; 1 generation recorded in full; known: parents 100%.
Birch (B): F 0 as recorded; 1 generation recorded in full; known: parents 100%.
"""
    )
    assert "not proof of an outbred" in out
    assert (folder / "out" / "kin-A-B.html").is_file()
    assert max(len(line) for line in out.splitlines()[:-1]) <= 80


def test_the_collection_on_the_terminal(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder) == 0
    out = capsys.readouterr().out
    assert "5 animals; mean kinship 0.2500. Of 6 pairs of a female and a male 1 has no" in out
    assert "Generations recorded in full: none behind 2, 1 behind 3." in out
    assert "Old One" in out
    names = [path.name for path in sorted((folder / "out").iterdir())]
    assert names == [".written-by-brumal.json", "kin.csv", "kin.html", "kinship.csv"]
    assert run(folder) == 0
    first = (folder / "out" / "kin.html").read_bytes()
    assert run(folder) == 0
    assert (folder / "out" / "kin.html").read_bytes() == first


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (["A"], "found 1 animal (A); expected two animals for their kinship, none for the"),
        (["A", "Brich"], "found 'Brich'; expected an animal or ancestor of the season folder"),
        (["A", "Brich"], "Did you mean 'Birch'?"),
        (["Ash", "B"], "found 'Ash', the name of A, X; expected the id of one animal"),
    ],
)
def test_what_was_typed_wrong(
    folder: Path, capsys: pytest.CaptureFixture[str], asked: list[str], told: str
) -> None:
    assert run(folder, *asked) == 1
    assert told in " ".join(capsys.readouterr().err.split())


def test_an_ancestor_known_by_name_only_may_be_asked_for(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, "old one", "x") == 0
    assert capsys.readouterr().out.startswith("Old One and Ash (X): sire and daughter.")


def test_an_unknown_pedigree_is_never_called_outbred() -> None:
    pair = pair_of("A:0,0 B:0,0", "A", "B")
    assert words.relation_line(pair) == "A and B: unrelated as far as recorded."
    assert words.standing_line(pair.one, pair.names) == (
        "A: F 0 as recorded; 0 generations recorded in full; parents unknown."
    )
    page = pair_page(pair, settings())
    assert "the least that these records allow, not proof of an outbred" in " ".join(page.split())


def test_limits_say_completeness_and_stay_silent_where_the_two_cannot_meet() -> None:
    pair = pair_of("A:S,D B:S,D", "A", "B")
    asked = settings(kin={"min_generations": 2}, limits={"max_F": 0.25})
    assert words.limit_lines(pair, asked) == [
        "The cap limits.max_F is 0.25: the pair is within it.",
        "Generations recorded in full behind both: 1; kin.min_generations asks for 2: too few.",
    ]
    sisters = examine_pair(pedigree_of("A:S,D B:S,D", sexes={"A": F, "B": F}), "A", "B")
    assert words.limit_lines(sisters, asked) == []
    assert (
        words.phi_line(sisters)
        == "Kinship 0.25 as recorded. Both are females: no young of the two."
    )


def test_a_young_held_back_against_its_cap() -> None:
    pair = examine_pair(LITTER, "A", "B", ("A", "B"))
    assert pair.young_mean == 0.375  # to each parent (1/2 + 1/4) / 2
    told = {
        cap: words.limit_lines(pair, settings(kin={"max_kept_kinship": cap}))[-1]
        for cap in (None, 0.375, 0.3)
    }
    start = "A young held back would have mean kinship 0.3750 to the collection"
    assert told == {
        None: f"{start}.",
        0.375: f"{start}, within the cap kin.max_kept_kinship, 0.375.",
        0.3: f"{start}, above the cap kin.max_kept_kinship, 0.3.",
    }


def test_further_lines_are_told() -> None:
    pair = pair_of("1:S,D 2:S,D A:1,2 B:1,2", "A", "B")
    assert words.more_line(pair) == (
        "That relationship alone gives 0.25; inbred ancestors and further lines add 0.125."
    )
    assert words.more_line(examine_pair(LITTER, "A", "B")) == ""


def test_founders_of_stated_kinship() -> None:
    facts = FounderFacts(kinship={("P", "Q"): 0.125})
    pair = pair_of("A:P,0 B:Q,0", "A", "B", facts)
    [source] = pair.paths.sources
    assert words.source_head(source, pair.names) == "P and Q, stated kinship 0.125"
    assert words.path_words(source.paths[0], pair.names) == "A - [P] ~ [Q] - B"
    assert words.path_sum(source, source.paths[0]) == "n 4: (1/2)^(4 - 2) x 0.125 = 0.03125"


def test_grouped_lines_say_so() -> None:
    pair = examine_pair(deep(), "25", "26")
    assert words.grouped_line(pair) == (
        "8,190 pairs of lines join the two, more than 200: they are grouped by ancestor, and the "
        "sums are exact."
    )
    assert words.source_sum(pair.paths.sources[-1]).endswith(
        "by 2,048 pairs of lines, the shortest path with 25 animals"
    )
    assert lines_picture(pair) is None
    assert f"{len(pair.paths.sources) - MOST_ARCS} more" in " ".join(texts(arcs_picture(pair)))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (0.25, "0.25"),
        (1 / 256, "0.00390625"),
        (1 / 3, "0.33333333"),
        (1e-9, "below 0.00000001"),
    ],
)
def test_coefficients(value: float, text: str) -> None:
    assert words.coefficient(value) == text


def test_counts_beyond_exact_floats_say_about() -> None:
    assert words.count(1, "path") == "1 path"
    assert words.count(2**53, "path") == "about 9.01e+15 paths"


def test_picture_of_lines() -> None:
    """Every animal on a path once; ancestors in double frames with their number; sexes by shape."""
    pair = examine_pair(LITTER, "A", "B")
    picture = lines_picture(pair)
    assert texts(picture) == ["A", "B", "1. D", "2. S"]
    root = Xml.fromstring(str(picture))
    boxes = [one for one in root.iter() if one.tag.endswith("}rect")]
    assert [box.get("rx") for box in boxes] == ["15", "0", "15", "12", "0", "0"]
    lines = [one for one in root.iter() if one.tag.endswith("}path")]
    assert len(lines) == 4
    assert {one.get("stroke-width") for one in lines} == {"3.8"}  # each carries half: 0.8 + 6 / 2


def test_a_line_past_other_rows_keeps_clear_of_the_boxes() -> None:
    """B is young of S; A is a grandchild of S: the line from B to S passes A's parent's row."""
    pair = examine_pair(pedigree_of("P:S,0 A:P,0 B:S,0"), "A", "B")
    picture = lines_picture(pair)
    root = Xml.fromstring(str(picture))
    [long_line] = [one.get("d") for one in root.iter() if (one.get("d") or "").count("C") == 2]
    boxes = {box[0].text: float(box.get("x") or 0) for box in root.iter() if len(box) == 1}
    passing = float((long_line or "").split("C")[1].split()[4])
    width = 150.0
    assert not boxes["P"] <= passing <= boxes["P"] + width


def test_picture_of_arcs() -> None:
    picture = arcs_picture(examine_pair(LITTER, "A", "B"))
    assert texts(picture) == ["1. D  0.125", "2. S  0.125", "A", "B"]
    assert arcs_picture(pair_of("A:0,0 B:0,0", "A", "B")) is None


def test_heat_map_grows_with_kinship() -> None:
    pedigree = pedigree_of("A:S,D B:S,D C:S,E G:0,0")
    block = kinship_block(pedigree, "GACB")
    ordered = block.only(line_order(block))
    assert ordered.ids == ("A", "B", "C", "G")
    picture = heat_picture(ordered, {name: name for name in ordered.ids})
    root = Xml.fromstring(str(picture))
    squares = [float(one.get("width") or 0) for one in root.iter() if one.tag.endswith("}rect")]
    *cells, _, _, _, _, _ = squares  # the last five are the legend
    areas = [round((side / cells[0]) ** 2 / 2, 3) for side in cells]
    assert areas == [0.5, 0.25, 0.5, 0.125, 0.125, 0.5, 0.5]
    assert texts(picture)[:4] == ["A", "B", "C", "G"]
    assert "The closest are A and B, 0.25." in str(picture)


def test_a_large_collection_is_pooled_in_the_picture() -> None:
    names = [f"N{at:03}" for at in range(130)]
    pedigree = pedigree_of(" ".join(f"{name}:0,0" for name in names))
    block = kinship_block(pedigree, names)
    groups, means = pooled(block, 60)
    assert [len(group) for group in groups] == [3] * 43 + [1]
    assert means[0, 0] == pytest.approx(0.5 / 3)
    picture = heat_picture(block, {name: name for name in names})
    assert texts(picture)[:2] == ["1 to 3", "4 to 6"]
    assert "Each square is the mean over 3 by 3 animals." in str(picture)


def test_tables() -> None:
    names = {name: name for name in LITTER.ids}
    block = kinship_block(LITTER, "AB")
    rows = list(csv.reader(io.StringIO(animals_csv(summarise(LITTER, block), names))))
    assert rows[0][:6] == [
        "id", "label", "mean_kinship", "F_as_recorded", "generations_in_full", "index"
    ]  # fmt: skip
    assert rows[1][:6] == ["A", "A", "0.375000", "0.000000", "1", "0.2500"]
    assert matrix_csv(block) == "id,A,B\nA,0.5,0.25\nB,0.25,0.5\n"
    assert cut("Old One of the North", 70.0) == "Old One o…"


def test_markup_in_names_is_written_as_text() -> None:
    pedigree = pedigree_of("<b>A:S,D B:S,D")
    page = pair_page(examine_pair(pedigree, "<b>A", "B"), settings())
    assert "<b>A" not in page
    assert "&lt;b&gt;A" in page


def test_settings_know_the_section() -> None:
    kin = TypeAdapter(Settings).validate_python(
        {"season": {"name": "T", "pair_from": "2026-12-01", "pair_to": "2027-01-01"},
         "kin": {"exceptions": [["A", "B", "  why "]]}}
    ).kin  # fmt: skip
    assert kin.exceptions == (("A", "B", "why"),)
