"""A season folder read whole: every record, and every fault in one go."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

from brumal.records.animal_table import ANIMALS, Herd, check_herd, herd_of, read_animals
from brumal.records.animals import Animal, Clutch, Event, Weighing
from brumal.records.by_name import Names
from brumal.records.changed_keys import new_defaults
from brumal.records.clutch_table import CLUTCHES, check_clutches, read_clutches
from brumal.records.event_facts import Facts, fact_faults, with_events
from brumal.records.event_order import Around, order_faults
from brumal.records.event_table import EVENTS, Seen, read_events, standing_events
from brumal.records.faults import Fault, Severity, Where, is_error, nearest
from brumal.records.files import decode, matching_files, read_source
from brumal.records.folder import SeasonRecords
from brumal.records.one_day import with_exact_days
from brumal.records.season_facts import part_season
from brumal.records.season_file import LOCKS, SEASON, part_of, settings_from_mapping
from brumal.records.season_state import season_state, with_unknown_sire
from brumal.records.setting_checks import check_locks
from brumal.records.settings import Locks, SeasonDates, Settings
from brumal.records.tables import Table, TableShape, read_table
from brumal.records.weight_table import WEIGHTS, check_weights, read_weights
from brumal.records.yaml_text import Place, read_yaml

YAML_SUFFIXES = (".yaml", ".yml")
BOOKS = (".xlsx", ".xlsm", ".ods", ".csv", ".tsv")
START = "`brumal new FOLDER` makes a folder of templates to start from."


def read_season(
    folder: Path, on: date | None = None, today: date | None = None
) -> tuple[SeasonRecords | None, tuple[Fault, ...]]:
    """Read a season folder as seen ``on`` a day: without one ``season.as_of``, else today.

    ``today`` is the real day (without one that of the clock), or ``season.as_of`` if it is later:
    rows between the two days are set aside, later ones are faults.

    Returns the records, ``None`` where an error makes them meaningless, and every fault found:
    errors, warnings and notices, ordered by file, row and column.
    """
    if not folder.is_dir():
        return None, (_no_folder(folder),)
    try:
        reading = _read(folder, on, today)
    except PermissionError:
        return None, (
            Fault(
                where=Where(file=folder.name),
                found="a folder that may not be read",
                expected="a readable season folder",
            ),
        )
    faults = tuple(sorted(reading.faults, key=_order))
    if reading.settings is None or any(is_error(fault) for fault in faults):
        return None, faults
    return _records(reading, reading.settings), faults


def readable_part(
    folder: Path, on: date | None = None, today: date | None = None
) -> SeasonRecords | None:
    """Return what can be read of a faulty folder, with default settings where its own cannot.

    Good for nothing but finding more faults in one go; ``None`` where nothing can be read at all.
    """
    try:
        reading = _read(folder, on, today) if folder.is_dir() else None
    except PermissionError:
        return None
    if reading is None:
        return None
    day = date(2000, 1, 1)
    blank = Settings(season=SeasonDates(name="", pair_from=day, pair_to=day))
    return _records(reading, reading.settings or blank)


def _records(reading: _Reading, settings: Settings) -> SeasonRecords:
    pair_from = settings.season.pair_from
    animals = with_events(reading.animals, reading.events)
    parted = part_season(animals, reading.clutches, reading.events, pair_from)
    state = season_state(animals, reading.events, parted.this_season, settings.locks, pair_from)
    return SeasonRecords(
        animals=with_unknown_sire(parted.animals, state),
        events=reading.events,
        as_of=reading.seen.as_of,
        settings=settings,
        weighings=reading.weighings,
        clutches=parted.clutches,
        this_season=parted.this_season,
        state=state,
        own_genes=reading.texts.get("genes"),
        season_text=reading.texts.get("season", ""),
        what_if={
            name.removeprefix("what-if/"): text
            for name, text in sorted(reading.texts.items())
            if name.startswith("what-if/")
        },
        files=dict(sorted(reading.files.items())),
        fingerprints=dict(sorted(reading.fingerprints.items())),
    )


@dataclass(slots=True)
class _Reading:
    """What has been read so far."""

    folder: Path
    on: date | None = None
    today: date | None = None
    faults: list[Fault] = field(default_factory=list)
    animals: tuple[Animal, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    clutches: tuple[Clutch, ...] = ()
    events: tuple[Event, ...] = ()
    settings: Settings | None = None
    season: SeasonDates | None = None
    locks: Locks | None = None
    lines: Mapping[tuple[str | int, ...], int] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    fingerprints: dict[str, str] = field(default_factory=dict)

    @property
    def seen(self) -> Seen:
        """Return the day the season is seen from, and the real day."""
        stated = self.season.as_of if self.season is not None else None
        today = max(self.today or date.today(), stated or date.min)
        return Seen(as_of=self.on or stated or today, today=today)

    def table(self, shape: TableShape) -> Table | None:
        table, faults = read_table(self.folder, shape)
        self.faults.extend(faults)
        if table is not None:
            self.files[shape.stem] = table.file
            self.fingerprints[table.file] = table.source.fingerprint
        return table

    def text(self, path: Path, key: str, file: str) -> str | None:
        """Read a text file of the folder; one that only what-ifs use is not fingerprinted."""
        source, faults = read_source(path, file)
        self.faults.extend(faults)
        if source is None:
            return None
        text, faults = decode(source)
        self.faults.extend(faults)
        if text is None:
            return None
        self.texts[key] = text
        self.files[key] = file
        if not key.startswith("what-if/"):
            self.fingerprints[file] = source.fingerprint
        return text


def _read(folder: Path, on: date | None, today: date | None) -> _Reading:
    reading = _Reading(folder, on, today)
    _read_settings(reading)
    _read_tables(reading)
    genes = matching_files(folder, "genes", YAML_SUFFIXES)
    if genes:
        reading.text(genes[0], "genes", genes[0].name)
    overlays = folder / "what-if"
    if overlays.is_dir():
        for path in sorted(overlays.iterdir()):
            if path.suffix.casefold() in YAML_SUFFIXES:
                reading.text(path, f"what-if/{path.stem}", f"what-if/{path.name}")
    return reading


def _read_settings(reading: _Reading) -> None:
    paths = matching_files(reading.folder, "season", YAML_SUFFIXES)
    if not paths:
        reading.faults.append(_missing(reading.folder, "season.yaml", "the season's settings"))
        return
    file = paths[0].name
    text = reading.text(paths[0], "season", file)
    if text is None:
        return
    document, faults = read_yaml(text, file)
    reading.faults.extend(faults)
    if document is None:
        return
    if not isinstance(document.data, dict):
        reading.faults.append(
            Fault(
                where=Where(file=file),
                found="no keys",
                expected="keys with a colon, such as `season:` and `limits:`",
                repair=START,
            )
        )
        return
    reading.lines = document.lines
    reading.settings, setting_faults = settings_from_mapping(document.data, file, document.lines)
    reading.faults.extend(setting_faults)
    if reading.settings is not None:
        reading.faults.extend(new_defaults(document.data, Place(file, document.lines)))
    season = part_of(document.data, "season", SEASON)
    locks = part_of(document.data, "locks", LOCKS)
    reading.season = season if isinstance(season, SeasonDates) else None
    if reading.season is not None and reading.season.pair_to < reading.season.pair_from:
        # One of the two is wrong: it is told once, not again at every date of the tables.
        reading.season = None
    reading.locks = locks if isinstance(locks, Locks) else None


def _read_tables(reading: _Reading) -> None:
    seen = reading.seen
    season = reading.season and replace(reading.season, as_of=seen.as_of)
    table = reading.table(ANIMALS)
    if table is None:
        if not any(is_error(f) and f.where.file.startswith("animals.") for f in reading.faults):
            reading.faults.append(
                _missing(reading.folder, "animals.csv", "the animals table (.csv or .xlsx)")
            )
        herd = None
    else:
        animals, faults = read_animals(table, *_bounds(reading))
        reading.animals = Names(animals).of_animals(animals)
        reading.faults.extend(faults)
        if not reading.animals and not any(is_error(fault) for fault in faults):
            reading.faults.append(
                Fault(
                    where=Where(file=table.file, row=1),
                    found="a heading without rows",
                    expected="one row an animal",
                )
            )
        herd = herd_of(reading.animals, table.file)
        reading.faults.extend(check_herd(herd, season))
    weights = reading.table(WEIGHTS)
    if weights is not None:
        weighings, faults = read_weights(weights)
        named = Names(reading.animals).of_weighings(weighings)
        reading.weighings, aside = seen.rows(named, lambda each: each.date, weights.file)
        reading.faults.extend([*faults, *aside])
        if herd is not None:
            reading.faults.extend(check_weights(reading.weighings, weights.file, herd, season))
    clutches = reading.table(CLUTCHES)
    if clutches is not None:
        clutch_rows, faults = read_clutches(clutches, *_bounds(reading))
        of_ids = Names(reading.animals).of_clutches(clutch_rows)
        reading.clutches, aside = seen.rows(of_ids, lambda each: each.laid, clutches.file)
        reading.faults.extend([*faults, *aside])
        if herd is not None:
            reading.faults.extend(check_clutches(reading.clutches, clutches.file, herd, season))
    _name_settings(reading)
    if herd is not None:
        _read_events(reading, herd)
    if herd is not None and reading.locks is not None:
        place = Place(reading.files["season"], reading.lines)
        reading.faults.extend(check_locks(reading.locks, herd, place))


def _bounds(reading: _Reading) -> tuple[date | None, date]:
    """Return the last day before the season, and the day it is seen from."""
    season = reading.season
    before = season.pair_from - timedelta(days=1) if season is not None else None
    return before, reading.seen.as_of


def _name_settings(reading: _Reading) -> None:
    """Turn names of animals in the settings into ids."""
    names = Names(reading.animals)
    if reading.settings is not None:
        reading.settings = names.of_settings(reading.settings)
    if reading.locks is not None:
        reading.locks = names.of_locks(reading.locks)


def _read_events(reading: _Reading, herd: Herd) -> None:
    table = reading.table(EVENTS)
    if table is None:
        _exact_days(reading)
        return
    found, faults = read_events(table)
    reading.faults.extend(faults)
    reading.events, faults = standing_events(
        Names(reading.animals).of_events(found), table.file, herd, reading.seen
    )
    reading.faults.extend(faults)
    _exact_days(reading)
    around = Around(
        herd=herd, weighings=reading.weighings, clutches=reading.clutches, file=table.file
    )
    reading.faults.extend(order_faults(reading.events, around))
    reading.faults.extend(
        fact_faults(
            Facts(
                animals=reading.animals,
                clutches=reading.clutches,
                events=reading.events,
                locks=reading.locks,
                files=reading.files,
            )
        )
    )


def _exact_days(reading: _Reading) -> None:
    told = with_exact_days(reading.animals, reading.clutches, reading.events)
    reading.animals, reading.clutches = told.animals, told.clutches


def _no_folder(folder: Path) -> Fault:
    there = folder.exists()
    if there and folder.suffix.casefold() in BOOKS:
        return Fault(
            where=Where(file=str(folder)),
            found="a workbook",
            expected="a season folder",
            repair=f"`brumal import {shlex.quote(str(folder))} --into my-season` reads it.",
        )
    return Fault(
        where=Where(file=str(folder)),
        found="a file" if there else "no such folder",
        expected="a season folder",
        repair="Give the folder that the file stands in." if there else START,
    )


def _missing(folder: Path, name: str, what: str) -> Fault:
    """Say that a file is not there, and which one looks meant for it."""
    meant_for_another = {"animals", "weights", "clutches", "events", "season", "genes"} - {
        Path(name).stem
    }
    names = [
        found for found in _names(folder.iterdir()) if Path(found).stem not in meant_for_another
    ]
    close = nearest(name, names, count=1)
    return Fault(
        where=Where(file=name),
        found="no such file",
        expected=what,
        repair=f"Rename {close[0]} to {name}?" if close else START,
    )


def _names(paths: Iterable[Path]) -> list[str]:
    return sorted(path.name for path in paths if path.is_file())


def _order(fault: Fault) -> tuple[str, int, str, str, str]:
    where = fault.where
    return where.file, where.row or 0, where.column or "", fault.found, fault.expected


def errors_first(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Return faults with errors before warnings before notices, each by file, row and column."""
    rank = {severity: place for place, severity in enumerate(Severity)}
    return tuple(sorted(faults, key=lambda fault: (rank[fault.severity], _order(fault))))
