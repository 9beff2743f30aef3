"""Tables in the shapes that spreadsheet programs write, and the ways in which they break."""

from __future__ import annotations

import io
import re
import tracemalloc
import zipfile
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis.strategies import text
from openpyxl.styles import PatternFill
from openpyxl.worksheet.formula import ArrayFormula

from brumal.records.faults import Fault, Severity
from brumal.records.tables import Table, TableShape, column_name, read_table

SHAPE = TableShape(stem="animals", columns=("id", "sire", "weight_g", "weighed"), required=("id",))


def write(folder: Path, data: str | bytes, name: str = "animals.csv") -> Path:
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


def workbook(folder: Path, rows: list[list[object]], sheet: str = "Sheet") -> Path:
    book = openpyxl.Workbook()
    page = book.active
    page.title = sheet
    for row in rows:
        page.append(row)
    path = folder / "animals.xlsx"
    book.save(path)
    return path


def table_of(folder: Path) -> Table:
    table, faults = read_table(folder, SHAPE)
    assert table is not None, [str(fault) for fault in faults]
    assert not [fault for fault in faults if fault.severity is Severity.ERROR]
    return table


def faults_of(folder: Path) -> list[Fault]:
    return read_table(folder, SHAPE)[1]


@pytest.mark.parametrize(
    "data",
    [
        "id,sire,weight_g\nF1,M1,1520\n",
        "\ufeffID;Sire;Weight (g)\r\nF1;M1;1520\r\n",
        "id\tsire\tweight-g\nF1\tM1\t1520",
        "sep=;\nid;sire;weight_g\nF1;M1;1520",
        "# the animals, one row each\n\nid,sire,weight_g\nF1,M1,1520\n",
        "id,sire,weight_g\rF1,M1,1520\r",
        ' id , sire ,"weight_g"\n"F1", M1 ,1520,,,\n',
    ],
)
def test_separators_marks_and_comments(tmp_path: Path, data: str) -> None:
    write(tmp_path, data)
    (row,) = table_of(tmp_path).rows
    assert row.cells == {"id": "F1", "sire": "M1", "weight_g": "1520"}


def test_rows_are_numbered_as_in_the_spreadsheet(tmp_path: Path) -> None:
    write(tmp_path, '# a comment\nid,sire\nF1,\n\n,,\n"F\n2",M1\nF3,\n')
    assert [(row.number, row.cells["id"]) for row in table_of(tmp_path).rows] == [
        (3, "F1"),
        (6, "F 2"),
        (7, "F3"),
    ]


def test_na_stays_text(tmp_path: Path) -> None:
    write(tmp_path, "id,sire\nNA,null\n")
    assert table_of(tmp_path).rows[0].cells == {"id": "NA", "sire": "null"}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_unicode_encodings_bring_no_notice(tmp_path: Path, encoding: str) -> None:
    write(tmp_path, "id,sire\nRåka,Ñ\n".encode(encoding))
    assert table_of(tmp_path).rows[0].cells == {"id": "Råka", "sire": "Ñ"}
    assert faults_of(tmp_path) == []


def test_old_windows_text_is_read_with_a_notice(tmp_path: Path) -> None:
    write(tmp_path, "id,sire\nRåka,–\n".encode("cp1252"))
    table, faults = read_table(tmp_path, SHAPE)
    assert table is not None
    assert table.rows[0].cells == {"id": "Råka", "sire": "–"}
    assert [fault.severity for fault in faults] == [Severity.NOTICE]
    assert "cp1252" in str(faults[0])


