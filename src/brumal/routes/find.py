"""Routes to a target: the trade-offs of years, chance and young held, and what is missing.

Founders are chosen by rough chances (``schedules``), alone and joined; within each set of founders
the policy is looked for in steps of growing width while it stays within ``MOST_STATES``, and its
chance is exact. What is not looked at: more than ``schedules.MOST_FOUNDERS`` founders together,
sets of founders that rough chances put behind the first, more than one young of each sex held from
one season, more than two crosses of young that were held before a target. ``Route.most`` bounds
what a better policy with the same founders could add.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from brumal.routes.frame import Frame
from brumal.routes.framing import Start, frame_of
from brumal.routes.policy import Policy, TooWideError
from brumal.routes.route import Route
from brumal.routes.schedules import MOST_FOUNDERS, schedules
from brumal.routes.steering import Pair, Width
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
SETS, JOINED, LOOKED_INTO = 5, 3, 2
"""Sets of founders looked at, joins of the first with others, those looked into more closely."""
USUAL_KEEP = 2
"""Young held at once where sets of founders are compared."""
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


def best_policy(frame: Frame, first: Iterable[Pair] | None = None) -> Policy:
    """Return the widest policy of a frame within the states allowed; ``first`` as in ``Policy``."""
    chosen = Policy(frame, WIDTHS[0], first)
    failing = chosen.best(chosen.start).fails[-1]
    for width in WIDTHS[1:]:
        wider = Policy(frame, width, first, MOST_STATES)
        try:
            fails = wider.best(wider.start).fails[-1]
        except TooWideError:
            if width.until >= frame.seasons:
                break
            continue
        if fails < failing - SAME:
            chosen, failing = wider, fails
    return chosen


def chance_of(policy: Policy) -> float:
    """Return the chance of at least one target by the last season."""
    return 1 - policy.best(policy.start).fails[-1]


def season_adds(route: Route, pairs: Sequence[tuple[str, str]]) -> float:
    """Return what this season's ``pairs`` (dam, sire; by id) add to the chance of a route.

    It is the chance with exactly these of the route's founders paired this season, each later
    season carried on as well as can be, less the chance with none of them paired. Pairs of other
    animals add nothing. The young held are those that the route would hold.
    """
    places = {founder.id: at for at, founder in enumerate(route.frame.founders)}
    own = tuple(
        sorted((places[dam], places[sire]) for dam, sire in pairs if {dam, sire} <= places.keys())
    )
    if not own:
        return 0.0
    return chance_of(best_policy(route.frame, own)) - chance_of(best_policy(route.frame, ()))


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
    found = [each.founders for each in schedules(start, seasons, SETS)]
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
