"""A season under overlays: new records beside the old, every change told, every fault placed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from brumal.records.animal_table import check_herd, herd_of
from brumal.records.by_name import by_ids
from brumal.records.cells import quote
from brumal.records.clutch_table import check_clutches
from brumal.records.event_facts import with_events
from brumal.records.faults import Fault, Where, did_you_mean, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.overlay import MONEY_KEYS, Leaf, Overlay
from brumal.records.overlay_animals import animal_place, joining, lay_animals
from brumal.records.overlay_tree import Change, Laid, lay_settings, settings_changes
from brumal.records.overlays import Overlays, resolve
from brumal.records.season_file import settings_from_mapping
from brumal.records.setting_checks import check_locks
from brumal.records.settings import Settings
from brumal.records.weight_table import check_weights
from brumal.records.yaml_text import Path, Place, show_path


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One season under overlays; ``records`` is ``None`` where an error makes it meaningless.

    ``paid`` and ``received`` are money that passes once, beside what the plan brings; ``fees``
    gives it by animal. ``joined`` are the animals that come into the collection.
    """

    name: str
    records: SeasonRecords | None
    overlays: tuple[Overlay, ...] = ()
    changes: tuple[Change, ...] = ()
    faults: tuple[Fault, ...] = ()
    paid: float = 0.0
    received: float = 0.0
    fees: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    joined: tuple[str, ...] = ()

    @property
    def note(self) -> str:
        """Return what the keeper wrote about the scenario."""
        return self.overlays[-1].note if self.overlays else ""


def variant_of(records: SeasonRecords, overlays: Overlays, names: Sequence[str]) -> Variant:
    """Return the season under the named overlays and all that they extend.

    The order of names does not matter: overlays that set the same thing differently are a fault.
    """
    chain, faults = resolve(overlays, names)
    title = " + ".join(names)
    if faults:
        return Variant(name=title, records=None, overlays=chain, faults=faults)
    repeated = tuple(fault for name in names for fault in _repeats(overlays, name))
    variant = lay_over(records, chain, title)
    return replace(
        variant,
        records=None if repeated else variant.records,
        faults=(*repeated, *variant.faults),
    )


def _repeats(overlays: Overlays, name: str) -> Iterator[Fault]:
    """Yield what an overlay sets although one that it extends sets it already, just so."""
    chain, _ = resolve(overlays, [name])
    own = chain[-1]
    for other in chain[:-1]:
        for one, two in _meeting(other, own):
            if one.path == two.path and one.value == two.value:
                yield Fault(
                    where=own.where(two.written),
                    found=f"{_told(two)}, which {_named(other, one)} sets already",
                    expected="a change",
                    repair="It touches nothing: remove it here or there.",
                )


def lay_over(
    records: SeasonRecords, overlays: tuple[Overlay, ...], name: str, idle: bool = False
) -> Variant:
    """Lay overlays over records; the records given are never changed.

    All faults are told: overlays that fight, values that are wrong, and (unless ``idle`` changes
    are allowed, as the steps of a sweep may be) keys that touch nothing. Raises ``ValueError`` for
    an overlay whose groups or scaled prices are not written out as single changes.
    """
    if any(overlay.scale or overlay.groups for overlay in overlays):
        raise ValueError("scale and groups have to be written out first")
    faults = list(_fights(overlays))
    laid = lay_settings(records.settings, overlays)
    faults += [_no_such_wish(records, *unknown) for unknown in laid.unknown_wishes]
    faults += [_no_figure(*unset) for unset in laid.no_figure]
    settings, found = _settings(records, laid, overlays)
    faults += found
    stock = lay_animals(records, overlays)
    faults += stock.faults
    new = replace(
        records,
        animals=with_events(tuple(stock.animals.values()), records.events),
        weighings=stock.weighings,
        settings=settings or records.settings,
    )
    new = by_ids(new)
    faults += _table_faults(records, new, laid, overlays)
    joined = joining(records.animals, new.animals)
    new = replace(new, joined=records.joined | frozenset(joined))
    changes = [*settings_changes(records.settings, new.settings), *stock.changes]
    if settings is not None and not idle:
        faults += _idle(records, overlays, changes, faults)
    changes = [replace(each, by=each.by or _author(overlays, each)) for each in changes]
    return Variant(
        name=name,
        records=None if any(is_error(fault) for fault in faults) else new,
        overlays=overlays,
        changes=tuple(changes),
        faults=tuple(dict.fromkeys(faults)),
        paid=sum((o.paid for o in overlays), sum(p for o in overlays for p, _ in o.fees.values())),
        received=sum(
            (o.received for o in overlays), sum(r for o in overlays for _, r in o.fees.values())
        ),
        fees={id: fee for overlay in overlays for id, fee in overlay.fees.items()},
        joined=joined,
    )


