"""Routes to a target: the trade-offs of years, chance and young held, and what is missing.

Founders are chosen by rough chances (``schedules``), alone and joined. Within each set of founders
every policy is looked at where that is little, else one is looked for in steps of growing width
while it stays within ``MOST_STATES``; its chance is exact. What is not looked at: more than
``schedules.MOST_FOUNDERS`` founders together, sets of founders that rough chances put behind the
first, more than two young of each sex held from one season, more than two crosses of young that
were held before a target. ``Route.most`` bounds what a better policy with the same founders could
add.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from brumal.records.animals import Sex
from brumal.routes.frame import Book, Frame
from brumal.routes.framing import Start, frame_of
from brumal.routes.policy import Policy, TooWideError, first_worth
from brumal.routes.route import Route
from brumal.routes.schedules import MOST_FOUNDERS, carriers_and_mates, schedules
from brumal.routes.steering import Width
from brumal.routes.telling import told

WIDTHS = (
    Width(looks=1, mates=1, pairings=1),
    Width(looks=2, mates=2, pairings=2, until=2),
    Width(looks=2, females=2, males=2, mates=2, pairings=2, until=2),
    Width(looks=2, mates=2, pairings=2),
    Width(looks=3, mates=2, pairings=3),
)
"""How far a policy looks, step by step."""
MOST_STATES = 600
"""A wider policy that would look at more states than this is given up for the narrower one."""
FEW_STATES = 150
"""The same where the first season is looked at in every way."""
SETS, JOINED, LOOKED_INTO = 5, 3, 2
"""Sets of founders looked at, joins of the first with others, those looked into more closely."""
USUAL_KEEP = 2
"""Young held at once where sets of founders are compared."""
SMALL_FOUNDERS, SMALL_SEASONS, SMALL_CLUTCH, SMALL_GENES = 4, 3, 2, 2
"""Founders, seasons, young of a clutch and genes up to which every policy is looked at."""
MOST_OF_ALL = 3000
"""States up to which every policy of such a frame is looked at."""
SAME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a keeper asks of routes: the last season, and the most young held at once."""

    seasons: int
    keep: int


def find_routes(start: Start, asked: Asked) -> tuple[Route, ...]:
    """Return the routes that no other beats in chance by each year and young held.

    The likeliest by the last season come first; empty where nothing leads to the target in time.
    """
    found = [told(start, policy) for policy in _policies(start, asked)]
    return _undominated(found, asked.seasons)


def best_policy(frame: Frame, most_states: int = MOST_STATES) -> Policy:
    """Return the best policy of a frame among those that look at no more states than allowed."""
    if _is_small(frame):
        whole = Policy(frame, Width(whole=True), most_states=MOST_OF_ALL)
        with suppress(TooWideError):
            whole.best(whole.start)
            return whole
    chosen = Policy(frame, WIDTHS[0])
    worth = first_worth(chosen.best(chosen.start).fails, frame.discount)
    for width in WIDTHS[1:]:
        wider = Policy(frame, width, most_states=most_states)
        try:
            found = first_worth(wider.best(wider.start).fails, frame.discount)
        except TooWideError:
            if width.until >= frame.seasons:
                break
            continue
        if found > worth + SAME:
            chosen, worth = wider, found
    return chosen


def _is_small(frame: Frame) -> bool:
    """Say whether every policy of a frame can be looked at."""
    members = Book(frame).members
    most = max(
        (
            len(frame.young(dam, sire, season)) - 1
            for dam in members
            for sire in members
            for season in (1, frame.seasons)
            if dam.sex is Sex.FEMALE and sire.sex is Sex.MALE
        ),
        default=0,
    )
    return (
        len(frame.founders) <= SMALL_FOUNDERS
        and frame.seasons <= SMALL_SEASONS
        and most <= SMALL_CLUTCH
        and len(frame.genes.wish.genes) <= SMALL_GENES
    )


