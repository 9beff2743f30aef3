"""One collection in many forms: whatever the form, what is sure comes out the same."""

from __future__ import annotations

import csv
import random
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from brumal.importing.understand import Understood, understand
from import_truth import CATALOGUE, ON

HEADINGS = ("ID", "Name", "Sex", "Morph", "Hatched", "Dam", "Sire", "Weight (g)", "Weighed")
ROWS: tuple[tuple[object, ...], ...] = (
    ("A1", "Bramble", "F", "Pastel het Clown", date(2019, 7, 14), "", "", 1710, date(2026, 10, 18)),
    ("A2", "Nettle", "F", "het Clown", date(2021, 8, 22), "A1", "B1", 1580, date(2026, 10, 18)),
    ("A3", "Tansy", "F", "Super Pastel", date(2020, 6, 25), "A1", "B1", 1690, date(2026, 10, 18)),
    ("B1", "Rook", "M", "Clown", date(2018, 6, 30), "", "", 940, date(2026, 10, 19)),
    ("B2", "Jay", "M", "Pastel Clown", date(2023, 9, 5), "A1", "B1", 720, date(2026, 10, 19)),
)
OTHER_WORDS = {
    "ID": ("Animal ID", "No.", "Nr.", "Codice"),
    "Name": ("Called", "Nom", "Naam", "Imię"),
    "Sex": ("SEX", "Geschlecht", "Sexe", "M/F"),
    "Morph": ("Genes", "Genetics", "Farbe", "Phase"),
    "Hatched": ("DOB", "Born", "Schlupf", "Né le"),
    "Dam": ("Mum", "Mother", "Mutter", "Mère"),
    "Sire": ("Dad", "Father", "Vater", "Père"),
    "Weight (g)": ("Wt g", "Gewicht (g)", "Weight in g", "Grams"),
    "Weighed": ("Weighed on", "gewogen am", "Weight date", "Pesé le"),
}
Grid = Sequence[Sequence[object]]


def as_csv(path: Path, grid: Grid) -> Path:
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(grid)
    return path


def as_xlsx(path: Path, grid: Grid) -> Path:
    book = openpyxl.Workbook()
    for row in grid:
        book.active.append([None if cell == "" else cell for cell in row])
    book.save(path)
    return path


def as_ods(path: Path, grid: Grid) -> Path:
    book = OpenDocumentSpreadsheet()
    table = Table(name="Snakes")
    for row in grid:
        line = TableRow()
        for cell in row:
            line.addElement(_ods_cell(cell))
        table.addElement(line)
    book.spreadsheet.addElement(table)
    book.save(str(path))
    return path


def _ods_cell(value: object) -> TableCell:
    if value == "":
        return TableCell()
    if isinstance(value, date):
        cell = TableCell(valuetype="date", datevalue=value.isoformat())
    elif isinstance(value, (int, float)):
        cell = TableCell(valuetype="float", value=value)
    else:
        cell = TableCell(valuetype="string")
    cell.addElement(P(text=str(value)))
    return cell


WRITERS = {".csv": as_csv, ".xlsx": as_xlsx, ".ods": as_ods}


def read(path: Path) -> Understood:
    return understand([path], CATALOGUE, ON)


def facts(found: Understood) -> tuple[object, object]:
    animals = sorted(tuple(sorted(row.items())) for row in found.animals)
    return animals, sorted(tuple(sorted(row.items())) for row in found.weights)


@pytest.fixture(scope="module")
def sure(tmp_path_factory: pytest.TempPathFactory) -> tuple[object, object]:
    found = read(as_csv(tmp_path_factory.mktemp("sure") / "book.csv", [HEADINGS, *ROWS]))
    assert not found.questions
    assert [row["id"] for row in found.animals] == ["A1", "A2", "A3", "B1", "B2"]
    assert [row["dam"] for row in found.animals] == ["", "A1", "A1", "", "A1"]
    assert found.animals[0]["hatched"] == "2019-07-14"
    assert [row["grams"] for row in found.weights] == ["1710", "1580", "1690", "940", "720"]
    return facts(found)


@pytest.mark.parametrize("suffix", WRITERS)
def test_a_book_comes_back_from_every_form(
    suffix: str, tmp_path: Path, sure: tuple[object, object]
) -> None:
    path = WRITERS[suffix](tmp_path / f"book{suffix}", [HEADINGS, *ROWS])
    found = read(path)
    assert not found.questions
    assert facts(found) == sure


