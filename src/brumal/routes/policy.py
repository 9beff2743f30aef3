"""The best policy within a frame, and its exact chance, season by season.

A state is what the keeper knows: the season, the young held, and the joint chances of what all of
them are. A policy says for each state which pairs are made and, for each outcome seen, which young
are held. Its chance is followed exactly: targets are left out of every outcome, so that what is
left at the end is the chance that none hatched. Whether the keeper can tell a target at once does
not matter: what is decided after one has hatched changes nothing.

With ``whole`` the policy may depend on all that is seen, and it is the best there is. Else it looks
at the best young by rank (``outcomes``), tries what ``steering`` proposes, and is exact for what it
does.
"""

from __future__ import annotations

import copy
import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from brumal.routes.frame import Book, Frame, Pmf, Rows
from brumal.routes.genes import Kind
from brumal.routes.outcomes import Clutch, Seen, ranked, whole
from brumal.routes.selection import none_of
from brumal.routes.steering import Held, Pair, State, Steering, Width

Likeness = tuple[object, ...]
DIGITS = 13


class TooWideError(Exception):
    """A policy that would look at more states than allowed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """One outcome of a season without a target: its chance, who is newly held, what comes next."""

    chance: float
    kept: tuple[int, ...]
    state: State


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a state leads to under the policy.

    ``fails`` is the chance that no target hatches up to the end of this and each later season;
    ``targets`` and ``cost`` are expected over the seasons until one hatches.
    """

    fails: tuple[float, ...]
    targets: float
    cost: float
    pairs: tuple[Pair, ...]
    branches: tuple[Branch, ...]