def test_cells_of_a_workbook_keep_their_kind(tmp_path: Path) -> None:
    workbook(
        tmp_path,
        [
            ["Id", "Weight (g)", "weighed", "sire"],
            [12, 1520, datetime(2026, 11, 3), None],
            ["F2", 1520.5, date(2026, 11, 4), "NA"],
            ["F3", 1.125, "2026-11-05", "  M 1 "],
        ],
    )
    assert [dict(row.cells) for row in table_of(tmp_path).rows] == [
        {"id": "12", "weight_g": "1520", "weighed": "2026-11-03", "sire": ""},
        {"id": "F2", "weight_g": "1520.5", "weighed": "2026-11-04", "sire": "NA"},
        {"id": "F3", "weight_g": "1.1250", "weighed": "2026-11-05", "sire": "M 1"},
    ]


def test_the_sheet_named_like_the_table_is_read(tmp_path: Path) -> None:
    path = workbook(tmp_path, [["nothing", "here"]], sheet="Cover")
    book = openpyxl.load_workbook(path)
    book.create_sheet("Animals").append(["id"])
    book["Animals"].append(["F1"])
    book.save(path)
    assert [row.cells["id"] for row in table_of(tmp_path).rows] == ["F1"]


def test_a_formula_never_worked_out_is_a_fault_and_not_an_empty_cell(tmp_path: Path) -> None:
    workbook(tmp_path, [["id", "weight_g"], ["F1", "=1500+20"]])
    (fault,) = faults_of(tmp_path)
    assert (fault.where.row, fault.where.column) == (2, "column B")
    assert "save it again" in fault.repair


def test_a_worked_out_formula_is_read_by_its_value(tmp_path: Path) -> None:
    put_results(workbook(tmp_path, [["id", "weight_g"], ["F1", "=1500+20"]]), "1520")
    assert table_of(tmp_path).rows[0].cells["weight_g"] == "1520"


@pytest.mark.parametrize(
    ("result", "kind"), [("#N/A", "e"), ("#DIV/0!", "e"), ("#NAME?", "e"), ("", "str")]
)
@pytest.mark.parametrize("column", ["weight_g", "rack"])
def test_a_formula_worked_out_to_an_error_or_nothing_is_an_empty_cell(
    tmp_path: Path, column: str, result: str, kind: str
) -> None:
    rows = [["id", column, "weighed"], ["F1", "=1/0", None], ["F2", "=1/0", "2026-11-05"]]
    put_results(workbook(tmp_path, rows), result, kind)
    used = {column: ""} if column in SHAPE.columns else {}
    assert [row.cells for row in table_of(tmp_path).rows] == [
        {"id": "F1", **used, "weighed": ""},
        {"id": "F2", **used, "weighed": "2026-11-05"},
    ]


def put_results(path: Path, result: str, kind: str = "n") -> None:
    """Write a stored result behind every formula, as a spreadsheet program does when it saves."""
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    sheet = "xl/worksheets/sheet1.xml"
    stored = rf'\1 t="{kind}"\2<v>{result}</v>'.encode()
    parts[sheet], count = re.subn(
        rb'(<c r="\w+")(><f>[^<]*</f>)<v *(?:/>|></v>)', stored, parts[sheet]
    )
    assert count
    with zipfile.ZipFile(path, "w") as book:
        for name, data in parts.items():
            book.writestr(name, data)


def test_formulas_never_worked_out_are_told_wherever_they_stand(tmp_path: Path) -> None:
    """Beyond the last value of a row, in a row of nothing else, and over several cells."""
    path = workbook(tmp_path, [["id"], ["F1", None, "=1+1"], [], [None, "=2+2"], ["F2"]])
    book = openpyxl.load_workbook(path)
    book["Sheet"]["D5"] = ArrayFormula("D5:D6", "=SUM(A1:A2*2)")
    book.save(path)
    assert [(fault.where.row, fault.where.column) for fault in faults_of(tmp_path)] == [
        (2, "column C"),
        (4, "column B"),
        (5, "column D"),
    ]


