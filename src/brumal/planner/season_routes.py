"""What this season's pairs add to the routes of wishes that may wait: the season knows its route.

A wish with ``by`` names the last year in which its first target may hatch. For each way to pair the
route's founders this season the best policy goes on from there in later seasons (``routes.policy``,
its chances exact); what that adds over a season with none of them paired is the gain. A gain is one
of all these pairs together, never a sum over pairs: two pairs that need each other add nothing
alone, two that do the same add little more than one.
"""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from brumal.genetics.wishes import Wish
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import ForLater, PlannedRoute
from brumal.planner.problem import RouteWorth
from brumal.records.animals import Sex
from brumal.records.folder import SeasonRecords
from brumal.records.settings import Box, BySex, Limits, Locks, Risk, Values, Wanted
from brumal.routes.find import likely_policy
from brumal.routes.framing import Start, start_of
from brumal.routes.genes import target_genes
from brumal.routes.missing import harmful_target
from brumal.routes.policy import Policy, first_worth
from brumal.routes.ready import hatch_day
from brumal.routes.route import Route
from brumal.routes.steering import Pair as NumberPair
from brumal.routes.telling import sure_chance, told
from brumal.timings import timed

KEEP = 3
"""The most young held back at once for the route of a wish."""
MOST_WAYS = 256
"""Ways to pair the founders of a route this season; with more, a female's least promising mates
count as any other male does."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonRoute:
    """The route of one wish, as this season's plan needs it.

    ``years`` are those of the route, ``worth`` what goes into the problem. ``fails`` gives for each
    way to pair the founders this season the chance of no target by the end of each year. Without a
    policy nothing leads to the target in time, or ``refused`` names the welfare note it is under.
    """

    wanted: Wanted
    years: tuple[int, ...]
    worth: RouteWorth
    start: Start
    policy: Policy | None = None
    fails: Mapping[frozenset[int], tuple[float, ...]]
    refused: str = ""

    def chances(self, pairs: Collection[Pair]) -> tuple[tuple[int, float], ...]:
        """Return (year, chance of a target by its end) where these pairs are made this season."""
        fails = self.fails.get(self.worth.made(pairs), (1.0,) * len(self.years))
        return tuple(
            (year, sure_chance(1.0 - fail)) for year, fail in zip(self.years, fails, strict=True)
        )

    def told(self, pairs: Collection[Pair]) -> Route | None:
        """Return the route that goes on from these pairs, ``None`` where there is none."""
        if self.policy is None:
            return None
        return told(self.start, self.policy.beginning(*self._first(self.worth.made(pairs))))

    def _first(self, made: frozenset[int]) -> tuple[list[NumberPair], list[int]]:
        assert self.policy is not None
        return _beginning(self.policy, [self.worth.slots[number] for number in sorted(made)])


@timed("routes")
def season_routes(prepared: Prepared) -> tuple[SeasonRoute, ...]:
    """Return the route of each wish that may wait.

    Limits of room and money and the keeper's locks decide which pairs are made, not what they would
    add: seasons that differ in these alone share their routes, and the last ones are kept.
    """
    if all(wanted.by is None for wanted in prepared.records.settings.values.wanted):
        return ()
    rests_on = _rests_on(prepared.records)
    for known, routes in _KNOWN:
        if known == rests_on:
            return routes
    bare = replace(prepared, records=rests_on)
    waiting = [
        (wanted, wish)
        for wanted, wish in zip(prepared.values.wanted, prepared.wishes, strict=True)
        if wanted.by is not None
    ]
    found = tuple(route for wanted, wish in waiting for route in _route(bare, wanted, wish))
    _KNOWN.append((rests_on, found))
    return found


_KNOWN: deque[tuple[SeasonRecords, tuple[SeasonRoute, ...]]] = deque(maxlen=4)


def _rests_on(records: SeasonRecords) -> SeasonRecords:
    """Return what routes are made from; all else is set aside."""
    settings = records.settings
    return replace(
        records,
        settings=replace(
            settings,
            limits=Limits(
                max_F=settings.limits.max_F, pairings_per_male=settings.limits.pairings_per_male
            ),
            box=Box(),
            locks=Locks(
                never_pair=settings.locks.never_pair, already_paired=settings.locks.already_paired
            ),
            values=Values(
                wanted=tuple(each for each in settings.values.wanted if each.by is not None),
                discount=settings.values.discount,
            ),
            risk=Risk(),
        ),
        season_text="",
        what_if={},
        fingerprints={},
    )


def _route(prepared: Prepared, wanted: Wanted, wish: Wish) -> Iterator[SeasonRoute]:
    """Yield the route of a wish, if it has one beyond this season's own young."""
    first = hatch_day(prepared, 1).year
    if wanted.by is None or wanted.by <= first:
        return
    years = tuple(range(first, wanted.by + 1))
    value, sex = worth_of_one(wanted)
    start = start_of(prepared, target_genes(wish, prepared.catalogue, sex))
    discount = prepared.records.settings.values.discount
    refused = harmful_target(prepared, wish)
    policy = None if refused else likely_policy(start, len(years), KEEP, discount)
    slots = _slots(policy, prepared) if policy else []
    fails = dict(_ways(policy, slots)) if policy else {frozenset[int](): (1.0,) * len(years)}
    none = first_worth(fails[frozenset()], discount, 1)
    yield SeasonRoute(
        wanted=wanted,
        years=years,
        worth=RouteWorth(
            morph=wanted.morph,
            value=value,
            slots=tuple(slot for hers in slots for slot in hers),
            gains={way: first_worth(fail, discount, 1) - none for way, fail in fails.items()},
        ),
        start=start,
        policy=policy,
        fails=fails,
        refused=refused,
    )


