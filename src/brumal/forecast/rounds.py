"""The males' rounds: who visits whom from which day to which, feasible by construction.

Day by day, each free male goes to the female of his that has had the fewest visits, then to the
one in most need, if she has rested since her last visit and the visit ends inside the window.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from brumal.records.settings import SeasonDates, Visits


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPair:
    """A pair that needs visits; of two females alike otherwise the one with more ``need`` is first.

    ``need`` may be anything that can be compared, such as the value of the pair. No visit begins
    before ``start`` (``None``: the first day of pairing).
    """

    dam: str
    sire: str
    need: float = 0.0
    start: date | None = None


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

    def first_visit(self, dam: str, sire: str) -> date | None:
        """Return the day the pair first meets, or ``None``."""
        starts = [v.start for v in self.visits if v.female == dam and v.male == sire]
        return min(starts, default=None)


def rounds_for(pairs: Sequence[RoundPair], season: SeasonDates, visits: Visits) -> Calendar:
    """Lay out the visits of all pairs inside the pairing window.

    A male is with one female at a time and rests ``visits.male_rest_days`` whole days between
    visits; a female meets one male at a time and rests ``visits.female_rest_days``. Each pair gets
    at most ``visits.wanted`` visits. Pairs with fewer than ``visits.least`` come back as short;
    with one male a female and at most :func:`visits_capacity` females a male there are none.
    """
    by_male: dict[str, list[RoundPair]] = {}
    for pair in sorted(set(pairs), key=lambda each: (-each.need, each.dam, each.sire)):
        by_male.setdefault(pair.sire, []).append(pair)
    made: list[Visit] = []
    counts = {(pair.dam, pair.sire): 0 for pair in pairs}
    free: dict[tuple[str, str], date] = {}
    stay = stay_days(season, visits)
    for day in _start_days(season, stay):
        for male in sorted(by_male):
            dam = _next(by_male[male], day, visits, counts, free)
            if dam is None:
                continue
            end = day + timedelta(days=stay - 1)
            counts[dam, male] += 1
            number = counts[dam, male]
            made.append(Visit(male=male, female=dam, start=day, end=end, number=number))
            free["male", male] = end + timedelta(days=visits.male_rest_days + 1)
            free["female", dam] = end + timedelta(days=visits.female_rest_days + 1)
    least = min(visits.least, visits.wanted)
    short = tuple(
        ShortOfVisits(dam=dam, sire=sire, visits=count, least=least)
        for (dam, sire), count in sorted(counts.items())
        if count < least
    )
    return Calendar(visits=tuple(made), short=short)


def visits_capacity(season: SeasonDates, visits: Visits) -> int:
    """Return how many females one male can be given so that the calendar always works.

    The largest number for which, as for every smaller one, :func:`rounds_for` gives each female
    her least number of visits. Males do not hinder each other while each female has one sire.
    """
    most = len(_start_days(season, stay_days(season, visits)))
    for females in range(1, most + 1):
        pairs = [RoundPair(dam=f"{at:04d}", sire="male") for at in range(females)]
        if rounds_for(pairs, season, visits).short:
            return females - 1
    return most


def stay_days(season: SeasonDates, visits: Visits) -> int:
    """Return the days a visit lasts: as set, or the whole window where that is shorter."""
    return min(visits.days, _window_days(season))


def _window_days(season: SeasonDates) -> int:
    return (season.pair_to - season.pair_from).days + 1


def _start_days(season: SeasonDates, stay: int) -> list[date]:
    return [season.pair_from + timedelta(days=at) for at in range(_window_days(season) - stay + 1)]


def _next(
    pairs: Sequence[RoundPair],
    day: date,
    visits: Visits,
    counts: dict[tuple[str, str], int],
    free: dict[tuple[str, str], date],
) -> str | None:
    """Return the female who comes first among those free to meet a free male, if any."""
    if free.get(("male", pairs[0].sire), day) > day:
        return None
    open_pairs = [
        pair
        for pair in pairs
        if counts[pair.dam, pair.sire] < visits.wanted
        and free.get(("female", pair.dam), day) <= day
        and (pair.start is None or pair.start <= day)
    ]
    if not open_pairs:
        return None
    return min(open_pairs, key=lambda pair: counts[pair.dam, pair.sire]).dam
