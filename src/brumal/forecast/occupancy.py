"""Boxes and tubs in use, week by week, with how sure that is.

How many boxes a season needs can be bounded before its calendar is known. In a span of days each
clutch is in the incubator at some time with a chance that no calendar raises: she must cycle, lay
by the end of the span, and her eggs not hatch before it begins. The number inside is a sum of
independent yes or no, and it only grows, in the sense of chances, as each of these chances grows. A
week lacks a box only if the span that holds it does; so the chance that any week does is at most
the sum over spans that cover the season. Spans of several lengths are tried: short ones know the
dates better, long ones are fewer.

A clutch that is inside with a share r of the greatest chances takes fewer places (``Places``): it
is as if it were there at all with the chance r, and then with the greatest chances. Let f(k) be the
chance that a week lacks a box, the worst of all mixes of such clutches that take k places. Where
f(k) <= e exp(t (k - B)) for every k, the chance for a plan is at most the mean of e exp(t (k - B))
over who is there. That is a product, and at most e if the sum of log(1 + r (exp(t s) - 1)) / t over
clutches of s places is B or less. For r = 1 each counts s: Chernoff's bound, laid on an exact law.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.dates import ClutchDates, DayChances
from brumal.forecast.distributions import mean_count, percentile
from brumal.records.settings import Box

Floats = NDArray[np.float64]

LOW, HIGH = 0.1, 0.9
_ROUNDING = 1e-12
LEAST_PRESENT = 0.2
"""The fullest span counts as no emptier than this, so that places stay a number."""
SPAN_FLOOR = 0.5
"""No span counts as emptier than this share of the fullest: the season's ends tell no clutch."""
AHEAD = 3
SPANS = (1, 2, 4, 8)
"""Lengths of spans in weeks; the whole season is one more."""

Spans = tuple[tuple[float, ...], ...]
"""For each way to cover the season by spans, the greatest chance of a clutch inside in each."""