def fights(overlays: Sequence[Overlay]) -> bool:
    """Say whether two overlays set the same thing to different values."""
    return any(True for _ in _fights(overlays))


def _fights(overlays: Sequence[Overlay]) -> Iterator[Fault]:
    for first, second in combinations(overlays, 2):
        for one, two in _meeting(first, second):
            if one.path != two.path or one.value != two.value:
                yield Fault(
                    where=second.where(two.written),
                    found=f"{_told(two)}, against {_told(one)} in {_named(first, one)}",
                    expected="scenarios that do not set the same thing differently",
                    repair=f"Take it out of {first.name} or of {second.name}.",
                )


def _meeting(first: Overlay, second: Overlay) -> Iterator[tuple[Leaf, Leaf]]:
    """Yield the changes of two overlays that touch the same thing, one the other, or a part."""
    for two in second.leaves:
        for one in first.leaves:
            if _overlap(one.path, two.path):
                yield one, two


def _told(leaf: Leaf) -> str:
    value = leaf.value
    if isinstance(value, list):
        return f"{show_path(leaf.written)}: a list of {len(value)}"
    return f"{show_path(leaf.written)}: {'nothing' if value is None else value}"


def _named(overlay: Overlay, leaf: Leaf) -> str:
    row = overlay.where(leaf.written).row
    line = f", line {row}" if row is not None else ""
    return f"{overlay.name} ({overlay.file}{line})"


def _no_such_wish(records: SeasonRecords, overlay: Overlay, path: Path, asked: str) -> Fault:
    morph = str(path[-1])
    wishes = [wanted.morph for wanted in records.settings.values.wanted]
    return Fault(
        where=overlay.where(path),
        found=f"{quote(morph)} {asked}",
        expected=f"a morph of values.wanted ({', '.join(wishes) or 'none'})",
        repair=did_you_mean(morph, wishes),
    )


def _no_figure(overlay: Overlay, path: Path, text: str) -> Fault:
    return Fault(
        where=overlay.where(path),
        found=quote(text),
        expected="a figure: there is none yet that could be more or less",
        repair="Without a sign it is the figure itself.",
    )


class _Lines:
    """Lines of several files under one numbering, for readers that know of one file only."""

    def __init__(self, places: Mapping[Path, tuple[str, int]]) -> None:
        self.table = tuple(dict.fromkeys(places.values()))
        number = {place: n for n, place in enumerate(self.table)}
        self.lines = {path: number[place] for path, place in places.items()}

    def placed(self, fault: Fault) -> Fault:
        if fault.where.row is None:
            return fault
        file, line = self.table[fault.where.row]
        return replace(fault, where=replace(fault.where, file=file, row=line))


def _settings(
    records: SeasonRecords, laid: Laid, overlays: tuple[Overlay, ...]
) -> tuple[Settings | None, list[Fault]]:
    lines = _Lines(laid.places)
    file = overlays[-1].file if overlays else records.files.get("season", "season.yaml")
    settings, faults = settings_from_mapping(laid.tree, file, lines.lines)
    _, before = settings_from_mapping(lay_settings(records.settings, ()).tree, file, {})
    known = {(fault.where.column, fault.found) for fault in before}
    new = [fault for fault in faults if (fault.where.column, fault.found) not in known]
    return settings, [_by_morph(laid, lines.placed(fault)) for fault in new]