def planned_route(route: SeasonRoute, pairs: Collection[Pair]) -> PlannedRoute:
    """Return what a plan of these pairs does for the route."""
    whole = route.told(pairs)
    steps = {(s.dam, s.sire): s for s in whole.steps if s.season == 1} if whole else {}
    money = route.worth.money(pairs)
    return PlannedRoute(
        morph=route.wanted.morph,
        by=route.years[-1],
        value=route.worth.value,
        money=money,
        chance=route.chances(pairs),
        without=route.chances(()),
        pairs=tuple(
            ForLater(
                dam=dam,
                sire=sire,
                keep=steps[dam, sire].keep,
                alone=money - route.worth.money([pair for pair in pairs if pair != (dam, sire)]),
            )
            for dam, sire in sorted(pairs)
            if (dam, sire) in steps
        ),
        open=route.policy is not None,
        refused=route.refused,
    )


def worth_of_one(wanted: Wanted) -> tuple[float, Sex | None]:
    """Return what the first target is worth, and its sex where only one is wanted.

    Where both sexes have a price it is their mean.
    """
    if not isinstance(wanted.value, BySex):
        return wanted.value, None
    female, male = wanted.value.female, wanted.value.male
    if female is None or male is None:
        return (female or 0.0, Sex.FEMALE) if male is None else (male, Sex.MALE)
    return (female + male) / 2, None


def revalued(routes: Iterable[RouteWorth], values: Values) -> tuple[RouteWorth, ...]:
    """Return what a season adds to its routes where the same wishes have other prices."""
    worth = {wanted.morph: worth_of_one(wanted)[0] for wanted in values.wanted}
    return tuple(replace(route, value=worth[route.morph]) for route in routes)


def _slots(policy: Policy, prepared: Prepared) -> list[list[frozenset[Pair]]]:
    """Return for each female of the route what she may do this season: a mate of the route each.

    The last is every other male, where a season with any of them tells in a later one (rest).
    """
    founders = policy.frame.founders
    rests = bool(policy.frame.rest or policy.frame.in_a_row)
    males = sorted(each.id for each in prepared.records.collection if each.sex is Sex.MALE)
    ranked = policy.steering.ranked_mates(policy.start)
    hers: list[tuple[list[Pair], list[Pair]]] = []
    for number, founder in enumerate(founders):
        if founder.sex is Sex.FEMALE and founder.ready == 1:
            mates = [(founder.id, founders[sire].id) for sire in ranked.get(number, ())]
            hers.append((mates, [(founder.id, male) for male in males]))
    most = max((len(mates) for mates, _ in hers), default=0)
    while most > 1 and _ways_of(hers, most, rests) > MOST_WAYS:
        most -= 1
    found = []
    for mates, own in hers:
        slots = [frozenset({pair}) for pair in mates[:most]]
        others = frozenset(own).difference(mates[:most])
        found.append([*slots, others] if rests and others else slots)
    return found


def _ways_of(hers: Sequence[tuple[list[Pair], list[Pair]]], most: int, rests: bool) -> int:
    ways = 1
    for mates, _ in hers:
        ways *= 1 + min(len(mates), most) + rests
    return ways


def _ways(
    policy: Policy, slots: Sequence[Sequence[frozenset[Pair]]]
) -> Iterator[tuple[frozenset[int], tuple[float, ...]]]:
    """Yield every way to pair the route's females this season, and the chances of no target."""
    firsts = list(itertools.accumulate((len(hers) for hers in slots), initial=0))
    choices = [
        [None, *range(first, first + len(hers))] for first, hers in zip(firsts, slots, strict=False)
    ]
    every = [slot for hers in slots for slot in hers]
    for chosen in itertools.product(*choices):
        made = [number for number in chosen if number is not None]
        begun = policy.beginning(*_beginning(policy, [every[number] for number in made]))
        yield frozenset(made), begun.best(begun.start).fails


def _beginning(
    policy: Policy, slots: Sequence[frozenset[Pair]]
) -> tuple[list[NumberPair], list[int]]:
    """Return what is done in these slots: pairs of the route, and females paired elsewhere."""
    place = {founder.id: at for at, founder in enumerate(policy.frame.founders)}
    mates = policy.steering.mates(policy.start)
    pairs, elsewhere = [], []
    for slot in slots:
        (dam,) = {dam for dam, _ in slot}
        sires = [place[sire] for _, sire in slot if sire in place]
        if len(slot) == 1 and sires and sires[0] in mates.get(place[dam], ()):
            pairs.append((place[dam], sires[0]))
        else:
            elsewhere.append(place[dam])
    return pairs, elsewhere
