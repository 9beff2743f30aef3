"""Season folders and workbooks damaged in every way that files get damaged, a seed each.

What may stand in a folder is read off the shapes of its tables and the types of its settings, so
that new columns and keys are damaged too. ``python tests/damaged.py SEED FOLDER`` writes one.
"""

from __future__ import annotations

import codecs
import csv
import io
import random
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import yaml

from brumal.records.animal_table import ANIMALS
from brumal.records.clutch_table import CLUTCHES
from brumal.records.event_table import EVENTS
from brumal.records.setting_words import keys_at
from brumal.records.tables import TableShape
from brumal.records.weight_table import WEIGHTS

Files = dict[str, bytes]
SHAPES = (ANIMALS, WEIGHTS, CLUTCHES, EVENTS)
ROWS: dict[str, list[dict[str, str]]] = {
    "animals": [
        {"id": "F01", "name": "Frost", "sex": "female", "hatched": "2019-06-10", "morph": "Clown"},
        {"id": "F02", "name": "Rime", "sex": "female", "hatched": "2021-07-01", "dam": "F01"},
        {"id": "F03", "sex": "female", "hatched": "2022-05-02", "morph": "Mojave 50% het Clown"},
        {"id": "M01", "name": "Sleet", "sex": "male", "hatched": "2019-07-01", "morph": "Pastel"},
        {"id": "M02", "sex": "male", "hatched": "2021-07-01", "morph": "Rimefoot", "notes": "own"},
        {"id": "O01", "sex": "male", "hatched": "2015-07-01", "morph": "Lesser"},
    ],
    "weights": [
        {"animal": "F01", "date": "2026-08-02", "grams": "1790"},
        {"animal": "F01", "date": "2026-10-02", "grams": "1815", "note": "fed"},
        {"animal": "F03", "date": "2026-10-02", "grams": "1480"},
    ],
    "clutches": [
        {"dam": "F01", "sire": "M01", "laid": "2025-04-02", "eggs": "7", "slugs": "1"},
        {"dam": "F02", "sire": "M02", "laid": "2025-04-12", "eggs": "5", "hatched": "4"},
    ],
    "events": [
        {"date": "2026-11-02", "animal": "F03", "event": "ill", "note": "off her food"},
        {"date": "2026-11-10", "animal": "F03", "event": "cleared", "about": "illness"},
    ],
}
FILLED = {"F02": {"sire": "M01", "morph": "het Clown"}}
USUAL = {"weight_g": "1850", "weighed": "2026-11-01", "condition": "3", "status": "breeder"}
CLUTCH_YOUNG = {"F01": "3 Clown; 3 het Clown", "F02": "2 het Clown; 2 Rimefoot"}
SEASON = """\
# A season that is damaged on purpose.
season:
  name: Damaged
  pair_from: 2026-12-01
  pair_to: 2027-03-31
  as_of: 2026-11-15
limits: {boxes: 3, tubs: 20, pairings_per_male: 2}
rules: {condition: [2.5, 4], accept_welfare: []}
values:
  base: 30
  wanted:
    - {morph: Clown, value: {female: 300, male: 250}, need: 3, value_after: 200}
    - {morph: Pastel, value: 90, keep: {count: 1, sex: female, extra: 80}}
costs: {pairing: 5, egg: 1, hatchling: 12}
locks:
  must_pair: []
  sit_out: [F03]
"""
GENES = """\
genes:
  - {name: Rimefoot, inheritance: incomplete dominant, super: Super Rimefoot, source: our own}
"""
WHAT_IF = """\
note: More room, and a male bought.
option: true
paid: 300
limits: {boxes: 4}
values:
  wanted:
    Clown: {value: 200}
animals:
  B01: {sex: male, hatched: 2021-07-01, morph: Albino, weight_g: 900, weighed: 2026-11-01,
    condition: 3, status: breeder}
"""
SPIT = "\N{SNOWMAN}?!"
"""What no column and no key that is read can mean."""
FREE = {"id", "name", "notes", "note", "trouble"}
"""Columns that hold whatever the keeper writes."""

