"""What the tool enters among a keeper's tables: all else stays, nothing is lost or twice."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from brumal.records.animals import EventKind
from brumal.records.csv_rows import with_rows, without_row
from brumal.records.event_table import EVENTS
from brumal.records.faults import InputError
from brumal.records.journal import JOURNAL, read_journal
from brumal.records.read import read_season
from brumal.records.tables import read_table
from brumal.records.weight_table import WEIGHTS
from brumal.records.writer import enter, let_go, missing, new_entry, take_back
from season_folders import season_folder

AT = datetime(2026, 11, 10, 18, 30)
ON = date(2026, 11, 15)
VISIT = {"date": "2026-11-02", "animal": "F01", "event": "visit", "with": "M01"}
WEIGHING = {"animal": "F01", "date": "2026-11-09", "grams": "1835"}
SHORT = "date,animal,event\n2026-11-01,F02,ill\n"


def bytes_of(folder: Path, file: str) -> bytes:
    return (folder / file).read_bytes()


def write(folder: Path, file: str, data: bytes) -> Path:
    season_folder(folder)
    (folder / file).write_bytes(data)
    return folder


def test_the_first_entry_makes_the_table(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    entry = new_entry("events", VISIT)
    assert enter(folder, [entry], AT, ON).files == ("events.csv",)
    records, _ = read_season(folder, ON)
    assert records is not None
    (event,) = records.events
    assert (event.kind, event.mate, event.id) == (EventKind.VISIT, "M01", entry.id)


def test_an_entry_sent_twice_stands_once(tmp_path: Path) -> None:
    folder = season_folder(tmp_path, events=SHORT)
    entries = [new_entry("events", VISIT, "a1"), new_entry("weights", WEIGHING, "w1")]
    first = enter(folder, entries, AT, ON)
    assert first.files == ("events.csv", "weights.csv")
    before = bytes_of(folder, "events.csv"), bytes_of(folder, JOURNAL)
    again = enter(folder, entries, AT, ON)
    assert (again.files, again.known) == ((), ("a1", "w1"))
    assert (bytes_of(folder, "events.csv"), bytes_of(folder, JOURNAL)) == before


def test_an_id_that_names_something_else_is_refused(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    enter(folder, [new_entry("events", VISIT, "a1")], AT, ON)
    other = new_entry("events", VISIT | {"date": "2026-11-03"}, "a1")
    with pytest.raises(InputError, match="1 error"):
        enter(folder, [other], AT, ON)


def test_what_makes_a_fault_is_refused_whole(tmp_path: Path) -> None:
    folder = season_folder(tmp_path, events=SHORT)
    bad = new_entry("events", VISIT | {"animal": "F77"}, "a2")
    with pytest.raises(InputError) as raised:
        enter(folder, [new_entry("events", VISIT, "a1"), bad], AT, ON)
    assert "found 'F77'; expected an id of the animals table" in str(raised.value.faults[0])
    assert bytes_of(folder, "events.csv") == SHORT.encode()
    assert not (folder / JOURNAL).exists()


def test_the_keepers_own_version_stays_beside(tmp_path: Path) -> None:
    folder = season_folder(tmp_path, events=SHORT)
    enter(folder, [new_entry("events", VISIT, "a1")], AT, ON)
    enter(folder, [new_entry("events", VISIT | {"date": "2026-11-04"}, "a2")], AT, ON)
    assert bytes_of(folder, "events.csv.before") == SHORT.encode()
    mine = bytes_of(folder, "events.csv") + b"2026-11-05,F02,ill,,\n"
    (folder / "events.csv").write_bytes(mine)
    enter(folder, [new_entry("events", VISIT | {"date": "2026-11-06"}, "a3")], AT, ON)
    assert bytes_of(folder, "events.csv.before") == mine


def test_rows_that_vanished_are_offered_again(tmp_path: Path) -> None:
    """A spreadsheet that was open meanwhile is saved over the entries."""
    folder = season_folder(tmp_path, events=SHORT)
    entries = [new_entry("events", VISIT, "a1"), new_entry("weights", WEIGHING, "w1")]
    enter(folder, entries, AT, ON)
    assert missing(folder) == ()
    (folder / "events.csv").write_text(SHORT)
    (folder / "weights.csv").write_text("animal,date,grams\n")
    assert missing(folder) == tuple(entries)
    enter(folder, missing(folder), AT, ON)
    assert missing(folder) == ()
    (folder / "events.csv").write_text(SHORT)
    let_go(folder, ["a1"], AT)
    assert missing(folder) == ()
    enter(folder, entries[:1], AT, ON)
    assert bytes_of(folder, "events.csv") == SHORT.encode()


def test_an_event_is_taken_back_by_a_row_and_a_weighing_by_taking_it_out(tmp_path: Path) -> None:
    old = b"animal;date;grams\r\nF01;2026-10-01;1810\r\n"
    folder = write(tmp_path, "weights.csv", old)
    enter(folder, [new_entry("events", VISIT, "a1"), new_entry("weights", WEIGHING, "w1")], AT, ON)
    take_back(folder, "a1", AT, ON)
    take_back(folder, "w1", AT, ON)
    assert bytes_of(folder, "weights.csv") == old
    records, _ = read_season(folder, ON)
    assert records is not None
    assert records.events == ()
    assert missing(folder) == ()
    assert take_back(folder, "a1", AT, ON).files == ()


def test_a_weighing_changed_since_is_the_keepers(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    enter(folder, [new_entry("weights", WEIGHING, "w1")], AT, ON)
    path = folder / "weights.csv"
    path.write_text(path.read_text().replace("1835", "1853"))
    assert [entry.id for entry in missing(folder)] == ["w1"]
    take_back(folder, "w1", AT, ON)
    assert "1853" in path.read_text()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_dialect_and_every_other_byte_stay(
    tmp_path: Path, encoding: str, line_end: str, separator: str
) -> None:
    lines = ["# mine", "Date,Animal,Event,Note,Own", '2026-11-01,F02,ill,"Åsa\u00a0said",x', ""]
    old = line_end.join(lines).replace(",", separator).encode(encoding)
    folder = write(tmp_path, "events.csv", old)
    note = f"a{separator}b"
    row = {"date": "2026-11-02", "animal": "F01", "event": "ill", "note": note}
    enter(folder, [new_entry("events", row, "a1")], AT, ON)
    new = bytes_of(folder, "events.csv")
    text, kept = new.decode(encoding), old.decode(encoding)
    above, header, *rows = kept.split(line_end)
    assert text.split(line_end)[0] == above
    assert text.split(line_end)[1] == f"{header}{separator}id"
    assert text.split(line_end)[2] == rows[0]
    assert text.endswith(line_end)
    assert set(text) & {"\n", "\r"} == set(line_end)
    last = next(csv.reader(io.StringIO(text.split(line_end)[-2]), delimiter=separator))
    assert last == ["2026-11-02", "F01", "ill", " ".join(note.split()), "", "a1"]


def test_letters_that_an_old_file_cannot_hold_are_told(tmp_path: Path) -> None:
    old = "date,animal,event,note,id\n2026-11-01,F02,ill,Åsa,\n".encode("cp1252")
    folder = write(tmp_path, "events.csv", old)
    entry = new_entry("events", VISIT | {"with": "M01", "note": "ř"})
    with pytest.raises(InputError) as raised:
        enter(folder, [entry], AT, ON)
    assert "'ř', which the file's Windows encoding" in str(raised.value.faults[0])
    assert bytes_of(folder, "events.csv") == old


def test_a_workbook_is_never_edited(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    book = Workbook()
    for cells in (["animal", "date", "grams"], ["F01", date(2026, 10, 1), 1810]):
        book.active.append(cells)
    book.save(folder / "weights.xlsx")
    before = bytes_of(folder, "weights.xlsx")
    entry = new_entry("weights", WEIGHING, "w1")
    entered = enter(folder, [entry], AT, ON)
    assert entered.files == ("weights-to-copy.csv",)
    assert enter(folder, [entry], AT, ON).files == ()
    assert bytes_of(folder, "weights.xlsx") == before
    assert "F01,2026-11-09,1835" in (folder / "weights-to-copy.csv").read_text()
    records, _ = read_season(folder, ON)
    assert records is not None
    assert len(records.weighings) == 1


def test_a_file_that_cannot_be_written_keeps_the_entry(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = season_folder(tmp_path, events=SHORT)

    def locked(self: Path, target: Path) -> Path:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", locked)
        with pytest.raises(InputError) as raised:
            enter(folder, [new_entry("events", VISIT, "a1")], AT, ON)
    assert "offered again" in raised.value.faults[0].repair
    assert bytes_of(folder, "events.csv") == SHORT.encode()
    assert {path.name for path in folder.iterdir()} == {
        "animals.csv",
        "season.yaml",
        "events.csv",
        JOURNAL,
    }
    assert [entry.id for entry in missing(folder)] == ["a1"]


def test_a_journal_line_cut_short_was_never_written(tmp_path: Path) -> None:
    folder = season_folder(tmp_path)
    enter(folder, [new_entry("events", VISIT, "a1")], AT, ON)
    path = folder / JOURNAL
    whole = path.read_text()
    path.write_text(whole + '{"at": "2026-11-10T18:3')
    assert list(read_journal(folder).entries) == ["a1"]
    enter(folder, [new_entry("events", VISIT | {"date": "2026-11-05"}, "a2")], AT, ON)
    assert list(read_journal(folder).entries) == ["a1", "a2"]
    assert all(json.loads(line) for line in path.read_text().splitlines())
    path.write_text("mine\n")
    with pytest.raises(InputError):
        missing(folder)


CELLS = st.text(
    st.characters(exclude_categories=["C", "Z"], exclude_characters="#\ufeff"), max_size=5
)


@settings(max_examples=60)
@given(
    rows=st.lists(st.tuples(CELLS, CELLS), max_size=4),
    note=CELLS,
    separator=st.sampled_from(",;\t|"),
    quoting=st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL]),
    line_end=st.sampled_from(["\n", "\r\n"]),
    ended=st.booleans(),
)
def test_a_row_added_and_taken_out_leaves_the_file_as_it_was(
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[tuple[str, str]],
    note: str,
    separator: str,
    quoting: int,
    line_end: str,
    ended: bool,
) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, quoting=quoting, lineterminator=line_end)
    writer.writerows([("animal", "date", "grams", "note"), *((a, "d", "1", b) for a, b in rows)])
    text = out.getvalue() if ended else out.getvalue().removesuffix(line_end)
    old = text.encode("utf-8")
    cells = {"animal": "F01", "date": "2026-11-09", "grams": "1835", "note": note}
    new = with_rows(old, WEIGHTS, [cells])
    assert new.startswith(old)
    folder = tmp_path_factory.mktemp("table")
    (folder / "weights.csv").write_bytes(new)
    table, _ = read_table(folder, WEIGHTS)
    assert table is not None
    assert dict(table.rows[-1].cells) == cells
    back = without_row(new, WEIGHTS, cells)
    if not ended:
        # Without a single line end the file does not say which are its own.
        old += line_end.encode() if rows else b"\n"
    assert back == old
    assert without_row(old, EVENTS, cells) is None
