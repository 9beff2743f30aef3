"""What cannot have happened in this order, what is unlikely, and stages not written down."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from brumal.records.animal_table import Herd
from brumal.records.animals import Clutch, Event, EventKind, Status, Weighing
from brumal.records.cells import quote
from brumal.records.cycles import OF_CLUTCHES, Cycle, cycles, laying
from brumal.records.event_table import of_kind
from brumal.records.faults import Fault, Severity, Where

TO_LAYING = (timedelta(days=25), timedelta(days=75))
"""Common practice, no source: about seven weeks lie between an ovulation seen and the laying."""

TO_HATCHING = (timedelta(days=45), timedelta(days=75))
"""Common practice, no source: eggs are in for 55 to 65 days."""

_K = EventKind
MATINGS = (_K.VISIT, _K.LOCK)
_CALLED = {
    _K.OVULATION: "ovulation",
    _K.SHED: "the shed before laying",
    _K.CANDLED: "candling",
    _K.HATCHED: "hatching",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What the order of events is checked against."""

    herd: Herd
    weighings: Sequence[Weighing]
    clutches: Sequence[Clutch]
    file: str


def order_faults(events: Sequence[Event], around: Around) -> list[Fault]:
    """Return faults of impossible orders, and notices of what is unlikely or not written down."""
    seasons = [season for hers in cycles(events).values() for season in hers]
    return [
        *_away(events, around),
        *_two_at_once(events, around.file),
        *(fault for season in seasons for fault in _season_faults(season, around.file)),
        *_not_written(seasons, around),
    ]


def _season_faults(season: Cycle, file: str) -> Iterator[Fault]:
    laid = laying(season)
    if laid is None:
        return
    for event in season:
        yield from _out_of_order(event, laid, file)
    yield from _counts(season, laid, file)
    ovulation = next((each for each in season if each.kind is _K.OVULATION), None)
    hatched = next((each for each in season if each.kind is _K.HATCHED), None)
    if ovulation is not None and ovulation.date <= laid.date:
        yield from _span(ovulation, laid, TO_LAYING, "an ovulation and the laying", file)
    if hatched is not None and hatched.date >= laid.date:
        yield from _span(laid, hatched, TO_HATCHING, "the laying and the hatching", file)


def _out_of_order(event: Event, laid: Event, file: str) -> Iterator[Fault]:
    name = quote(event.animal)
    if event.kind in (_K.OVULATION, _K.SHED) and event.date > laid.date:
        yield _fault(
            event,
            file,
            f"{_CALLED[event.kind]} of {name} on {event.date}",
            f"a day not after she laid on {laid.date} (row {laid.row})",
        )
    elif event.kind in (_K.CANDLED, _K.HATCHED) and event.date < laid.date:
        yield _fault(
            event,
            file,
            f"{_CALLED[event.kind]} of the clutch of {name} on {event.date}",
            f"a day not before she laid on {laid.date} (row {laid.row})",
        )
    elif event.kind in MATINGS and event.date > laid.date:
        yield _unlikely(
            event, file, f"{name} with a male on {event.date}", f"she laid on {laid.date}"
        )
    elif event.kind is _K.LAID and event is not laid:
        yield _unlikely(
            event, file, f"a second clutch of {name} on {event.date}", f"she laid on {laid.date}"
        )


def _counts(season: Cycle, laid: Event, file: str) -> Iterator[Fault]:
    """Tell more good eggs or young than were laid; and more young than eggs still good."""
    good: Event | None = None
    for event in season:
        if event.kind not in (_K.CANDLED, _K.HATCHED) or event.count is None:
            continue
        most = None if laid.count is None else laid.count - (laid.slugs or 0)
        if most is not None and event.count > most:
            slugs = f" less {laid.slugs} slugs" if laid.slugs else ""
            found, expected = quote(str(event.count)), f"at most {most}: {laid.count} eggs laid"
            yield _fault(event, file, found, f"{expected}{slugs} (row {laid.row})", "count")
        elif good is not None and good.count is not None and event.count > good.count:
            found = f"{event.count} eggs or young"
            yield _unlikely(event, file, found, f"{good.count} were still good on {good.date}")
        good = event if event.kind is _K.CANDLED else good


def _span(
    one: Event, two: Event, usual: tuple[timedelta, timedelta], called: str, file: str
) -> Iterator[Fault]:
    days = two.date - one.date
    if not usual[0] <= days <= usual[1]:
        yield _fault(
            two,
            file,
            f"{days.days} days between {called} of {quote(one.animal)}",
            f"{usual[0].days} to {usual[1].days} days",
            severity=Severity.NOTICE,
            repair="Are both days right?",
        )