def chance_of(policy: Policy) -> float:
    """Return the chance of at least one target by the last season."""
    return 1 - policy.best(policy.start).fails[-1]


def likely_policy(start: Start, seasons: int, keep: int, discount: float) -> Policy | None:
    """Return the policy whose first target is worth most, ``None`` where nothing leads there.

    A first target counts less by the share ``discount`` for each season that it comes later. Of a
    small collection all animals are looked at together, else the likeliest sets of founders.
    """
    every = carriers_and_mates(start)
    sets = [every] if len(every) <= SMALL_FOUNDERS else _best_sets(start, seasons)
    best: tuple[float, Policy] | None = None
    for founders in sets:
        frame = frame_of(start, founders, seasons, keep)
        if frame is None:
            continue
        policy = best_policy(replace(frame, discount=discount), FEW_STATES)
        worth = first_worth(policy.best(policy.start).fails, discount)
        if worth > (best[0] if best else 0.0) + SAME:
            best = worth, policy
    return best[1] if best else None


def _policies(start: Start, asked: Asked) -> Iterator[Policy]:
    """Yield policies worth telling: of the best sets of founders, for each season and room.

    What is looked at for fewer seasons or less room is looked at for more of them too, so that more
    never makes the best chance less.
    """
    for seasons in range(1, asked.seasons + 1):
        for founders in _best_sets(start, seasons):
            yield from _with_room(start, founders, seasons, asked.keep)


def _with_room(
    start: Start, founders: tuple[str, ...], seasons: int, most: int
) -> Iterator[Policy]:
    """Yield the policies of some founders with room for more and more young, while it helps."""
    before = 0.0
    for keep in range(most + 1):
        frame = frame_of(start, founders, seasons, keep)
        if frame is None:
            return
        policy = best_policy(frame)
        chance = chance_of(policy)
        if chance > before + SAME:
            yield policy
        elif before > 0:
            return
        before = max(before, chance)


def _best_sets(start: Start, seasons: int) -> list[tuple[str, ...]]:
    """Return the sets of founders to look into, by the chance of a policy that looks less far."""
    scored: list[tuple[float, tuple[str, ...]]] = []
    for founders in _sets_of_founders(start, seasons):
        frame = frame_of(start, founders, seasons, USUAL_KEEP)
        if frame is None:
            continue
        chance = chance_of(Policy(frame, WIDTHS[0]))
        if chance > SAME:
            scored.append((-round(chance, 9), founders))
    return [founders for _, founders in sorted(scored)[:LOOKED_INTO]]


def _sets_of_founders(start: Start, seasons: int) -> list[tuple[str, ...]]:
    """Return the sets of founders to look at: the likeliest, and the first joined with the next."""
    found = list(schedules(start, seasons, SETS))
    joined: list[tuple[str, ...]] = []
    for other in found[1:]:
        union = tuple(sorted({*(joined[-1] if joined else found[0]), *other}))
        if len(union) <= MOST_FOUNDERS and union not in (*found, *joined):
            joined.append(union)
        if len(joined) == JOINED:
            break
    return found + joined


def _undominated(routes: Iterable[Route], seasons: int) -> tuple[Route, ...]:
    """Return the routes that no other equals or beats in all that counts, the likeliest first."""
    ordered = sorted(routes, key=lambda r: (-round(r.final, 9), r.held, r.cost, r.seasons))
    kept: list[Route] = []
    for route in ordered:
        figures = _figures(route, seasons)
        if not any(_beats(_figures(other, seasons), figures) for other in kept):
            kept.append(route)
    return tuple(kept)


def _figures(route: Route, seasons: int) -> tuple[float, ...]:
    chances = [chance for _, chance in route.chance]
    chances += [chances[-1]] * (seasons - len(chances))
    return (*chances, -float(route.held))


def _beats(one: Sequence[float], other: Sequence[float]) -> bool:
    return all(mine >= yours - SAME for mine, yours in zip(one, other, strict=True))