HOSTILE = (
    "",
    " ",
    "0",
    "-1",
    "1e308",
    "1e999",
    "9" * 400,
    "NaN",
    "inf",
    "-inf",
    "0x10",
    "1_000",
    "1,000",
    "1.000.000,5",
    "\u00b2",
    "\u0661\u0662\u0663",
    "\uff11\uff12",
    "2026-02-30",
    "0000-00-00",
    "9999-12-31",
    "0001-01-01",
    "31.12.99",
    "1/2/3",
    "46000",
    "\N{SNOWMAN}",
    '=HYPERLINK("x.invalid")',
    "=1+1",
    "+cmd|' /C calc'!A0",
    "@SUM(1)",
    "'=1",
    "''",
    "<script>alert(1)</script>",
    "</td></table>&amp;&lt;\"'",
    "]]><!--",
    "{{ 7 * 7 }}{% raw %}",
    "\x1b[31mred\x07\x08",
    "\x1b]0;title\x07",
    "\x00",
    "\x7f\x85\u2028\u2029",
    "\u202eturned\u202d",
    "\u200b\u200c\ufeff",
    "e\u0301" * 30,
    "\U0001f40d\u2744\ufe0f",
    "\ud7ff\ue000\ufffe\uffff",
    "X\r\nEND:VEVENT\r\nBEGIN:VALARM",
    "a;b,c\\n:d",
    "../../../etc/passwd",
    "..\\..\\CON",
    "C:\\NUL:x",
    "AUX.csv",
    "/",
    "~",
    ".",
    "*?<>|",
    "$(id) `id` %PATH% %s %n {0} {x!r:>999999}",
    "Snowdrop" * 500,
    '"',
    '"""',
    "a\tb",
    "F01",
    "M01",
    "female",
    "Clown",
    "Spider",
    "Super " * 60 + "Pastel",
    "100% het " * 40 + "Clown",
    "66% het Clown 50% het Clown",
    "&a [*a]",
    "*a",
    "!!python/object/apply:os.system [id]",
    "[1, 2",
    "{a: b",
    "- x",
    "a: b: c",
    "null",
    "true",
    "12-" * 200,
)
ENCODINGS = (
    "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "latin-1", "mac-roman",
    "cp437", "cp500", "shift_jis", "gb18030", "koi8-r", "utf-7",
)  # fmt: skip


def table(shape: TableShape) -> str:
    """Return a table of the folder with every column there is."""
    out = io.StringIO()
    writer = csv.DictWriter(out, shape.columns, lineterminator="\n", restval="")
    writer.writeheader()
    for row in ROWS[shape.stem]:
        cells = dict(row)
        if shape is ANIMALS:
            usual = USUAL | ({"status": "outside"} if row["id"] == "O01" else {})
            cells = usual | row | FILLED.get(row["id"], {})
        if shape is CLUTCHES:
            cells = {"morphs": CLUTCH_YOUNG[row["dam"]], "hatched": "6"} | row
        writer.writerow(cells)
    return out.getvalue()


def whole() -> Files:
    """Return a season folder without a fault, by file name."""
    texts = {f"{shape.stem}.csv": table(shape) for shape in SHAPES}
    texts |= {"season.yaml": SEASON, "genes.yaml": GENES, "what-if/more.yaml": WHAT_IF}
    return {name: text.encode() for name, text in texts.items()}


def write(files: Files, folder: Path) -> Path:
    """Write a folder anew."""
    shutil.rmtree(folder, ignore_errors=True)
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return folder