class Policy:
    """The policy of a frame; ``best`` tells what to do in a state and what comes of it."""

    def __init__(
        self,
        frame: Frame,
        width: Width | None = None,
        first: Iterable[Pair] | None = None,
        most_states: int | None = None,
    ) -> None:
        """Look for the best policy; ``first`` fixes the pairs of the first season.

        ``best`` raises ``TooWideError`` beyond ``most_states`` states.
        """
        self.frame = frame
        self.width = width or Width()
        self.book = Book(frame)
        self.steering = Steering(frame, self.book, self.width)
        self._first = None if first is None else tuple(first)
        self._elsewhere: frozenset[int] = frozenset()
        self._most = most_states
        self._begun: dict[Likeness, tuple[State, Answer]] = {}
        self._known: dict[Likeness, tuple[State, Answer]] = {}
        self._followed: dict[State, Answer] = {}

    def beginning(self, pairs: Iterable[Pair], elsewhere: Iterable[int] = ()) -> Policy:
        """Return the policy that makes these pairs in the first season; the later ones are shared.

        ``elsewhere`` are females that are paired in that season for something else.
        """
        other = copy.copy(self)
        other._first, other._elsewhere = tuple(sorted(pairs)), frozenset(elsewhere)
        other._begun, other._followed, other._most = {}, {}, None
        return other

    @property
    def start(self) -> State:
        """Return the state before the first season."""
        runs = tuple((at, f.run) for at, f in enumerate(self.frame.founders) if f.run)
        return State(1, (), _tidy(self.frame.prior), (), runs if self.frame.in_a_row else ())

    @property
    def states(self) -> int:
        """Return how many states have been looked at."""
        return len(self._known)

    def best(self, state: State) -> Answer:
        """Return the best answer to a state."""
        return self._alike(state)[1]

    def follow(self, state: State) -> Answer:
        """Return the best answer to a state in the numbers of the members it holds."""
        if state not in self._followed:
            known, answer = self._alike(state)
            self._followed[state] = answer if known == state else self._best(state)
        return self._followed[state]

    def _alike(self, state: State) -> tuple[State, Answer]:
        key = self._likeness(state)
        known = self._begun if state.season == 1 else self._known
        if key not in known:
            if self._most is not None and len(self._known) >= self._most:
                raise TooWideError
            known[key] = (state, self._best(state))
        return known[key]

    def _likeness(self, state: State) -> Likeness:
        """Return what the worth of a state hangs on: not when those ready have hatched, nor looks.

        A female's first season of breeding is told apart: her clutch is a first one.
        """
        held = tuple(
            (each.sex, each.ready if each.ready >= state.season else 0, each.dam, each.sire)
            for each in (self.book.members[number] for number in state.held)
        )
        return (state.season, held, state.rows, state.resting, state.runs)

    def _best(self, state: State) -> Answer:
        if state.season == 1 and self._first is not None:
            options: Sequence[tuple[Pair, ...]] = [self._first]
        else:
            options = self.steering.pairings(state)
        best = min((self._carry_out(state, pairs) for pairs in options), key=self._order)
        needed = self._needed(state, best)
        if needed == best.pairs or (state.season == 1 and self._first is not None):
            return best
        return min(best, self._carry_out(state, needed), key=self._order)

    def _needed(self, state: State, answer: Answer) -> tuple[Pair, ...]:
        """Return the pairs that may give a target or young that are held: the others only cost."""
        members = self.book.members
        kept = {number for branch in answer.branches for number in branch.kept}
        parents = {(members[number].dam, members[number].sire) for number in kept}
        return tuple(
            pair
            for pair in answer.pairs
            if pair in parents
            or any(self.steering.brood(state, kinds, pair).target > 0 for kinds, _ in state.rows)
        )

    def _carry_out(self, state: State, pairs: tuple[Pair, ...]) -> Answer:
        season, members = state.season, self.book.members
        targets = sum(
            chance
            * self.steering.brood(state, kinds, pair).target
            * _mean(self._young(pair, season))
            for kinds, chance in state.rows
            for pair in pairs
        )
        cost = sum(self.frame.cost(members[dam], members[sire], season) for dam, sire in pairs)
        if season == self.frame.seasons:
            fail = sum(chance * self._none(state, kinds, pairs) for kinds, chance in state.rows)
            return Answer(fails=(fail,), targets=targets, cost=cost, pairs=pairs, branches=())
        branches, fails = [], [0.0] * (self.frame.seasons - season + 1)
        for seen, masses in self._outcomes(state, pairs).items():
            chance = sum(masses)
            if chance <= 0:
                continue
            branch = self._branch(state, pairs, seen, masses, chance)
            after = self.best(branch.state)
            branches.append(branch)
            fails[0] += chance
            for at, fail in enumerate(after.fails, 1):
                fails[at] += chance * fail
            targets += chance * after.targets
            cost += chance * after.cost
        return Answer(
            fails=tuple(fails), targets=targets, cost=cost, pairs=pairs, branches=tuple(branches)
        )

    def _outcomes(self, state: State, pairs: tuple[Pair, ...]) -> dict[Seen, list[float]]:
        """Return for each outcome the chance of it together with each row of the state."""
        ranking = None if self.width.whole else self.steering.ranking(state, pairs)
        found: dict[Seen, list[float]] = {}
        for at, (kinds, chance) in enumerate(state.rows):
            clutches = [
                Clutch(
                    young=self._young(pair, state.season),
                    brood=self.steering.brood(state, kinds, pair),
                )
                for pair in pairs
            ]
            if ranking is None:
                looks = {each.look for c in clutches for each in c.brood.others}
                wanted = frozenset(look for look in looks if self.steering.in_time(state, look))
                # With parents known for certain the other young teach nothing.
                sure = len(state.rows) == 1
                table = whole(clutches, wanted, self.frame.hold if sure else None)
            else:
                table = ranked(clutches, ranking)
            for seen, share in table.items():
                found.setdefault(seen, [0.0] * len(state.rows))[at] = chance * share
        return found

    def _branch(
        self,
        state: State,
        pairs: tuple[Pair, ...],
        seen: Seen,
        masses: Sequence[float],
        chance: float,
    ) -> Branch:
        """Hold what is best held of those held before and the young seen."""
        masses = [mass / chance for mass in masses]
        pool: list[Held] = [(number, None) for number in state.held]
        for offer, count in seen:
            if self.steering.in_time(state, offer[1]):
                dam, sire = pairs[offer[0]]
                for same in range(min(count, self.frame.hold)):
                    young = self.book.young(dam, sire, state.season, offer[1], same)
                    pool.append((young, offer))
        best: tuple[Answer, Branch] | None = None
        for size in range(min(len(pool), self.frame.hold), -1, -1):
            for chosen in self.steering.choices(state, pairs, pool, size):
                after = self._after(state, pairs, masses, chosen)
                if after is None:
                    continue
                kept = tuple(sorted(number for number, offer in chosen if offer is not None))
                branch = Branch(chance=chance, kept=kept, state=after)
                answer = self.best(after)
                if best is None or self._order(answer) < self._order(best[0]):
                    best = (answer, branch)
            if best is not None:
                break
        assert best is not None  # holding none is always followed
        return best[1]

    def _after(
        self,
        state: State,
        pairs: tuple[Pair, ...],
        masses: Sequence[float],
        chosen: Sequence[Held],
    ) -> State | None:
        """Return the next state; ``None`` where it would need more rows than are followed."""
        ordered = sorted(chosen, key=lambda held: held[0])
        founders = len(self.frame.founders)
        rows: dict[tuple[Kind, ...], float] = {}
        for (kinds, _), mass in zip(state.rows, masses, strict=True):
            if mass <= 0:
                continue
            tables = [self.steering.may_be(state, kinds, pairs, held) for held in ordered]
            for parts in itertools.product(*tables):
                share = mass
                for _, each in parts:
                    share *= each
                key = (*kinds[:founders], *(kind for kind, _ in parts))
                rows[key] = rows.get(key, 0.0) + share
            if len(rows) > self.width.rows and chosen:
                return None
        held = tuple(number for number, _ in ordered)
        paired = {dam for dam, _ in pairs}
        if state.season == 1:
            paired |= self._elsewhere
        resting, runs = self._resting(state, paired), self._runs(state, paired)
        return State(state.season + 1, held, _tidy(tuple(rows.items())), resting, runs)

    def _resting(self, state: State, paired: set[int]) -> tuple[tuple[int, int], ...]:
        last = state.season + max(self.frame.rest, 1)
        until = dict(state.resting) | dict.fromkeys(self.steering.tired(state, paired), last)
        return tuple(sorted((d, u) for d, u in until.items() if u > state.season))

    def _runs(self, state: State, paired: set[int]) -> tuple[tuple[int, int], ...]:
        """Return how many seasons in a row females were paired; of no account near the end."""
        if not self.frame.in_a_row or state.season + 1 >= self.frame.seasons:
            return ()
        before, tired = dict(state.runs), self.steering.tired(state, paired)
        return tuple(sorted((dam, before.get(dam, 0) + 1) for dam in paired - tired))

    def _none(self, state: State, kinds: tuple[Kind, ...], pairs: tuple[Pair, ...]) -> float:
        chance = 1.0
        for pair in pairs:
            target = self.steering.brood(state, kinds, pair).target
            chance *= none_of(self._young(pair, state.season), target)
        return chance

    def _young(self, pair: Pair, season: int) -> Pmf:
        return self.book.clutch(*pair, season)

    def _order(self, answer: Answer) -> tuple[float, ...]:
        """Order answers: the first target worth most, then the least chance of failing, the cost.

        Without a discount what a first target is worth is the chance of one by the end.
        """
        worth = first_worth(answer.fails, self.frame.discount)
        fails = (round(fail, 12) for fail in reversed(answer.fails))
        return (-round(worth, 12), *fails, answer.cost)


def first_worth(fails: Sequence[float], discount: float, after: int = 0) -> float:
    """Return the chance of a first target, a season later counting less by the share ``discount``.

    ``fails`` holds the chances of none by the end of each season; first targets of the first
    ``after`` seasons count nothing. The first season's count in full.
    """
    by_then = [1.0, *fails]
    return sum(
        (1.0 - discount) ** season * (by_then[season] - by_then[season + 1])
        for season in range(after, len(fails))
    )


def _tidy(rows: Rows) -> Rows:
    """Return rows sorted, summing to one, rounded so that equal states are the same state."""
    total = sum(chance for _, chance in rows)
    told = ((kinds, round(chance / total, DIGITS)) for kinds, chance in rows if chance > 0)
    return tuple(sorted(told))


def _mean(young: Sequence[float]) -> float:
    return sum(number * chance for number, chance in enumerate(young))