def test_cells_that_hold_only_a_colour_take_no_room(tmp_path: Path) -> None:
    """Kept whole, the cells of this sheet (16,384 columns) would take 250 MB."""
    path = workbook(tmp_path, [["id", "sire"], ["F1", "M1"]])
    book = openpyxl.load_workbook(path)
    book["Sheet"]["A1000"] = "F2"
    book["Sheet"]["XFD2000"].fill = PatternFill("solid", fgColor="FFFF0000")
    book.save(path)
    tracemalloc.start()
    rows = table_of(tmp_path).rows
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert [(row.number, dict(row.cells)) for row in rows] == [
        (2, {"id": "F1", "sire": "M1"}),
        (1000, {"id": "F2", "sire": ""}),
    ]
    assert most < 20_000_000


def test_unknown_columns_bring_one_notice(tmp_path: Path) -> None:
    write(tmp_path, "id,sire,weight_g,weighed,rack,colour of tub\nF1,,,,A,red\n")
    (fault,) = faults_of(tmp_path)
    assert fault.severity is Severity.NOTICE
    assert "rack, colour of tub" in fault.found


def test_an_unknown_column_that_looks_misspelt_is_a_warning(tmp_path: Path) -> None:
    write(tmp_path, "id,sier,rack\nF1,M1,A\n")
    (fault,) = faults_of(tmp_path)
    assert fault.severity is Severity.WARNING
    assert fault.repair == "'sier': did you mean 'sire'?"


@pytest.mark.parametrize(
    ("data", "found", "row"),
    [
        ("sire,weight_g\nM1,3\n", "no column id", 1),
        ("id,sire,Sire\nF1,M1,M2\n", "two columns called sire", 1),
        ("id,sire\nF1,M1,1520\n", "'1520' in a cell beyond the last named column", 2),
        ('id,sire\nF1,"M1\n', "a quotation mark that is never closed", 2),
        ("", "an empty file", None),
        ("  \n \n", "an empty file", None),
        ("# nothing but a comment\n", "no rows", None),
        (b"PK\x03\x04\x00\x00", "something that is not text", None),
        (b"id,sire\nF\x811,\n", "something that is not text", None),
    ],
)
def test_a_broken_csv_is_a_fault(
    tmp_path: Path, data: str | bytes, found: str, row: int | None
) -> None:
    write(tmp_path, data)
    faults = faults_of(tmp_path)
    assert [(fault.found, fault.where.row) for fault in faults] == [(found, row)]
    assert faults[0].severity is Severity.ERROR


def test_a_misspelt_required_column_is_named(tmp_path: Path) -> None:
    write(tmp_path, "Idd,sire\nF1,M1\n")
    assert "Rename 'Idd' to 'id'?" in [fault.repair for fault in faults_of(tmp_path)]


@pytest.mark.parametrize("keep", [0, 1, 100, 2000, -1])
def test_a_workbook_cut_short_is_a_fault(tmp_path: Path, keep: int) -> None:
    path = workbook(tmp_path, [["id"], ["F1"]])
    path.write_bytes(path.read_bytes()[:keep])
    (fault,) = faults_of(tmp_path)
    assert fault.severity is Severity.ERROR


def test_a_workbook_damaged_inside_is_a_fault(tmp_path: Path) -> None:
    path = workbook(tmp_path, [["id"], ["F1"]])
    good = path.read_bytes()
    for place in range(0, len(good), 97):
        path.write_bytes(good[:place] + bytes([good[place] ^ 0xFF]) + good[place + 1 :])
        table, faults = read_table(tmp_path, SHAPE)
        assert table is not None or any(f.severity is Severity.ERROR for f in faults)


def test_two_tables_of_one_name_are_a_fault(tmp_path: Path) -> None:
    write(tmp_path, "id\nF1\n")
    workbook(tmp_path, [["id"], ["F1"]])
    (fault,) = faults_of(tmp_path)
    assert fault.found == "both animals.csv and animals.xlsx"


def test_a_table_in_another_form_is_told(tmp_path: Path) -> None:
    write(tmp_path, "x", "animals.ods")
    (fault,) = faults_of(tmp_path)
    assert "animals.csv or animals.xlsx" in fault.expected