def bytes_of(folder: Path) -> Files:
    """Return what stands in a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


# Damage to a single file as bytes.


def flipped(data: bytes, rng: random.Random) -> bytes:
    found = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 8, 64))):
        if found:
            found[rng.randrange(len(found))] = rng.randrange(256)
    return bytes(found)


def cut(data: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(data) + 1)
    return rng.choice((data[:at], data[at:], b"", b"\n", b"\x00" * at))


def doubled(data: bytes, rng: random.Random) -> bytes:
    start, end = sorted(rng.randrange(len(data) + 1) for _ in range(2))
    return data[:end] + data[start:end] * rng.choice((1, 2, 50)) + data[end:]


def put_in(data: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.choice(HOSTILE).encode("utf-8", "surrogatepass") + data[at:]


def in_other_letters(data: bytes, rng: random.Random) -> bytes:
    text = data.decode("utf-8", "replace")
    if rng.random() < 0.5:
        text = text.replace("Frost", rng.choice(("Früst", "Мороз", "霜", "Frosté")))
    return text.encode(rng.choice(ENCODINGS), "replace")


def with_other_ends(data: bytes, rng: random.Random) -> bytes:
    return data.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n\n", b"\r\r\n", b"\x0b", b" \n")))


def shuffled_lines(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    place = rng.randrange(len(lines))
    kind = rng.randrange(4)
    if kind == 0:
        rng.shuffle(lines)
    elif kind == 1:
        del lines[place]
    elif kind == 2:
        lines[place:place] = [lines[place]] * rng.choice((1, 3, 200))
    else:
        lines[place] = b" " * rng.choice((1, 2, 3)) + lines[place]
    return b"\n".join(lines)


BYTES = (flipped, cut, doubled, put_in, in_other_letters, with_other_ends, shuffled_lines)


# Damage to a table.


def cells_of(data: bytes) -> list[list[str]]:
    letters = "utf-16" if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) else "utf-8"
    return list(csv.reader(io.StringIO(data.decode(letters, "replace"))))


def csv_of(rows: list[list[str]], **form: object) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n", **form).writerows(rows)  # type: ignore[arg-type]
    return out.getvalue().encode("utf-8", "surrogatepass")


def hostile_cells(data: bytes, rng: random.Random) -> bytes:
    rows = cells_of(data)
    for _ in range(rng.choice((1, 1, 3, 10))):
        row = rng.choice(rows[1:] if rng.random() < 0.9 else rows)
        if row:
            row[rng.randrange(len(row))] = rng.choice(HOSTILE)
    return csv_of(rows)


def moved_columns(data: bytes, rng: random.Random) -> bytes:
    rows = cells_of(data)
    one, two = rng.randrange(len(rows[0])), rng.randrange(len(rows[0]))
    kind = rng.randrange(5)
    for row in rows[: 1 if kind == 0 else None]:
        if kind < 2:
            row[one], row[two] = row[two], row[one]
        elif kind == 2:
            del row[one]
        elif kind == 3:
            row[one:one] = [row[two]]
        else:
            row += [rng.choice(HOSTILE)] * rng.choice((1, 3, 600))
    return csv_of(rows)


def other_dialect(data: bytes, rng: random.Random) -> bytes:
    rows = cells_of(data)
    form = {
        "delimiter": rng.choice((",", ";", "\t", "|", ":", " ")),
        "quoting": rng.choice((csv.QUOTE_ALL, csv.QUOTE_MINIMAL, csv.QUOTE_NONNUMERIC)),
    }
    text = csv_of(rows, **form)
    head = rng.choice((b"", b"", b"sep=;\n", b"# a comment\n\n", b"\n" * 30, b"Collection\n"))
    return head + text


def many_rows(data: bytes, rng: random.Random) -> bytes:
    rows = cells_of(data)
    return csv_of(rows + rows[1:] * rng.choice((2, 40)))


TABLES = (
    *BYTES,
    hostile_cells,
    hostile_cells,
    hostile_cells,
    moved_columns,
    other_dialect,
    many_rows,
)


# Damage to settings, genes and what-ifs.


def paths(path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the way to every key there is in the settings."""
    for key in keys_at(path):
        yield (*path, key)
        yield from paths((*path, key))


PATHS = tuple(paths())


def hostile_value(rng: random.Random, depth: int = 0) -> object:
    kind = rng.randrange(6 if depth < 3 else 3)
    if kind < 3:
        return rng.choice((*HOSTILE, None, True, -1, 0.5, 10**30, 10**400 if depth else 1))
    size = rng.choice((0, 1, 2, 3))
    if kind == 3:
        return [hostile_value(rng, depth + 1) for _ in range(size)]
    return {
        rng.choice((*HOSTILE, "morph", "value")): hostile_value(rng, depth + 1) for _ in range(size)
    }


def hostile_key(data: bytes, rng: random.Random) -> bytes:
    """Set any key there is, or one beside it, to something else."""
    try:
        tree = yaml.load(data, yaml.BaseLoader)
    except (yaml.YAMLError, UnicodeDecodeError, RecursionError):
        return data
    if not isinstance(tree, dict):
        return data
    path = list(rng.choice(PATHS))
    if rng.random() < 0.2:
        path[-1] = rng.choice((*HOSTILE, path[-1].upper(), path[-1] + "s", path[-1][:-1]))
    at = tree
    for part in path[:-1]:
        if not isinstance(at.get(part), dict):
            at[part] = {}
        at = at[part]
    at[path[-1]] = hostile_value(rng)
    return yaml.safe_dump(tree, allow_unicode=True, sort_keys=False).encode("utf-8", "replace")