def _away(events: Sequence[Event], around: Around) -> Iterator[Fault]:
    """Yield matings with an animal that had not come yet, or never was in the collection."""
    here = _first_here(around)
    moves = of_kind(events, _K.ARRIVED, _K.SOLD)
    for event in events:
        if event.kind not in (*MATINGS, _K.REFUSAL):
            continue
        for column, name in (("animal", event.animal), ("with", event.mate)):
            animal = around.herd.by_id.get(name or "")
            if animal is None or name is None:
                continue
            if animal.status is Status.OUTSIDE:
                expected = "an animal of the collection: this one has the status outside"
            else:
                came = _came(moves(name), animal.arrived)
                if came is None or event.date >= came or here.get(name, came) <= event.date:
                    continue
                expected = f"a day not before it came in on {came}"
            yield _fault(
                event,
                around.file,
                f"{event.kind} with {quote(name)} on {event.date}",
                expected,
                column if animal.status is Status.OUTSIDE else "date",
            )


def _came(moves: Sequence[Event], arrived: date | None) -> date | None:
    """Return the first day of an animal here; ``None``: not known, or before it was sold first."""
    if all(each.kind is _K.SOLD for each in moves):
        return arrived
    return None if moves[0].kind is _K.SOLD else moves[0].date


def _first_here(around: Around) -> dict[str, date]:
    """Return the first day on which an animal is known to have been weighed or bred here."""
    found: dict[str, date] = {}
    days = [(each.animal, each.date) for each in around.weighings]
    for clutch in around.clutches:
        parents = filter(None, (clutch.dam, clutch.sire))
        days += [(parent, clutch.laid) for parent in parents if clutch.laid is not None]
    for name, day in days:
        found[name] = min(day, found.get(name, day))
    return found


def _two_at_once(events: Iterable[Event], file: str) -> Iterator[Fault]:
    """Tell a male put to two females on one day."""
    with_whom: dict[tuple[str, date], Event] = {}
    for event in events:
        if event.kind is not _K.VISIT or event.mate is None:
            continue
        first = with_whom.setdefault((event.mate, event.date), event)
        if first.animal != event.animal:
            yield _unlikely(
                event,
                file,
                f"{quote(event.mate)} put to {quote(event.animal)} on {event.date}",
                f"it was put to {quote(first.animal)} on that day (row {first.row})",
            )


def _not_written(seasons: Iterable[Cycle], around: Around) -> Iterator[Fault]:
    """Tell once, for all females, which stages that must have been are not written down."""
    lacking: dict[str, list[str]] = {"any visit": [], "the ovulation": [], "the laying": []}
    written = _written_clutches(around.clutches)
    for season in sorted(seasons, key=lambda season: season[0].animal):
        kinds = {event.kind for event in season}
        laid = laying(season)
        name = season[0].animal
        if laid is None and kinds & set(OF_CLUTCHES):
            day = next(event.date for event in season if event.kind in OF_CLUTCHES)
            if not any(day - TO_HATCHING[1] <= each <= day for each in written.get(name, ())):
                lacking["the laying"].append(name)
        if kinds & set(OF_CLUTCHES) and not kinds & set(MATINGS):
            lacking["any visit"].append(name)
        if kinds & {_K.SHED, *OF_CLUTCHES} and _K.OVULATION not in kinds:
            lacking["the ovulation"].append(name)
    told = "; ".join(f"{stage} of {', '.join(names)}" for stage, names in lacking.items() if names)
    if told:
        yield Fault(
            where=Where(file=around.file),
            found=f"stages not written down: {told}",
            expected="each stage that was seen",
            repair="Nothing is wrong with that; what is written makes the forecast sharper.",
            severity=Severity.NOTICE,
        )


def _written_clutches(clutches: Iterable[Clutch]) -> dict[str, list[date]]:
    found: dict[str, list[date]] = {}
    for clutch in clutches:
        if clutch.laid is not None:
            found.setdefault(clutch.dam, []).append(clutch.laid)
    return found


def _unlikely(event: Event, file: str, found: str, but: str) -> Fault:
    return _fault(
        event,
        file,
        f"{found}, though {but}",
        "what is likely",
        severity=Severity.NOTICE,
        repair="Is it so?",
    )


def _fault(
    event: Event,
    file: str,
    found: str,
    expected: str,
    column: str = "date",
    severity: Severity = Severity.ERROR,
    repair: str = "One of the two is wrong: correct it.",
) -> Fault:
    return Fault(
        where=Where(file=file, row=event.row, column=column),
        found=found,
        expected=expected,
        repair=repair,
        severity=severity,
    )
