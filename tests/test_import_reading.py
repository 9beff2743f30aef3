"""The parts of an import one by one: dates, weights, counts, statuses, and books of ill intent."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.importing.dates import Doubt, Order, date_in, read_date, settle_column
from brumal.importing.grids import Cell, Value, read_book
from brumal.importing.statuses import in_column, in_note
from brumal.importing.understand import Understood, understand
from brumal.importing.weights import WeightColumn, WeightDoubt, grams_in, settle_unit
from brumal.importing.words import counts_of, is_total, sex_of_heading, words
from brumal.records.animals import Status
from brumal.records.csv_text import csv_text, guarded, unguarded
from brumal.records.faults import InputError
from import_truth import CATALOGUE, ON


def cell(value: Value) -> Cell:
    return Cell(row=2, column=1, value=value)


@pytest.mark.parametrize(
    ("text", "sure"),
    [
        ("2019-07-14", "2019-07-14"),
        ("14 July 2018", "2018-07-14"),
        ("July 14, 2018", "2018-07-14"),
        ("3rd Aug 2020", "2020-08-03"),
        ("Mar 2022", "2022-03"),
        ("mars 2022", "2022-03"),
        ("marzec 2022", "2022-03"),
        ("14.07.2016", "2016-07-14"),
        ("21.6.23", "2023-06-21"),
        ("08/08/2020", "2020-08-08"),
        ("05/22", "2022-05"),
        ("2020-09", "2020-09"),
        ("8.202", "2020-08"),
        ("spring 2020", "2020"),
        (2021, "2021"),
        (43660, "2019-07-14"),
        (date(2020, 2, 29), "2020-02-29"),
    ],
)
def test_dates_as_keepers_write_them(text: Value, sure: str) -> None:
    assert read_date(cell(text)).sure == sure


@pytest.mark.parametrize(
    "text", ["~2017", "2019/2020", "before 2020", "winter 2020", "05/06", "31/02/2020", "soon", 17]
)
def test_what_is_no_one_date_is_unclear(text: Value) -> None:
    assert read_date(cell(text)).unclear


@pytest.mark.parametrize("text", ["", "-", "?", "n/a", "unknown", "tbd"])
def test_what_says_nothing_is_blank(text: str) -> None:
    assert read_date(cell(text)).blank


def test_the_order_of_a_column_is_told_by_its_own_cells() -> None:
    assert settle_column([cell("5/30/2022"), cell("3/4/2022")]).order is Order.MONTH
    assert settle_column([cell("30/5/2022"), cell("3/4/2022")]).order is Order.DAY
    assert settle_column([cell("3/4/2022"), cell("5/6/2022")]).order is None


def test_a_cell_of_the_other_order_makes_its_ambiguous_neighbours_questions() -> None:
    column = settle_column([cell("30/5/2022"), cell("28/5/2022"), cell("5/30/2022")])
    assert date_in(cell("30/5/2022"), column, ON) == ("2022-05-30", None)
    assert date_in(cell("5/30/2022"), column, ON) == ("", Doubt.CONTRARY)
    assert date_in(cell("3/4/2022"), column, ON) == ("", Doubt.ORDER)


def test_stored_dates_beside_texts_that_a_program_could_not_read_are_asked_about() -> None:
    """A program set to month first stores 3/7 as 7 March and leaves 14/7 as text."""
    cells = [cell(date(2019, 3, 7)), cell("14/07/2019"), cell("22/08/2020")]
    column = settle_column(cells)
    assert date_in(cells[0], column, ON) == ("", Doubt.SUSPECT)
    assert date_in(cells[1], column, ON) == ("2019-07-14", None)


def test_a_day_still_to_come_is_asked_about() -> None:
    assert date_in(cell("2027-01-02"), settle_column([]), ON) == ("", Doubt.FUTURE)


@given(st.dates(date(1990, 1, 1), date(2026, 11, 27)), st.sampled_from(list(Order)))
def test_a_date_in_a_told_order_is_that_date(day: date, order: Order) -> None:
    form = "%d/%m/%Y" if order is Order.DAY else "%m/%d/%Y"
    found, doubt = date_in(cell(day.strftime(form)), settle_column([], order), ON)
    assert (found, doubt) == (day.isoformat(), None)


@pytest.mark.parametrize(
    ("value", "unit", "grams"),
    [
        (1520, "g", 1520),
        ("1520 g", "", 1520),
        ("1 650 g", "", 1650),
        ("1,730", "g", 1730),
        ("1.730", "g", 1730),
        ("1,645", "kg", 1645),
        ("0,98", "kg", 980),
        ("1.58 kg", "g", 1580),
        (62.5, "oz", 1771.8),
        ("4 lb 2 oz", "", 1871.1),
        ("1.9 lb", "", 861.8),
        ("1650 after meal", "g", 1650),
        ("1650 (gravid)", "g", 1650),
    ],
)
def test_weights_as_keepers_write_them(value: Value, unit: str, grams: float) -> None:
    found, _, doubt = grams_in(cell(value), WeightColumn(unit=unit))
    assert (found, doubt) == (grams, None)


@pytest.mark.parametrize(
    ("value", "doubt"),
    [
        ("about 1300", WeightDoubt.UNCLEAR),
        ("1300 est", WeightDoubt.UNCLEAR),
        ("1300?", WeightDoubt.UNCLEAR),
        ("1705 / 1711", WeightDoubt.UNCLEAR),
        ("16 50", WeightDoubt.UNCLEAR),
        (16020, WeightDoubt.RANGE),
        (1.52, WeightDoubt.RANGE),
    ],
)
def test_weights_in_doubt_are_not_read(value: Value, doubt: WeightDoubt) -> None:
    assert grams_in(cell(value), WeightColumn(unit="g"))[::2] == (None, doubt)


def test_a_unit_is_taken_only_where_no_other_can_be() -> None:
    assert settle_unit([cell(460), cell(1790)], "", True).unit == "g"
    assert settle_unit([cell(64), cell(58)], "", True).unit == ""
    assert settle_unit([cell(1.9), cell(2.1)], "", False).unit == ""


def test_counts_headings_and_totals() -> None:
    assert counts_of("3.2.1") == (3, 2, 1)
    assert counts_of("0.1") == (0, 1, 0)
    assert counts_of("3") is None
    assert [sex_of_heading(t) for t in ("FEMALES", "Männchen", "# samce", "BREEDERS")] == [
        "female", "male", "male", "",
    ]  # fmt: skip
    assert all(map(is_total, ["Total 7", "Summe Weibchen: 4", "4 breeders", "GRAND TOTAL"]))
    assert not any(map(is_total, ["Bramble", "Tango", "Wild Type"]))


@pytest.mark.parametrize(
    ("note", "status"),
    [
        ("SOLD", "sold"),
        ("SOLD to Ned 9/14/2025", "sold"),
        ("died 3/2025 :(", "died"),
        ("murió en mayo 2026", "died"),
        ("retired, pet only", "retired"),
        ("SOLD? deposit paid", "unclear"),
        ("to be sold in spring", "unclear"),
        ("sold to me by Ned", "unclear"),
        ("sold as het Clown", "unclear"),
        ("sister was SOLD to Marlow", ""),
        ("clutch mates all SOLD", ""),
        ("sold two of her babies", ""),
        ("great feeder", None),
        ("gone off food", None),
        ("proven", None),
    ],
)
def test_notes_that_speak_of_a_status(note: str, status: str | None) -> None:
    found = in_note(note)
    assert (found.status if found is not None else None) == status


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("Breeder", "breeder"),
        ("on loan from Petra", "loan"),
        ("loaned out", "unclear"),
        ("ancestor, not mine", "outside"),
        ("breeder, sold 2025", "unclear"),
        ("not sold", "unclear"),
        ("sold?", "unclear"),
        ("whatever", "unclear"),
        ("-", ""),
    ],
)
def test_status_columns_in_the_keepers_own_words(text: str, status: str) -> None:
    assert in_column(text) == status


def test_every_status_word_of_the_list_is_a_status() -> None:
    assert set(words().statuses.values()) <= {status.value for status in Status}


@given(st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\r\n"), max_size=12))
def test_a_guarded_cell_comes_back_unchanged_and_is_no_formula(text: str) -> None:
    cellular = " ".join(text.split())
    assert unguarded(guarded(cellular)) == cellular
    assert guarded(cellular)[:1] not in ("=", "@")


def test_a_table_is_written_so_that_no_cell_is_a_formula() -> None:
    text = csv_text(["id", "name"], [{"id": "a", "name": "=Daisy"}, {"id": "b", "name": "-5"}])
    assert text == "id,name\na,'=Daisy\nb,-5\n"


def package(parts: dict[str, str]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as found:
        for name, text in parts.items():
            found.writestr(name, text)
    return stream.getvalue()


@pytest.mark.parametrize("suffix", [".xlsx", ".ods"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_book_that_declares_entities_is_refused(
    suffix: str, encoding: str, tmp_path: Path
) -> None:
    bomb = '<!DOCTYPE a [<!ENTITY b "bbbb"><!ENTITY c "&b;&b;">]><a>&c;</a>'.encode(encoding)
    path = tmp_path / f"book{suffix}"
    with zipfile.ZipFile(path, "w") as found:
        found.writestr("content.xml", bomb)
    with pytest.raises(InputError) as raised:
        read_book(path)
    assert "entities" in raised.value.faults[0].found


def test_a_book_that_unpacks_beyond_measure_is_refused(
    tmp_path: Path,
) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(package({"xl/worksheets/sheet1.xml": " " * 5000}))
    with pytest.raises(InputError) as raised:
        read_book(path, most_unpacked=1000)
    assert "unpacked" in raised.value.faults[0].found


@pytest.mark.parametrize("name", ["book.xlsx", "book.ods", "book.xlsm"])
@pytest.mark.parametrize("data", [b"nothing of the kind", b"PK\x03\x04 cut short"])
def test_a_broken_book_is_a_fault(name: str, data: bytes, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(InputError) as raised:
        read_book(tmp_path / name)
    assert raised.value.faults[0].found == "a workbook that cannot be opened"


def test_other_files_are_refused_by_name(tmp_path: Path) -> None:
    (tmp_path / "book.pdf").write_bytes(b"%PDF")
    with pytest.raises(InputError) as raised:
        read_book(tmp_path / "book.pdf")
    assert ".xlsx" in raised.value.faults[0].expected


def of_rows(tmp_path: Path, rows: list[list[object]]) -> Understood:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "book.xlsx")
    return understand([tmp_path / "book.xlsx"], CATALOGUE, ON)


def test_formulas_are_never_worked_out(tmp_path: Path) -> None:
    found = of_rows(
        tmp_path, [["Name", "Sex", "Morph", "Weight (g)"], ["Ada", "F", "Clown", "=1000+500"]]
    )
    assert found.animals[0]["weight_g"] == ""
    assert [question.about for question in found.questions] == ["weight_g"]


def test_parents_that_may_be_two_or_are_misspelt_are_asked_about(tmp_path: Path) -> None:
    found = of_rows(
        tmp_path,
        [
            ["ID", "Name", "Sex", "Morph", "Dam", "Sire"],
            ["1", "Juniper", "F", "Clown", None, None],
            ["2", "Juniper", "F", "Clown", None, None],
            ["3", "Sorrel", "M", "Clown", None, None],
            ["4", "Kid", "F", "Clown", "Juniper", "Sorel"],
            ["5", "Boy", "M", "Clown", "Sorrel", "Thor"],
        ],
    )
    kid, boy = found.animals[3], found.animals[4]
    assert (kid["dam"], kid["sire"]) == ("", "")
    assert (boy["dam"], boy["sire"]) == ("", "Thor")
    asked = {(q.about, row.item) for q in found.questions for row in q.rows}
    assert asked == {("dam", "4"), ("sire", "4"), ("dam", "5")}


def test_two_tables_that_disagree_leave_the_cell_blank(tmp_path: Path) -> None:
    for name, sex in (("one.csv", "F"), ("two.csv", "M")):
        (tmp_path / name).write_text(f"Name,Sex,Morph\nAda,{sex},Clown\n")
    found = understand([tmp_path / "one.csv", tmp_path / "two.csv"], CATALOGUE, ON)
    assert len(found.animals) == 1
    assert found.animals[0]["sex"] == ""
    assert [question.about for question in found.questions] == ["sex"]


def test_a_weight_ten_times_its_neighbours_is_asked_about(tmp_path: Path) -> None:
    (tmp_path / "herd.csv").write_text("Name,Sex,Morph\nAda,F,Clown\n")
    (tmp_path / "weights.csv").write_text(
        "Name,Date,Grams\nAda,2026-08-01,1500\nAda,2026-09-01,151\nAda,2026-10-01,1530\n"
    )
    found = understand([tmp_path / "herd.csv", tmp_path / "weights.csv"], CATALOGUE, ON)
    assert [row["grams"] for row in found.weights] == ["1500", "1530"]
    assert [question.about for question in found.questions] == ["weight"]


def test_columns_are_found_by_what_is_in_them_where_their_headings_say_nothing(
    tmp_path: Path,
) -> None:
    found = of_rows(
        tmp_path,
        [
            ["Who is it", "Girl or boy", "What it is", "Born", "Mum"],
            ["Ada", "F", "Pastel het Clown", "2019-07-14", None],
            ["Bob", "M", "Clown", "2018-06-30", None],
            ["Cleo", "F", "Normal", "2020", "Ada"],
        ],
    )
    assert [(r["name"], r["sex"], r["morph"]) for r in found.animals] == [
        ("Ada", "female", "Pastel het Clown"),
        ("Bob", "male", "Clown"),
        ("Cleo", "female", "Normal"),
    ]
