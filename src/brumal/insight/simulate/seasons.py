"""Simulated seasons: the plan carried out many times, with luck as the forecasts state it.

In each season uncertain parents are drawn once for all their clutches; then for each pair whether
she goes, her eggs, the fertile and the hatched share of that clutch (beta) and how many come
through (binomial), and the genotype of every hatchling, which sells under its best entry. Needs,
holdbacks and markets are settled on the young that came. The law is the one whose expectation the
plan states, so the mean of many seasons is the plan's value, but for two things: soft rules take
no money, and uncertain kin are drawn together even where the search had to take them apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.distributions import p10_p50_p90
from brumal.insight.simulate.season_room import RoomLuck, room_luck
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.mixed import with_parts
from brumal.planner.risk.clutch_draws import ClutchDraws
from brumal.planner.risk.pair_draws import draw_pair
from brumal.planner.risk.parent_draws import Floats, ParentDraws, Places, draw_parents
from brumal.planner.risk.young_draws import Hatchlings, takings, whole_prices
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import expected_value
from brumal.planner.wishes.surplus import all_terms
from brumal.planner.wishes.terms import counted_terms

SEASONS = 10_000
SEED = 1
MOST_LOOKS = 12
BINS = 30
WORST = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantiles:
    """What one season in ten stays at or under, half of them do, and nine in ten."""

    p10: float
    p50: float
    p90: float

    @property
    def half_width(self) -> float:
        """Return how far eight of ten seasons come out either way."""
        return (self.p90 - self.p10) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Band(Quantiles):
    """A spread, and the mean of all seasons."""

    mean: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetLuck:
    """One wanted entry: young sold under it, chance of one that fits it, chance of all needed."""

    morph: str
    sold: Band
    chance: float
    asked: float | None
    need: int | None
    filled: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LookLuck:
    """One look: how many hatch, and the chance of one or more."""

    look: str
    young: Band
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulation:
    """Many seasons of one plan.

    ``money`` is what a season brings after costs, holdbacks at their worth to the keeper;
    ``error`` the standard error of its mean, ``expected`` the plan's own expectation, ``worst`` the
    mean of the worst tenth and ``loss`` the share of seasons under zero. ``edges`` and ``counts``
    are a histogram of it. ``looks`` are the most frequent ones, of ``looks_met`` in all.
    """

    seasons: int
    seed: int
    money: Band
    error: float
    expected: float
    worst: float
    loss: float
    edges: tuple[float, ...]
    counts: tuple[int, ...]
    eggs: Band
    young: Band
    targets: tuple[TargetLuck, ...]
    looks: tuple[LookLuck, ...]
    looks_met: int
    room: RoomLuck

    def histogram(self, rows: int) -> list[tuple[float, int]]:
        """Return the histogram in so many rows: where each begins, and its seasons."""
        each = max(1, -(-len(self.counts) // rows))
        starts = range(0, len(self.counts), each)
        return [(self.edges[at], sum(self.counts[at : at + each])) for at in starts]


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """All draws of a plan, by pair in the order of the plan."""

    clutches: tuple[ClutchDraws, ...]
    young: tuple[Hatchlings, ...]


def simulate(season: SolvedSeason, seasons: int = SEASONS, seed: int = SEED) -> Simulation:
    """Carry out the plan of a solved season so many times; the same seed gives the same seasons."""
    draws = draw_seasons(season, seasons, seed)
    money = money_of(season, draws, seasons)
    eggs = _sum([clutch.eggs for clutch in draws.clutches], seasons)
    young = _sum([clutch.hatched for clutch in draws.clutches], seasons)
    counts, edges = np.histogram(money, BINS)
    tenth = max(1, round(WORST * seasons))
    looks, met = _looks(draws, seasons)
    return Simulation(
        seasons=seasons,
        seed=seed,
        money=_band(money),
        error=float(money.std(ddof=1)) / math.sqrt(seasons) if seasons > 1 else math.inf,
        expected=_expected(season) + sum(pair.penalty for pair in season.pairs),
        worst=float(np.partition(money, tenth - 1)[:tenth].mean()),
        loss=float((money < 0).mean()),
        edges=tuple(edges.tolist()),
        counts=tuple(counts.tolist()),
        eggs=_band(eggs),
        young=_band(young),
        targets=_targets(season.prepared, draws, seasons),
        looks=looks,
        looks_met=met,
        room=room_luck(
            season,
            [clutch.eggs for clutch in draws.clutches],
            [clutch.hatched for clutch in draws.clutches],
            seed,
        ),
    )


def _expected(season: SolvedSeason) -> float:
    # What the season adds to later ones is no money of this one, nor what pairs given up count.
    made = replace(season.as_visited, routes=(), agreed=frozenset())
    return expected_value(made, all_terms(made), range(len(made.candidates)))


def draw_seasons(season: SolvedSeason, seasons: int, seed: int) -> Draws:
    """Draw every clutch and hatchling of a plan."""
    prepared = season.prepared
    pairs = [pair.pair for pair in season.pairs]
    prices = whole_prices(prepared)
    parents = draw_parents_of(prepared, pairs, seed, seasons)
    found = [
        draw_pair(prepared, prices, parents, season.laid_out.clutches[pair], seed) for pair in pairs
    ]
    return Draws(tuple(clutch for clutch, _ in found), tuple(young for _, young in found))


def draw_parents_of(
    prepared: Prepared, pairs: Sequence[Pair], seed: int, seasons: int
) -> ParentDraws:
    """Draw what the parents of these pairs are at every linkage group that matters to them."""
    every = with_parts(prepared, pairs)
    groups = sorted({odds.group for pair in every for odds in prepared.cross(*pair).groups})
    return draw_parents(prepared, every, groups, seed, seasons)


def money_of(season: SolvedSeason, draws: Draws, seasons: int) -> Floats:
    """Return what each season brings, shape (seasons,)."""
    prepared, problem = season.prepared, season.problem
    terms = counted_terms(prepared.values)
    idle = problem.income - problem.use_cost(season.solution.chosen or ())
    money, counts = np.full(seasons, idle, dtype=float), np.zeros((len(terms), seasons), dtype=int)
    for clutch, young in zip(draws.clutches, draws.young, strict=True):
        brought = takings(prepared.costs, terms, clutch, young)
        money += brought.money
        for number, count in brought.counts.items():
            counts[number] += count
    for counted, count in zip(terms, counts, strict=True):
        surplus = np.maximum(count - counted.term.threshold, 0)
        money += counted.full_extra * count - counted.term.cost * surplus
    return money


def _targets(prepared: Prepared, draws: Draws, seasons: int) -> tuple[TargetLuck, ...]:
    targets = []
    for entry, wanted in enumerate(prepared.records.settings.values.wanted, start=1):
        sold = _sum_of(draws, [each.entry == entry for each in draws.young], seasons)
        targets.append(
            TargetLuck(
                morph=wanted.morph,
                sold=_band(sold),
                chance=_chance_of_one(draws, [each.fits[entry] for each in draws.young], seasons),
                asked=wanted.chance,
                need=wanted.need,
                filled=None if wanted.need is None else float((sold >= wanted.need).mean()),
            )
        )
    return tuple(targets)


def _looks(draws: Draws, seasons: int) -> tuple[tuple[LookLuck, ...], int]:
    """Return the most frequent looks, and how many looks hatched at all."""
    names: dict[str, int] = {}
    looks = [
        np.array([names.setdefault(look, len(names)) for look in young.look], dtype=np.intp)
        for young in draws.young
    ]
    totals = np.zeros(len(names), dtype=np.intp)
    for young, own in zip(draws.young, looks, strict=True):
        np.add.at(totals, own, np.bincount(young.kind, minlength=own.size))
    most = sorted(names, key=lambda look: (-totals[names[look]], look))[:MOST_LOOKS]
    found = []
    for look in most:
        count = _sum_of(draws, [own == names[look] for own in looks], seasons)
        chance = float((count > 0).mean())
        found.append(LookLuck(look=look, young=_band(count), chance=chance))
    return tuple(found), len(names)


def _chance_of_one(draws: Draws, kinds: Sequence[NDArray[np.bool_]], seasons: int) -> float:
    """Return the share of seasons in which one or more young of the marked kinds hatch."""
    met = np.zeros(seasons, dtype=bool)
    for young, marked in zip(draws.young, kinds, strict=True):
        if marked.any() and not met.all():
            met[young.season.compress(marked.take(young.kind))] = True
    return float(met.mean())


def _sum_of(draws: Draws, kinds: Sequence[NDArray[np.bool_]], seasons: int) -> Places:
    """Return how many young of the marked kinds of each pair hatch in each season."""
    found = zip(draws.young, kinds, strict=True)
    return _sum([young.count(marked, seasons) for young, marked in found if marked.any()], seasons)


def _sum(counts: Sequence[Places], seasons: int) -> Places:
    return sum(counts, start=np.zeros(seasons, dtype=np.intp))


def _band(values: NDArray[np.float64] | Places) -> Band:
    """Return the band of one figure: the least that so many seasons stay at or under."""
    low, middle, high = p10_p50_p90(values)
    return Band(p10=low, p50=middle, p90=high, mean=float(values.mean()))