@given(data=st.data())
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_order_words_and_blank_rows_change_nothing_that_is_sure(
    data: st.DataObject, tmp_path: Path, sure: tuple[object, object]
) -> None:
    places = data.draw(st.permutations(range(len(HEADINGS))))
    words = [data.draw(st.sampled_from((name, *OTHER_WORDS[name]))) for name in HEADINGS]
    form = data.draw(st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%Y-%m-%d", "%d %b %Y"]))
    rows = data.draw(st.permutations(ROWS))
    grid: list[list[object]] = [["My snakes"], [], [words[place] for place in places]]
    for row in rows:
        cells = [c.strftime(form) if isinstance(c, date) else c for c in row]
        grid.append([cells[place] for place in places])
        grid += [[]] * data.draw(st.integers(0, 2))
    suffix = data.draw(st.sampled_from([".csv", ".xlsx"]))
    found = read(WRITERS[suffix](tmp_path / f"book{suffix}", grid))
    assert facts(found) == sure
    assert not found.questions


@given(
    days=st.lists(
        st.dates(date(2015, 1, 1), date(2025, 12, 31)), min_size=2, max_size=8, unique=True
    ),
    month_first=st.lists(st.booleans(), min_size=8, max_size=8),
)
@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_no_mixture_of_date_orders_gives_a_wrong_date(
    days: list[date], month_first: list[bool], tmp_path: Path
) -> None:
    """Whatever the mixture, a date is right, or asked about; both orders never read alike."""
    rows = [
        [f"S{n}", "F", "Clown", day.strftime("%m/%d/%Y" if first else "%d/%m/%Y")]
        for n, (day, first) in enumerate(zip(days, month_first, strict=False))
    ]
    found = read(as_csv(tmp_path / "book.csv", [["ID", "Sex", "Morph", "Hatched"], *rows]))
    wanted = {f"S{n}": day.isoformat() for n, day in enumerate(days)}
    used = month_first[: len(days)]
    telling = [f for d, f in zip(days, used, strict=True) if d.day > 12]
    alike = len(set(used)) == 1
    for row in found.animals:
        if row["hatched"] and (alike or len(set(telling)) == 2):
            assert row["hatched"] == wanted[row["id"]]
    if alike and telling:
        assert all(row["hatched"] for row in found.animals)


@given(seed=st.integers(0, 10_000))
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_wide_and_long_weights_are_the_same_weights(seed: int, tmp_path: Path) -> None:
    draw = random.Random(seed)
    days = [date(2026, month, draw.randint(13, 28)) for month in (3, 6, 9)]
    names = ["Bramble", "Nettle", "Rook"]
    grams = {(name, day): draw.randint(600, 2000) for name in names for day in days}
    animals = [["Name", "Sex", "Morph"], ["Bramble", "F", "Clown"], ["Nettle", "F", "Clown"],
               ["Rook", "M", "Clown"]]  # fmt: skip
    wide = [["Name", *(day.strftime("%m/%d/%Y") for day in days)]]
    wide += [[name, *(grams[name, day] for day in days)] for name in names]
    long = [["Date", "Snake", "Weight"], *([d.isoformat(), n, g] for (n, d), g in grams.items())]
    across = [["grams", *names], *([d.isoformat(), *(grams[n, d] for n in names)] for d in days)]
    herd = as_csv(tmp_path / "herd.csv", animals)
    wanted = sorted((name, day.isoformat(), str(g)) for (name, day), g in grams.items())
    for number, grid in enumerate((wide, long, across)):
        book = as_csv(tmp_path / f"weights{number}.csv", grid)
        found = understand([herd, book], CATALOGUE, ON)
        assert sorted((w["animal"], w["date"], w["grams"]) for w in found.weights) == wanted


def test_a_note_of_a_laying_is_told(tmp_path: Path) -> None:
    path = tmp_path / "herd.csv"
    path.write_text("Name,Sex,Morph,Notes\nIris,f,Clown,laid 2025\nFern,f,Clown,shy\n", "utf-8")
    found = understand([path], CATALOGUE, ON)
    (told,) = [note for note in found.notes if "laying" in note]
    assert told.startswith("Iris: the note 'laid 2025' tells of a laying and stays a note.")


def test_body_condition_and_the_last_laying_are_read(tmp_path: Path) -> None:
    path = tmp_path / "herd.csv"
    path.write_text(
        'Name,Sex,Morph,BCS,Last clutch,Notes\nIris,f,Clown,"3,5",12/05/2025,laid 2025\n'
        "Fern,f,Clown,3/5,,RI in spring\nOak,m,Clown,fat,,\nAsh,m,Clown,,,\n",
        "utf-8",
    )
    found = understand([path], CATALOGUE, ON)
    assert [each["condition"] for each in found.animals] == ["3.5", "3", "", ""]
    assert found.animals[0]["last_laid"] == ""  # 12/05: day or month first is asked
    assert sorted(q.key for q in found.questions) == [
        "condition.scale.herd-csv.bcs",
        "last-laid.order.herd-csv.last-clutch",
    ]
    assert any(note.startswith("Fern: the note 'RI in spring'") for note in found.notes)


def test_a_scale_with_higher_figures_is_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "herd.csv"
    path.write_text("Name,Sex,Morph,Condition\nIris,f,Clown,4\nFern,f,Clown,7\n", "utf-8")
    found = understand([path], CATALOGUE, ON)
    assert [each["condition"] for each in found.animals] == ["", ""]
    (asked,) = found.questions
    assert [row.item for row in asked.rows] == ["Iris", "Fern"]


def test_a_laying_that_a_table_has_is_not_asked_for_again(tmp_path: Path) -> None:
    path = tmp_path / "herd.csv"
    path.write_text(
        "Name,Sex,Morph,Last clutch,Notes\nIris,f,Clown,2025-05-12,laid 2025\n", "utf-8"
    )
    found = understand([path], CATALOGUE, ON)
    assert found.animals[0]["last_laid"] == "2025-05-12"
    assert not [note for note in found.notes if "laying" in note]


def test_days_of_hatching_are_no_counts_of_young(tmp_path: Path) -> None:
    path = tmp_path / "herd.csv"
    path.write_text("Name,Sex,Morph\nIris,f,Clown\nOak,m,Clown\n", "utf-8")
    log = tmp_path / "clutches.csv"
    log.write_text(
        "Mother,Father,Laid,Eggs,Hatched,Babies\nIris,Oak,2025-05-12,7,2025-07-10,5\n"
        "Iris,Oak,2026-05-22,6,2026-07-19,\n",
        "utf-8",
    )
    found = understand([path, log], CATALOGUE, ON)
    assert [each["hatched"] for each in found.clutches] == ["5", ""]
    assert not found.questions