_Part = tuple[Floats, Floats]
"""A clutch in spans of days: the chance that it is there in each, and the law of its count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedClutch:
    """One pair of the plan: its clutch and its dates."""

    clutch: ClutchForecast
    dates: ClutchDates


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """How many are in use: the mean, and the counts that 10 % and 90 % of seasons stay within."""

    mean: float
    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekLoad:
    """What is in use at some time in the week from ``monday``.

    Incubator boxes, the eggs in them, slugs included, and hatchling tubs.
    """

    monday: date
    boxes: Load
    tubs: Load
    eggs: Load


@dataclass(frozen=True, slots=True, kw_only=True)
class FullestWeeks:
    """The most that the season can hold of any clutch.

    ``in_box`` are the greatest chances that one is laid and in the incubator, by span; ``in_tub``
    is the greatest share of its young in tubs in a week. Without dates all are there at once.
    ``shares`` has for each clutch the share of these chances that its own come to at most.
    """

    in_box: Spans = ((1.0,),)
    in_tub: float = 1.0
    shares: tuple[float, ...] = ()


def fullest_weeks(clutches: Sequence[tuple[float, ClutchDates]]) -> FullestWeeks:
    """Return the greatest chances over all clutches, each as (chance of being laid, dates)."""
    if not clutches:
        return FullestWeeks()
    mondays = _mondays([dates for _, dates in clutches])
    tables = [(_table(d.laying, mondays), _table(d.hatching, mondays)) for _, d in clutches]
    laid, gone = (np.array(each) for each in zip(*tables, strict=True))
    goes = np.array([chance for chance, _ in clutches])[:, None]
    most, shares = [], np.zeros(len(clutches))
    for weeks in (*SPANS, len(mondays) - 1):
        starts = np.arange(0, len(mondays) - 1, weeks)
        ends = np.minimum(starts + weeks, len(mondays) - 1)
        inside = goes * (laid[:, ends] - gone[:, starts])
        floor = SPAN_FLOOR * max(float(inside.max()), LEAST_PRESENT)
        greatest = np.maximum(inside.max(axis=0), floor)
        shares = np.maximum(shares, (inside / greatest).max(axis=1))
        most.append(tuple(greatest.tolist()))
    out = np.array([_table(dates.leaving, mondays) for _, dates in clutches])
    return FullestWeeks(
        in_box=tuple(most),
        in_tub=float((gone[:, 1:] - out[:, :-1]).max()),
        shares=tuple(shares.tolist()),
    )


def _mondays(dates: Sequence[ClutchDates]) -> list[date]:
    """Return the Mondays from the week of the first laying to the one after all have left."""
    first = min(each.laying.first for each in dates)
    monday = first - timedelta(days=first.weekday())
    weeks = (max(each.leaving.last for each in dates) - monday).days // 7 + 2
    return [monday + timedelta(days=7 * at) for at in range(weeks)]


def _table(days: DayChances, mondays: Sequence[date]) -> Floats:
    """Return the chance that something has happened before each Monday."""
    reached = np.concatenate([[0.0], np.cumsum(days.chances)])
    before = np.array([(monday - days.first).days for monday in mondays])
    found: Floats = reached[np.clip(before, 0, len(days.chances))]
    return found


def places_taken(box_eggs: Floats, small_clutch: float, clutches: int) -> Floats:
    """Return the places that clutches of so many eggs take: 1, or ``clutches`` for a large one.

    With ``c`` small clutches to a box, ``ceil(small / c) + large <= boxes`` is for whole numbers
    ``small + c * large <= c * boxes``.
    """
    return np.where(box_eggs <= small_clutch, 1.0, float(clutches))


@functools.lru_cache(maxsize=256)
def clutch_places(boxes: int, clutches: int, present: Spans, sure: float) -> int:
    """Return how many places, one a small and ``clutches`` a large clutch, so many boxes have.

    In each span each clutch is in the incubator with the chance ``present`` gives it, independently
    of the others. Whatever the mix of small and large ones that fills the places, no span lacks a
    box with a chance of ``sure`` or more. Where all are present and it must be certain, that is
    ``clutches * boxes``.
    """
    if sure >= 1:
        return clutches * boxes
    room = _Room.of(boxes, clutches, present, sure)
    small = 1
    while room.is_enough(small, 0):
        small *= 2
    found, large = math.inf, 0
    while True:
        # The more large clutches, the fewer small ones beside them.
        while small >= 0 and not room.is_enough(small, large):
            small -= 1
        if small < 0:
            return int(found)
        found = min(found, small + clutches * large)
        large += 1


@dataclass(frozen=True, slots=True)
class _Room:
    """Boxes that must not be too few with more than a chance of ``short``."""

    boxes: int
    clutches: int
    present: Spans
    short: float

    @staticmethod
    def of(boxes: int, clutches: int, present: Spans, sure: float) -> _Room:
        """Return the room; in its fullest span each clutch is there with a least chance."""
        raised = tuple(
            tuple(
                LEAST_PRESENT if chance == max(cover) < LEAST_PRESENT else chance
                for chance in cover
            )
            for cover in present
        )
        return _Room(boxes, clutches, raised, 1 - sure + _ROUNDING)

    def is_enough(self, small: int, large: int) -> bool:
        """Say whether the boxes are enough for so many small and large clutches."""
        return self.lacking(small, large) <= self.short

    def lacking(self, small: int, large: int) -> float:
        """Return the chance, by the best cover, that so many clutches lack a box in some span.

        For each span it is the chance that the clutches inside need more boxes than there are.
        """
        few, many = _inside(self.present, small), _inside(self.present, large)
        shared = np.minimum(-(-np.arange(small + 1) // self.clutches), self.boxes + 1)
        # The chance that more than so many large clutches are inside, from none left over up.
        over = np.zeros((len(many), self.boxes + 2))
        over[:, 0] = 1.0
        upto = min(large + 1, self.boxes + 1)
        over[:, 1 : upto + 1] = 1 - np.cumsum(many, axis=1)[:, :upto]
        lacks = (few * over[:, self.boxes + 1 - shared]).sum(axis=1)
        first = np.cumsum([0, *map(len, self.present[:-1])])
        return min(1.0, float(np.add.reduceat(lacks, first).min()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """How places are counted where clutches differ in their chance to be inside.

    ``tilt`` is t of the bound (see above); ``None`` counts every clutch whole.
    """

    tilt: float | None = None

    def taken(self, whole: Floats, shares: Floats) -> Floats:
        """Return the places of clutches that would take ``whole``, by their shares."""
        if self.tilt is None:
            return whole
        found: Floats = np.log1p(shares * np.expm1(self.tilt * whole)) / self.tilt
        return found

    def there(self, boxes: int, clutches: int, present: Spans, sure: float) -> float:
        """Return how many places so many boxes have; more boxes never have fewer."""
        return _places(boxes, clutches, present, sure, self.tilt)


def places_for(boxes: int, clutches: int, present: Spans, sure: float) -> Places:
    """Return the count that fits so many boxes.

    ``tilt`` falls as boxes grow, but for steps of whole places: the greatest of a few smooths them,
    so that clutches that fit into some boxes fit into more.
    """
    if sure >= 1:
        return Places()
    return Places(tilt=max(_tilt(boxes + more, clutches, present, sure) for more in range(AHEAD)))


@functools.lru_cache(maxsize=256)
def _tilt(boxes: int, clutches: int, present: Spans, sure: float) -> float:
    room, tilt = _Room.of(boxes, clutches, present, sure), 0.0
    most = places = clutch_places(boxes, clutches, present, sure)
    # Further on the bound is over 1, and so over any chance.
    while tilt == 0 or tilt * (places - most) < -math.log(room.short):
        places += 1
        tilt = max(tilt, math.log(_worst(room, places) / room.short) / (places - most))
    return tilt


@functools.lru_cache(maxsize=256)
def _places(boxes: int, clutches: int, present: Spans, sure: float, tilt: float | None) -> float:
    """Return the least k + log(e / f(k)) / t over places k."""
    most = clutch_places(boxes, clutches, present, sure)
    if tilt is None or sure >= 1:
        return most
    room, found, places = _Room.of(boxes, clutches, present, sure), math.inf, most + 1
    while places + math.log(room.short) / tilt < found:
        found = min(found, places - math.log(_worst(room, places) / room.short) / tilt)
        places += 1
    places = most
    while places > 0 and (lacking := _worst(room, places)) > 0:
        spare = -math.log(lacking / room.short) / tilt
        found = min(found, places + spare)
        # Fewer places lack no more: the next that could be in the way.
        places = min(places, math.ceil(found - spare)) - 1
    return max(found, 0.0)


@functools.lru_cache(maxsize=1024)
def _worst(room: _Room, places: int) -> float:
    """Return the greatest chance that a mix which takes so many places lacks a box."""
    mixes = range(places // room.clutches + 1)
    return max(room.lacking(places - room.clutches * large, large) for large in mixes)


def enough_boxes(expected: Sequence[ExpectedClutch], box: Box, boxes: int) -> float:
    """Return a chance that no week of a plan lacks a box: the true one is this or more.

    By each clutch's own chances and dates, summed over spans as in ``clutch_places``.
    """
    if not expected:
        return 1.0
    mondays = _mondays([each.dates for each in expected])
    starts: list[date] = []
    ends: list[date] = []
    covers = []
    for weeks in (*SPANS, len(mondays) - 1):
        covers.append(len(starts))
        starts += mondays[:-1:weeks]
        ends += [*mondays[weeks:-1:weeks], mondays[-1]]
    laws = _box_laws(expected, box, starts, ends)
    lacking = [law[boxes + 1 :].sum() for law in laws]
    return max(0.0, 1 - float(np.add.reduceat(lacking, covers).min()))


def _box_laws(
    expected: Sequence[ExpectedClutch], box: Box, starts: Sequence[date], ends: Sequence[date]
) -> list[Floats]:
    """Return the chances of 0, 1, ... boxes in use from one day to before another, by span."""
    sorts: tuple[list[_Part], list[_Part]] = ([], [])
    for each in expected:
        inside = _inside_odds(each, starts, ends)
        sorts[each.clutch.eggs_p90 > box.small_clutch].append((inside, np.array([0.0, 1.0])))
    small, large = (_sums(len(starts), sort) for sort in sorts)
    return [box_counts(*both, box.clutches) for both in zip(small, large, strict=True)]


def _inside_odds(each: ExpectedClutch, starts: Sequence[date], ends: Sequence[date]) -> Floats:
    """Return the chances that a clutch is laid and in the incubator in each span of days."""
    return each.clutch.goes * _held(each.dates.laying, each.dates.hatching, starts, ends)


def _held(
    first: DayChances, last: DayChances, starts: Sequence[date], ends: Sequence[date]
) -> Floats:
    """Return the chances of being there at some time in each span, both days counted."""
    return np.maximum(_table(first, ends) - _table(last, starts), 0.0)


def _sums(spans: int, parts: Iterable[_Part]) -> list[Floats]:
    """Return for each span the chances of 0, 1, ... in all."""
    found = [np.ones(1)] * spans
    for present, counts in parts:
        for at in np.flatnonzero(present).tolist():
            mixed = present[at] * counts
            mixed[0] += 1 - present[at]
            found[at] = np.convolve(found[at], mixed)
    return found


@functools.lru_cache(maxsize=1024)
def _inside(present: Spans, count: int) -> Floats:
    """Return the binomial law of a count for each span, cover after cover: (spans, count + 1)."""
    k = np.arange(count + 1)
    chances = np.array([chance for cover in present for chance in cover])
    inside = np.clip(chances, 1e-300, 1 - 1e-16)[:, None]
    found: Floats = _log_ways(count) + k * np.log(inside) + (count - k) * np.log1p(-inside)
    return np.exp(found)


@functools.lru_cache(maxsize=16)
def _log_ways(count: int) -> Floats:
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, count + 1)))])
    ways: Floats = logs[count] - logs - logs[::-1]
    return ways


def week_loads(expected: Sequence[ExpectedClutch], box: Box) -> tuple[WeekLoad, ...]:
    """Return the load of every week from the first possible laying to the last young leaving.

    Exact under the forecasts: pairs are independent, a clutch holds its place from the day of
    laying to that of hatching, both counted, and its young theirs until they leave. Clutches
    counted at ``box.small_clutch`` eggs or fewer share boxes by ``box.clutches``, others have one
    alone.
    """
    if not expected:
        return ()
    mondays = _mondays([each.dates for each in expected])
    span = mondays[:-1], mondays[1:]
    boxes = _box_laws(expected, box, *span)
    young = [
        (_held(each.dates.hatching, each.dates.leaving, *span), each.clutch.young_pmf)
        for each in expected
    ]
    eggs = [(_inside_odds(each, *span), each.clutch.eggs_pmf) for each in expected]
    laws = zip(span[0], boxes, _sums(len(boxes), young), _sums(len(boxes), eggs), strict=True)
    return tuple(
        WeekLoad(monday=monday, boxes=_load(boxes), tubs=_load(young), eggs=_load(eggs))
        for monday, boxes, young, eggs in laws
    )


def box_counts(small: Floats, large: Floats, clutches: int) -> Floats:
    """Return the chances of 0, 1, ... boxes in use.

    ``small`` and ``large`` are the chances of 0, 1, ... small and large clutches in incubation;
    ``clutches`` small ones share a box.
    """
    shared = np.zeros(-(-(len(small) - 1) // clutches) + 1)
    np.add.at(shared, -(-np.arange(len(small)) // clutches), small)
    boxes: Floats = np.convolve(shared, large)
    return boxes


def _load(chances: Floats) -> Load:
    return Load(
        mean=mean_count(chances),
        low=percentile(chances, LOW),
        high=percentile(chances, HIGH),
    )
