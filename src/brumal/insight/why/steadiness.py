"""How steady the plan is: prices, clutches and hatching drawn anew, and the season planned again.

What is drawn is what the keeper does not know yet: the price of each wanted entry and of each
extra, the eggs of each female, and the share that hatches this season, as far as they are not on
record yet. All lie evenly between the ends the keeper states, as shares of what the plan takes them
for; ``ranges`` in ``season.yaml``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.dam import BOX_SHARE
from brumal.forecast.distributions import mean_count, percentile
from brumal.forecast.given import clutch_given
from brumal.forecast.sale import times
from brumal.insight.why.counterfactuals import Questions, solve_changed
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.pricing import pricing_of
from brumal.planner.problem import Problem
from brumal.planner.risk.parent_draws import Floats, stream
from brumal.planner.season import SolvedSeason
from brumal.records.settings import BySex, Ranges, Values

REPLANS = 50
MOST_HATCHED = 0.999

Told = Callable[[int, int], None]
"""Called after each plan with (plans so far, plans in all)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """How often each pair and each sit-out of the plan stays when the figures move.

    ``plans`` seasons were planned again, ``same`` of them to the very same pairs. ``pairs`` and
    ``resting`` hold the share in which each of the plan's stays, ``paired`` the share in which each
    of its females is paired with anyone; ``others`` are pairs that came up instead, the most
    frequent first. Females that a rule or a lock bars rest in all of them and are left out.
    """

    plans: int
    same: int
    ranges: Ranges
    pairs: dict[Pair, float]
    paired: dict[str, float]
    resting: dict[str, float]
    others: tuple[tuple[Pair, float], ...]


def steadiness(
    questions: Questions, plans: int = REPLANS, seed: int = 1, told: Told | None = None
) -> Steady:
    """Draw the figures anew so many times, plan each season, and count what stays."""
    season = questions.season
    ranges = season.prepared.records.settings.ranges
    pairs: Counter[Pair] = Counter()
    dams: Counter[str] = Counter()
    solved = same = 0
    chosen = {pair.pair for pair in season.pairs}
    for number in range(plans):
        problem = redrawn(season, ranges, stream(seed, "plan", str(number)))
        solution = solve_changed(season, problem)
        if solution.chosen is not None:
            found = {problem.columns.pairs[at] for at in solution.chosen}
            solved += 1
            same += found == chosen
            pairs.update(found)
            dams.update(dam for dam, _ in found)
        if told:
            told(number + 1, plans)
    able = set(season.problem.columns.dams)
    count = max(solved, 1)
    others = sorted((-times, pair) for pair, times in pairs.items() if pair not in chosen)
    return Steady(
        plans=solved,
        same=same,
        ranges=ranges,
        pairs={pair: pairs[pair] / count for pair in sorted(chosen)},
        paired={dam: dams[dam] / count for dam in sorted(season.mates)},
        resting={dam: 1 - dams[dam] / count for dam in sorted(able - season.mates.keys())},
        others=tuple((pair, -times / count) for times, pair in others),
    )


def redrawn(season: SolvedSeason, ranges: Ranges, rng: np.random.Generator) -> Problem:
    """Return the season with prices, eggs and hatching drawn anew; the same pairs stay open."""
    prepared, found = season.prepared, season.found
    settings = prepared.records.settings
    values = _priced(settings.values, ranges.price, rng)
    dams = sorted({each.dam for each in season.problem.candidates})
    eggs = dict(zip(dams, _factors(ranges.eggs, len(dams), rng).tolist(), strict=True))
    hatched = float(_factors(ranges.hatched, 1, rng)[0])
    clutches = [
        _clutch(prepared, found.clutches[each.pair], eggs[each.dam], hatched, ranges.eggs)
        for each in season.problem.candidates
    ]
    records = replace(prepared.records, settings=replace(settings, values=values))
    pricing = pricing_of(replace(prepared, records=records))
    penalties = {name: sum(each.penalty for each in told) for name, told in found.verdicts.items()}
    return replace(
        season.problem,
        candidates=pricing.candidates(clutches, penalties),
        family_states=pricing.following.weights,
        wish_terms=tuple(counted.term for counted in pricing.terms),
        chances=tuple(counted.wish for counted in pricing.chances),
    )


def _factors(reach: float, count: int, rng: np.random.Generator) -> Floats:
    return rng.uniform(1 - reach, 1 + reach, count)


def _priced(values: Values, reach: float, rng: np.random.Generator) -> Values:
    """Return the prices, each moved by a factor of its own (``value_after`` with its entry)."""
    base, *wanted = _factors(reach, 1 + len(values.wanted), rng).tolist()
    extra = values.extra
    visual = _factors(reach, len(extra.visual), rng).tolist()
    het = _factors(reach, len(extra.het), rng).tolist()
    sold = _factors(reach, len(values.combinations), rng).tolist()
    return replace(
        values,
        base=times(values.base, base),
        wanted=tuple(
            replace(
                entry,
                value=times(entry.value, factor),
                value_after=None if entry.value_after is None else times(entry.value_after, factor),
            )
            for entry, factor in zip(values.wanted, wanted, strict=True)
        ),
        combinations=_each_times(values.combinations, sold),
        extra=replace(
            extra,
            visual=_each_times(extra.visual, visual),
            het=_each_times(extra.het, het),
        ),
    )


def _each_times(
    prices: Mapping[str, float | BySex], factors: Sequence[float]
) -> dict[str, float | BySex]:
    """Return prices by name, each times a factor of its own."""
    return {
        name: times(price, factor)
        for (name, price), factor in zip(prices.items(), factors, strict=True)
    }


def _clutch(
    prepared: Prepared, clutch: ClutchForecast, eggs: float, hatched: float, reach: float
) -> ClutchForecast:
    """Return a clutch with its eggs and its hatched share moved by factors, but for facts."""
    most = math.ceil((clutch.eggs_pmf.size - 1) * (1 + reach))
    chances = stretched(clutch.eggs_pmf, eggs, most)
    stated = prepared.forecasts.dams[clutch.dam].eggs_stated
    mean = mean_count(chances)
    moved = replace(
        clutch,
        eggs=mean,
        eggs_pmf=chances,
        eggs_p90=mean if stated else float(percentile(chances, BOX_SHARE)),
        hatched=min(clutch.hatched * hatched, MOST_HATCHED),
    )
    her = prepared.records.state.females.get(clutch.dam)
    return clutch_given(moved, her.clutch if her else None)


def stretched(chances: Floats, factor: float, most: int) -> Floats:
    """Return the law of a count times a factor, shared between the whole numbers next to it.

    The mean is multiplied by the factor exactly; ``most`` must be no less than the largest count
    times the factor.
    """
    places = np.arange(chances.size) * factor
    low = np.floor(places).astype(np.intp)
    found = np.zeros(most + 2)
    np.add.at(found, low, chances * (1 - (places - low)))
    np.add.at(found, low + 1, chances * (places - low))
    return found[: most + 1]
