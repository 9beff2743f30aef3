"""The males' rounds: who visits whom from which day to which, feasible by construction.

Day by day, each free male goes to the female of his whose last visit is longest ago (one that had
none comes first, then the one in most need), if she has rested since and the visit ends while she
is still to be visited. So a female still open gets her next visit before another's surplus one.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from brumal.records.setting_types import WEEKDAYS
from brumal.records.settings import SeasonDates, Visits


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPair:
    """A pair that needs visits; of two females alike otherwise the one with more ``need`` is first.

    ``need`` may be anything that can be compared, such as the value of the pair. Visits lie from
    ``start`` to ``until``, both counted (``None``: as long as the pairing window). ``made`` visits
    of the pair have been already, the last of them from the day ``last``.
    """

    dam: str
    sire: str
    need: float = 0.0
    start: date | None = None
    until: date | None = None
    made: int = 0
    last: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One stay of a male with a female, both days counted; ``number`` counts hers from 1."""

    male: str
    female: str
    start: date
    end: date
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortOfVisits:
    """A pair that the calendar cannot give the least number of visits."""

    dam: str
    sire: str
    visits: int
    least: int

    @property
    def text(self) -> str:
        """Return the sentence for the keeper."""
        times = "once" if self.visits == 1 else f"{self.visits} times"
        return (
            f"{self.sire} can visit {self.dam} {times} in the pairing window; "
            f"{self.least} asked for."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """All visits by start, then male; ``short`` holds the pairs that do not fit (empty: all do)."""

    visits: tuple[Visit, ...]
    short: tuple[ShortOfVisits, ...] = ()

    def of(self, dam: str, sire: str) -> tuple[Visit, ...]:
        """Return the visits of a pair in order."""
        return tuple(v for v in self.visits if v.female == dam and v.male == sire)


@dataclass(slots=True)
class _Layout:
    """A calendar in the making: visits so far, the day each animal is free, the last of a pair."""

    made: list[Visit]
    free: dict[tuple[str, str], date]
    last: dict[tuple[str, str], date]
    counts: dict[tuple[str, str], int]


def rounds_for(
    pairs: Sequence[RoundPair],
    season: SeasonDates,
    visits: Visits,
    free: Mapping[tuple[str, str], date] | None = None,
) -> Calendar:
    """Lay out the visits of all pairs inside the pairing window.

    ``free`` says of ("male", id) and ("female", id) from which day on they may meet again.
    A male is with one female at a time and rests ``visits.male_rest_days`` whole days between
    visits; a female meets one male at a time and rests ``visits.female_rest_days``. Visits begin on
    ``visits.weekdays``; each pair gets at most ``visits.wanted``. Pairs with fewer than
    ``visits.least`` come back as short; with one male a female, all to be visited as long as the
    window, and at most :func:`visits_capacity` females a male there are none.
    """
    by_male: dict[str, list[RoundPair]] = {}
    for pair in sorted(set(pairs), key=lambda each: (-each.need, each.dam, each.sire)):
        by_male.setdefault(pair.sire, []).append(pair)
    layout = _Layout(
        made=[],
        free=dict(free or {}),
        last={(pair.dam, pair.sire): pair.last for pair in pairs if pair.last is not None},
        counts={(pair.dam, pair.sire): pair.made for pair in pairs},
    )
    stay = stay_days(season, visits)
    for day in _start_days(season, stay, visits):
        end = day + timedelta(days=stay - 1)
        for male in sorted(by_male):
            dam = _next(by_male[male], (day, end), visits, layout)
            if dam is None:
                continue
            layout.counts[dam, male] += 1
            number = layout.counts[dam, male]
            layout.made.append(Visit(male=male, female=dam, start=day, end=end, number=number))
            layout.last[dam, male] = day
            layout.free["male", male] = end + timedelta(days=visits.male_rest_days + 1)
            layout.free["female", dam] = end + timedelta(days=visits.female_rest_days + 1)
    least = _least(visits)
    short = tuple(
        ShortOfVisits(dam=dam, sire=sire, visits=count, least=least)
        for (dam, sire), count in sorted(layout.counts.items())
        if count < least
    )
    return Calendar(visits=tuple(layout.made), short=short)


@functools.lru_cache(maxsize=256)
def visits_capacity(season: SeasonDates, visits: Visits, start: date | None = None) -> int:
    """Return how many females one male can be given so that he reaches each often enough.

    The largest number for which, as for every smaller one, :func:`rounds_for` gives each female
    ``visits.least`` visits, or as many as there is time for with one female alone, within
    ``visits.serve_days`` of the day he may start. Males do not hinder each other while each female
    has one sire.
    """
    first = max(season.pair_from, start or season.pair_from)
    last = min(season.pair_to, first + timedelta(days=visits.serve_days - 1))
    if last < first:
        return 0
    span = replace(season, pair_from=first, pair_to=last)
    most = len(_start_days(span, stay_days(span, visits), visits))
    alone = len(rounds_for([RoundPair(dam="", sire="male")], span, visits).visits)
    enough = replace(visits, least=max(min(visits.least, alone), 1))
    for females in range(1, most + 1):
        pairs = [RoundPair(dam=f"{at:04d}", sire="male") for at in range(females)]
        if rounds_for(pairs, span, enough).short:
            return females - 1
    return most


def stay_days(season: SeasonDates, visits: Visits) -> int:
    """Return the days a visit lasts: as set, or the whole window where that is shorter."""
    return min(visits.days, _window_days(season))


def _least(visits: Visits) -> int:
    return visits.least if visits.wanted is None else min(visits.least, visits.wanted)


def _window_days(season: SeasonDates) -> int:
    return (season.pair_to - season.pair_from).days + 1


def _start_days(season: SeasonDates, stay: int, visits: Visits) -> list[date]:
    days = [season.pair_from + timedelta(days=at) for at in range(_window_days(season) - stay + 1)]
    return [day for day in days if WEEKDAYS[day.weekday()] in visits.weekdays]


def _next(
    pairs: Sequence[RoundPair], stay: tuple[date, date], visits: Visits, layout: _Layout
) -> str | None:
    """Return the female who comes first among those free to meet a free male, if any."""
    day, end = stay
    male = pairs[0].sire
    if layout.free.get(("male", male), day) > day:
        return None
    open_pairs = [
        pair
        for pair in pairs
        if (visits.wanted is None or layout.counts[pair.dam, male] < visits.wanted)
        and layout.free.get(("female", pair.dam), day) <= day
        and (pair.start is None or pair.start <= day)
        and (pair.until is None or end <= pair.until)
    ]
    if not open_pairs:
        return None
    return min(open_pairs, key=lambda pair: layout.last.get((pair.dam, male), date.min)).dam
