"""The events table: what happened in the season, one row an event."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol, TypeVar

from brumal.records.animal_table import Herd
from brumal.records.animals import ABOUT, Event, EventKind, Result, Sex
from brumal.records.cells import RowReader, quote
from brumal.records.clutch_table import parse_young
from brumal.records.cycles import MEETINGS, OF_FEMALES
from brumal.records.faults import Fault, Severity, Where, did_you_mean, nearest
from brumal.records.tables import Row, Table, TableShape

EVENTS = TableShape(
    stem="events",
    columns=(
        "date",
        "animal",
        "event",
        "with",
        "count",
        "slugs",
        "mm",
        "morphs",
        "result",
        "about",
        "id",
        "note",
    ),
    required=("date", "animal", "event"),
)

MOST_MM = 60.0
"""Common practice, no source: a follicle before ovulation measures 40 mm and more."""

_K = EventKind
USED_WITH: Mapping[str, tuple[EventKind, ...]] = {
    "with": MEETINGS,
    "count": (_K.FOLLICLES, _K.LAID, _K.CANDLED, _K.HATCHED),
    "slugs": (_K.LAID,),
    "mm": (_K.FOLLICLES,),
    "morphs": (_K.HATCHED,),
    "result": (_K.TESTED,),
    "about": (_K.ILL, _K.CLEARED, _K.TESTED),
}
"""The events that each of these columns says something of."""

EVENT_WORDS = {kind.value: kind.value for kind in EventKind}
RESULT_WORDS = {result.value: result.value for result in Result}
ABOUT_WORDS = "illness, laying, wasting or a genotype"


def read_events(table: Table) -> tuple[tuple[Event, ...], list[Fault]]:
    """Turn the rows of the events table into records, in the order of the table."""
    faults: list[Fault] = []
    found = [_event(RowReader(table, row, faults), row) for row in table.rows]
    return tuple(event for event in found if event is not None), faults


def _event(reader: RowReader, row: Row) -> Event | None:
    reader.required("date", "the day of the event")
    on = reader.day("date")
    animal = reader.required("animal", "the id of the animal")
    reader.required("event", f"one of {', '.join(EVENT_WORDS)}")
    word = reader.word("event", EVENT_WORDS, f"one of {', '.join(EVENT_WORDS)}")
    result = reader.word("result", RESULT_WORDS, "negative, positive or unclear")
    counts = reader.whole("count"), reader.whole("slugs"), reader.number("mm", 0, MOST_MM)
    if on is None or not animal or not word:
        return None
    event = Event(
        kind=EventKind(word),
        date=on,
        animal=animal,
        mate=reader.known("with") or None,
        count=counts[0],
        slugs=counts[1],
        mm=counts[2],
        young=parse_young(reader.known("morphs")),
        result=Result(result) if result else None,
        about=_about(reader.known("about")),
        id=reader.known("id"),
        note=reader.text("note"),
        row=row.number,
    )
    _check_row(reader, event)
    return event


def _about(text: str) -> str:
    return text.casefold() if text.casefold() in ABOUT else text


def _check_row(reader: RowReader, event: Event) -> None:
    """Check what one row alone can tell."""
    for column, kinds in USED_WITH.items():
        if reader.known(column) and event.kind not in kinds:
            reader.fault(
                column,
                f"nothing beside {event.kind}",
                f"This column goes with {', '.join(kinds)}.",
                severity=Severity.WARNING,
            )
    if event.kind in MEETINGS and event.mate is None:
        reader.required("with", "the id of the male")
    if event.mate == event.animal:
        reader.fault("with", "another animal")
    if event.slugs is not None and event.count is not None and event.slugs > event.count:
        reader.fault("slugs", f"at most the {event.count} eggs laid, slugs being among them")
    told = sum(count for count, _, _ in event.young)
    if event.count is not None and told > event.count:
        reader.fault("morphs", f"at most the {event.count} that hatched, not {told}")
    if event.kind is EventKind.WITHDRAWN and not event.id:
        reader.required("id", "the id of the entry that is taken back")
    _check_about(reader, event)


def _check_about(reader: RowReader, event: Event) -> None:
    """Ask of a clearance and a test what they are about: else they could be taken for any."""
    if event.kind in (EventKind.CLEARED, EventKind.TESTED) and not event.about:
        reader.required("about", ABOUT_WORDS)
        return
    close = nearest(event.about, ABOUT, count=1, cutoff=0.7) if event.about else ()
    if close and event.about not in ABOUT:
        reader.fault("about", ABOUT_WORDS, f"Did you mean {quote(close[0])}?")


class HasRow(Protocol):
    """A record that stands in a row of a table."""

    @property
    def row(self) -> int: ...  # noqa: D102


Dated = TypeVar("Dated", bound=HasRow)


@dataclass(frozen=True, slots=True)
class Seen:
    """From when a season is seen: ``as_of``, and the real day."""

    as_of: date
    today: date

    def rows(
        self, rows: Sequence[Dated], day_of: Callable[[Dated], date | None], file: str
    ) -> tuple[tuple[Dated, ...], list[Fault]]:
        """Return the rows without those of days that came after ``as_of``, told in one notice."""
        days = [(row, day_of(row)) for row in rows]
        aside = [row for row, day in days if day is not None and self.as_of < day <= self.today]
        faults = [_set_aside(aside, file, self)] if aside else []
        return tuple(row for row in rows if row not in aside), faults


def standing_events(
    events: Sequence[Event], file: str, herd: Herd, seen: Seen
) -> tuple[tuple[Event, ...], list[Fault]]:
    """Return the events that stand on the day the season is seen from, and every fault.

    Rows after ``as_of`` that are no later than the real day are set aside with one notice; later
    ones are faults. An entry taken back is gone, and so is the row that took it back.
    """
    faults = [*_names(events, file, herd), *_doubled_ids(events, file)]
    there = [event for event in events if event.date <= seen.as_of]
    aside = [event for event in events if seen.as_of < event.date <= seen.today]
    for event in events:
        animal = herd.by_id.get(event.animal)
        where = Where(file=file, row=event.row, column="date")
        if event.date > max(seen.as_of, seen.today):
            expected = f"a day not after {max(seen.as_of, seen.today)}"
            repair = "What has not happened yet is no event. Is it the right year?"
        elif animal is not None and animal.hatched and event.date < animal.hatched:
            expected = f"a date after {animal.label} hatched ({animal.hatched})"
            repair = "Is it the right year?"
        else:
            continue
        faults.append(
            Fault(where=where, found=quote(str(event.date)), expected=expected, repair=repair)
        )
    if aside:
        faults.append(_set_aside(aside, file, seen))
    standing, more = _without_withdrawn(there, file)
    return standing, [*faults, *more, *_after_the_end(standing, file)]


def _set_aside(aside: Sequence[HasRow], file: str, seen: Seen) -> Fault:
    rows = ", ".join(str(event.row) for event in aside)
    return Fault(
        where=Where(file=file),
        found=f"rows after {seen.as_of}, the day the season is seen from (rows {rows})",
        expected="rows up to that day",
        repair="They are set aside; --on or season.as_of moves the day.",
        severity=Severity.NOTICE,
    )


def _names(events: Sequence[Event], file: str, herd: Herd) -> Iterator[Fault]:
    for event in events:
        yield from _name(event.animal, "animal", event, file, herd, _wrong_sex(event))
        if event.mate is not None and event.mate != event.animal:
            yield from _name(event.mate, "with", event, file, herd, Sex.FEMALE)


def _wrong_sex(event: Event) -> Sex | None:
    return Sex.MALE if event.kind in OF_FEMALES else None


def _name(
    name: str, column: str, event: Event, file: str, herd: Herd, wrong: Sex | None
) -> Iterator[Fault]:
    where = Where(file=file, row=event.row, column=column)
    animal = herd.by_id.get(name)
    if animal is None:
        close = herd.known.nearest(name)
        hint = f"Did you mean {quote(close)}?" if close else did_you_mean(name, herd.known.ids)
        yield Fault(
            where=where, found=quote(name), expected="an id of the animals table", repair=hint
        )
    elif wrong is not None and animal.sex is wrong:
        swapped = event.kind in MEETINGS
        yield Fault(
            where=where,
            found=f"{quote(name)}, a {wrong}",
            expected="a female" if wrong is Sex.MALE else "a male",
            repair="The female stands under animal, the male under with." if swapped else "",
        )


def _doubled_ids(events: Sequence[Event], file: str) -> Iterator[Fault]:
    first: dict[str, Event] = {}
    for event in events:
        if not event.id or event.kind is EventKind.WITHDRAWN:
            continue
        earlier = first.setdefault(event.id, event)
        if earlier is not event:
            yield Fault(
                where=Where(file=file, row=event.row, column="id"),
                found=f"{quote(event.id)} again (first in row {earlier.row})",
                expected="each id once, or the event withdrawn to take that entry back",
            )


def _without_withdrawn(events: Sequence[Event], file: str) -> tuple[tuple[Event, ...], list[Fault]]:
    entries = {event.id: event for event in events if event.kind is not EventKind.WITHDRAWN}
    gone: set[int] = set()
    faults = []
    for event in events:
        if event.kind is not EventKind.WITHDRAWN or not event.id:
            continue
        entry = entries.get(event.id)
        if entry is None or entry.animal != event.animal:
            faults.append(
                Fault(
                    where=Where(file=file, row=event.row, column="id"),
                    found=quote(event.id),
                    expected=f"the id of an entry on {event.animal} that stands in this table",
                    repair=did_you_mean(event.id, [name for name in entries if name]),
                )
            )
        else:
            gone.add(entry.row)
    kept = [
        event for event in events if event.kind is not EventKind.WITHDRAWN and event.row not in gone
    ]
    return tuple(sorted(kept, key=lambda event: (event.date, event.row))), faults


def _after_the_end(events: Sequence[Event], file: str) -> Iterator[Fault]:
    """Yield what is written of an animal after it died, or was sold and had not come back."""
    ended: dict[str, Event] = {}
    for event in events:
        last = ended.get(event.animal)
        if event.kind is EventKind.ARRIVED and last is not None and last.kind is EventKind.SOLD:
            del ended[event.animal]
            continue
        for name in filter(None, (event.animal, event.mate)):
            end = ended.get(name)
            if end is not None and event.date > end.date:
                yield Fault(
                    where=Where(file=file, row=event.row, column="date"),
                    found=f"{event.kind} of {quote(name)} on {event.date}",
                    expected=f"a day not after it {_ended(end)} (row {end.row})",
                )
        if event.kind in (EventKind.SOLD, EventKind.DIED):
            ended[event.animal] = event


def _ended(end: Event) -> str:
    return f"died on {end.date}" if end.kind is EventKind.DIED else f"was sold on {end.date}"


def of_kind(events: Sequence[Event], *kinds: EventKind) -> Callable[[str], tuple[Event, ...]]:
    """Return a look-up of the events of some kinds by animal, the earliest first."""
    by_animal: dict[str, list[Event]] = {}
    for event in events:
        if event.kind in kinds:
            by_animal.setdefault(event.animal, []).append(event)
    return lambda animal: tuple(by_animal.get(animal, ()))