def _by_morph(laid: Laid, fault: Fault) -> Fault:
    """Name a wish by its morph where an overlay changed it by that name."""
    found = re.match(r"values\.wanted\[(\d+)\]", fault.where.column or "")
    morph = laid.wish_at(int(found[1]) - 1) if found else None
    if found is None or morph is None:
        return fault
    column = f"values.wanted.{morph}{found.string[found.end() :]}"
    return replace(fault, where=replace(fault.where, column=column))


def _table_faults(
    old: SeasonRecords, new: SeasonRecords, laid: Laid, overlays: tuple[Overlay, ...]
) -> list[Fault]:
    """Return what the checks across rows and tables find now and did not find before."""
    same_herd = old.animals == new.animals
    same_rows = same_herd and old.weighings == new.weighings
    placed: list[Fault] = []
    if not same_rows or old.settings.season != new.settings.season:
        before = set(_herd_faults(old))
        found = [fault for fault in _herd_faults(new) if fault not in before]
        placed = [place_fault(new, overlays, fault) for fault in found]
    if same_herd and old.settings.locks == new.settings.locks:
        return placed
    lines = _Lines(laid.places)
    file = _file(old, "season")
    known = {(fault.where.column, fault.found) for fault in _lock_faults(old, Place(file, {}))}
    for fault in _lock_faults(new, Place(file, lines.lines)):
        if (fault.where.column, fault.found) not in known:
            placed.append(lines.placed(fault))
    return placed


def _herd_faults(records: SeasonRecords) -> Iterator[Fault]:
    herd = herd_of(records.animals, _file(records, "animals"))
    season = records.settings.season
    yield from check_herd(herd, season)
    yield from check_weights(records.weighings, _file(records, "weights"), herd, season)
    yield from check_clutches(records.clutches, _file(records, "clutches"), herd, season)


def _lock_faults(records: SeasonRecords, place: Place) -> list[Fault]:
    herd = herd_of(records.animals, _file(records, "animals"))
    return check_locks(records.settings.locks, herd, place)


def _file(records: SeasonRecords, table: str) -> str:
    return records.files.get(table, f"{table}.{'yaml' if table == 'season' else 'csv'}")


def place_fault(records: SeasonRecords, overlays: tuple[Overlay, ...], fault: Fault) -> Fault:
    """Return a fault of the animals table at the line of the overlay that brought it, if one did.

    ``records`` are those under the overlays: a row that an overlay changed or added is its own.
    """
    if fault.where.file != _file(records, "animals") or fault.where.row is None:
        return fault
    id = next((a.id for a in records.animals if a.row == fault.where.row), None)
    where = None if id is None else animal_place(overlays, id, fault.where.column)
    return fault if where is None else replace(fault, where=where)


def _idle(
    records: SeasonRecords,
    overlays: tuple[Overlay, ...],
    changes: Sequence[Change],
    faults: Sequence[Fault],
) -> Iterator[Fault]:
    """Yield a fault for each thing set that was so before; one already told is not told twice."""
    paths = [change.path for change in changes]
    told = [(fault.where.file, fault.where.column) for fault in faults if fault.where.column]
    for overlay in overlays:
        for leaf in overlay.leaves:
            where = overlay.where(leaf.written)
            if (
                _is_told(where, told)
                or leaf.path[-1] in MONEY_KEYS
                or any(_overlap(leaf.path, path) for path in paths)
            ):
                continue
            file = _file(records, "animals" if leaf.path[0] == "animals" else "season")
            yield Fault(
                where=where,
                found=_told(leaf),
                expected=f"something other than what {file} and its defaults say already",
                repair="It touches nothing: remove it.",
            )


def _is_told(where: Where, told: Sequence[tuple[str, str | None]]) -> bool:
    """Say whether a fault was told of this key or of a group it stands in."""
    key = where.column or ""
    return any(
        where.file == file and (key == column or key.startswith(f"{column}."))
        for file, column in told
    )


def _overlap(one: Path, two: Path) -> bool:
    shorter = min(len(one), len(two))
    return one[:shorter] == two[:shorter]


def _author(overlays: tuple[Overlay, ...], change: Change) -> str:
    return next(
        (
            overlay.name
            for overlay in overlays
            if any(_overlap(leaf.path, change.path) for leaf in overlay.leaves)
        ),
        "",
    )