def test_no_table_is_no_fault_here(tmp_path: Path) -> None:
    assert read_table(tmp_path, SHAPE) == (None, [])


def test_a_folder_called_like_the_table_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "animals.csv").mkdir()
    (fault,) = faults_of(tmp_path)
    assert fault.severity is Severity.ERROR


def test_names_of_columns_forgive_case_and_marks() -> None:
    assert [column_name(name) for name in ("Weight (g)", "last laid", "MAX-PAIRINGS")] == [
        "weight_g",
        "last_laid",
        "max_pairings",
    ]


def test_a_workbook_is_read_from_memory(tmp_path: Path) -> None:
    """The fingerprint is that of the bytes that were read, whatever happens to the file later."""
    path = workbook(tmp_path, [["id"], ["F1"]])
    table = table_of(tmp_path)
    assert openpyxl.load_workbook(io.BytesIO(table.source.data)).active["A2"].value == "F1"
    path.unlink()
    assert len(table.source.fingerprint) == 64


def test_a_workbook_is_read_as_pandas_reads_it(tmp_path: Path) -> None:
    """Reference: ``read_excel``, which gives whole numbers as such and no value for an error."""
    cells = [7, 1520.0, 1.125, 0.25, 12345678901.0, -3, True, " F 1 ", "#N/A", None, "1.10"]
    days = [date(2026, 4, 2), datetime(2026, 4, 2, 9, 30)]
    rows = [["id", "sire", "weight_g"], [], *([f"F{n}", None, c] for n, c in enumerate(cells))]
    path = workbook(tmp_path, [*rows, *([f"D{day.day}", day] for day in days)])
    frame = pd.read_excel(path, header=None, dtype=object, keep_default_na=False).fillna("")

    def plain(value: object) -> str:
        day = str(value.date()) if isinstance(value, datetime) else str(value)
        return " ".join(day.split()).replace("1.125", "1.1250")  # no mark of thousands

    expected = [[plain(value) for value in row] for row in frame.values.tolist()]
    assert [list(row.cells.values()) for row in table_of(tmp_path).rows] == expected[2:]


@given(text('ab, "\n', max_size=40))
def test_cells_are_split_as_pandas_splits_them(body: str) -> None:
    """Reference: the C parser of pandas, quotation marks anywhere."""
    written = f"id,sire,weight_g,{',' * 40}\n{body}"
    with TemporaryDirectory() as folder:
        write(Path(folder), written)
        table, faults = read_table(Path(folder), SHAPE)
    try:
        frame = pd.read_csv(
            io.StringIO(written),
            header=None,
            names=list(range(44)),
            index_col=False,
            dtype=str,
            keep_default_na=False,
            skip_blank_lines=False,
        ).fillna("")
    except pd.errors.ParserError as error:
        assert "EOF inside string" in str(error)
        assert [fault.found for fault in faults] == ["a quotation mark that is never closed"]
        return
    assert table is not None
    rows = [[" ".join(cell.split()) for cell in row] for row in frame.values.tolist()]
    expected = [(number, row[:3]) for number, row in enumerate(rows, start=1) if any(row[:3])]
    assert [(row.number, list(row.cells.values())) for row in table.rows] == expected[1:]


def test_a_row_of_too_many_cells_is_a_fault(tmp_path: Path) -> None:
    write(tmp_path, f"id,sire\nF1,M1\nF2{',' * 500}\n")
    (fault,) = faults_of(tmp_path)
    assert (fault.found, fault.where.row) == ("a row that cannot be split into cells", 3)


def test_a_quotation_mark_open_over_a_large_table_is_told_by_its_row(tmp_path: Path) -> None:
    write(tmp_path, 'id,sire\nF1,"M1\n' + "F2,M2\n" * 40_000)
    (fault,) = faults_of(tmp_path)
    assert (fault.found, fault.where.row) == ("a quotation mark that is never closed", 2)