def hostile_yaml(data: bytes, rng: random.Random) -> bytes:
    deep = rng.choice((3, 90, 1500, 20000))
    line = rng.choice(
        (
            "a: &a [x, x]\nb: *a\n",
            "<<: {limits: {boxes: 9}}\n",
            "limits: {boxes: 1}\nlimits: {boxes: 2}\n",
            "deep: " + "[" * deep + "]" * deep + "\n",
            "deep: " + "{a: " * deep + "}" * deep + "\n",
            "".join(" " * n + "a:\n" for n in range(min(deep, 1500))),
            "x: !!python/object/apply:os.system [id]\n",
            "x: !!binary aGVsbG8=\n",
            "x: !!float .inf\ny: !!int 0b11\n",
            "--- \nseason: {}\n...\n---\nx: 1\n",
            "%YAML 9.9\n---\n",
            "? [a, b]\n: c\n",
            "\tseason: x\n",
            "x: |\n  text\n   more\n",
            "x: 'never closed\n",
            "x: " + "9" * 5000 + "\n",
            "x: 1" + "e9" * 40 + "\n",
            "".join(f"k{n}: {n}\n" for n in range(300)),
            "a: &a [1]\nb: &b [*a,*a,*a]\nc: &c [*b,*b,*b]\nd: [*c,*c,*c]\n",
            "- a\n- b\n",
            "\ufeff",
        )
    )
    text = line.encode()
    return rng.choice((text, text + data, data + text))


SETTINGS = (*BYTES, hostile_key, hostile_key, hostile_key, hostile_yaml)


# Damage to a folder.


def one_damaged(files: Files, rng: random.Random) -> None:
    name = rng.choice(sorted(files))
    kinds = TABLES if name.endswith(".csv") else SETTINGS
    try:
        files[name] = rng.choice(kinds)(files[name], rng)
    except (csv.Error, IndexError, ValueError):  # damaged before, past what this one can read
        files[name] = flipped(files[name], rng)


def swapped(files: Files, rng: random.Random) -> None:
    one, two = rng.choice(sorted(files)), rng.choice(sorted(files))
    files[one], files[two] = files[two], files[one]


def renamed(files: Files, rng: random.Random) -> None:
    name = rng.choice(sorted(files))
    stem = name.rpartition(".")[0]
    new = rng.choice(
        (name.upper(), f"{stem}.xlsx", f"{stem}.ods", f"{stem}.yml", f"{stem}.CSV", f"x{name}")
    )
    files[new] = files[name] if rng.random() < 0.3 else files.pop(name)


def missing(files: Files, rng: random.Random) -> None:
    del files[rng.choice(sorted(files))]


def as_workbook(files: Files, rng: random.Random) -> None:
    """Save a table as a workbook, with cells of other types, perhaps damaged."""
    tables = [name for name in sorted(files) if name.endswith(".csv")]
    if not tables:
        return
    name = rng.choice(tables)
    try:
        files[name.replace(".csv", ".xlsx")] = workbook_of(files[name], rng)
    except (csv.Error, openpyxl.utils.exceptions.IllegalCharacterError):
        return
    del files[name]


def workbook_of(data: bytes, rng: random.Random) -> bytes:
    from datetime import datetime, time, timedelta

    typed = (True, 3.5, -1, 10**18, 1e300, datetime(2026, 2, 3, 4, 5), time(3, 4), timedelta(9),
             "=1+1", "#REF!", "=NA()", "'x")  # fmt: skip
    book = openpyxl.Workbook()
    sheet = book.active
    for row in cells_of(data)[:60]:
        sheet.append([cell[:30000] for cell in row[:300]])
    for _ in range(rng.choice((0, 1, 4))):
        sheet.cell(rng.randrange(1, 9), rng.randrange(1, 20)).value = rng.choice(typed)
    if rng.random() < 0.2:
        sheet.merge_cells("A2:C4")
    out = io.BytesIO()
    book.save(out)
    found = out.getvalue()
    return flipped(found, rng) if rng.random() < 0.4 else found


FOLDERS: tuple[Callable[[Files, random.Random], None], ...] = (
    *[one_damaged] * 16,
    swapped,
    renamed,
    missing,
    as_workbook,
)


def damaged(seed: int) -> Files:
    """Return the season folder of a seed: one to four kinds of damage to the whole one."""
    rng = random.Random(seed)
    files = whole()
    for _ in range(rng.choice((1, 1, 2, 4))):
        if files:
            rng.choice(FOLDERS)(files, rng)
    return files


if __name__ == "__main__":
    write(damaged(int(sys.argv[1])), Path(sys.argv[2]))
