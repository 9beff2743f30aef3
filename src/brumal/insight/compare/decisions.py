"""A decision sheet: options that may be taken together or not, and which sets of them pay.

Every combination is solved while there are few enough; beyond that a search takes the best single
step (one option more, one less, or one for another) until none betters the set, and says that it is
a search: a better set may exist.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from brumal.insight.compare.columns import Answer
from brumal.insight.compare.parallel import Bench, Question
from brumal.records.faults import Fault, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.overlays import Overlays, resolve
from brumal.records.variant import Variant, fights, place_fault, variant_of

MOST_SETS = 256
Options = frozenset[str]
NOTHING: Options = frozenset()
_CENT = 0.01
"""A set pays where it brings more than a cent over the season as recorded."""


class Pays(StrEnum):
    """Whether a set of options brings more than none, as far as the solver's bounds settle it."""

    YES = "yes"
    NO = "no"
    OPEN = "not settled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One set of options: what the season brings with it, and over what it brings without any.

    ``net`` is the objective less what is paid once, plus what is received; ``gain`` is net less
    that of the season as recorded. ``faults`` say why a set could not be planned.
    """

    options: tuple[str, ...]
    verdict: str
    paid: float
    received: float
    objective: float | None = None
    net: float | None = None
    gain: float | None = None
    pays: Pays = Pays.NO
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Clashing:
    """Two options that cannot be taken together, and why."""

    first: str
    second: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """The sheet: ``choices`` best first, the season as recorded among them.

    ``searched`` says that not every allowed set was solved; ``possible`` counts all sets there
    are, those that clash too.
    """

    options: tuple[str, ...]
    notes: Mapping[str, str]
    choices: tuple[Choice, ...]
    clashing: tuple[Clashing, ...]
    possible: int
    searched: bool

    @property
    def best(self) -> Choice | None:
        """Return the set of greatest net value, ``None`` where no set has a plan."""
        return next((choice for choice in self.choices if choice.net is not None), None)

    def alone(self, option: str) -> Choice | None:
        """Return the choice of one option by itself."""
        return next((each for each in self.choices if each.options == (option,)), None)

    def worth_in_best(self, option: str) -> float | None:
        """Return what the best set loses without an option of it; ``None`` if that is not known."""
        if self.best is None or self.best.net is None or option not in self.best.options:
            return None
        rest = tuple(each for each in self.best.options if each != option)
        without = next((each for each in self.choices if each.options == rest), None)
        if without is None or without.net is None:
            return None
        return round(self.best.net - without.net, 6)


def decide(
    bench: Bench, overlays: Overlays, options: Sequence[str], most_sets: int = MOST_SETS
) -> Decisions:
    """Return the decision sheet of some overlays taken as options."""
    names = tuple(dict.fromkeys(options))
    clashing = _clashing(overlays, names)
    table = _Table(bench, overlays, clashing)
    possible = 2 ** len(names)
    if possible <= most_sets:
        table.solve(
            frozenset(group)
            for size in range(len(names) + 1)
            for group in itertools.combinations(names, size)
        )
    else:
        _search(table, names, most_sets)
    return Decisions(
        options=names,
        notes={name: overlays.read[name].note for name in names if name in overlays.read},
        choices=table.sheet(names),
        clashing=clashing,
        possible=possible,
        searched=possible > most_sets,
    )


def _clashing(overlays: Overlays, names: Sequence[str]) -> tuple[Clashing, ...]:
    """Return the pairs of options that fight over a setting or that the keeper sets apart."""
    found = []
    for first, second in itertools.combinations(names, 2):
        if first not in overlays.read or second not in overlays.read:
            continue
        excluded = [*overlays.read[first].excludes, *overlays.read[second].excludes]
        chain, faults = resolve(overlays, [first, second])
        if second in excluded or first in excluded:
            found.append(Clashing(first=first, second=second, why="one excludes the other"))
        elif not faults and fights(chain):
            why = "they set the same thing to different values"
            found.append(Clashing(first=first, second=second, why=why))
    return tuple(found)


@dataclass(slots=True)
class _Table:
    """Sets of options solved so far."""

    bench: Bench
    overlays: Overlays
    clashing: tuple[Clashing, ...]
    solved: dict[Options, Choice] = field(default_factory=dict)
    bounds: dict[Options, float | None] = field(default_factory=dict)

    def allows(self, options: Options) -> bool:
        return not any({each.first, each.second} <= options for each in self.clashing)

    def solve(self, groups: Iterable[Options]) -> None:
        """Solve sets that are allowed and not solved yet, all at once."""
        new = [g for g in dict.fromkeys(groups) if g not in self.solved and self.allows(g)]
        variants = [_variant(self.bench.base, self.overlays, group) for group in new]
        questions = [
            Question(name=each.name or "none", records=each.records, whole=False)
            for each in variants
            if each.records is not None
        ]
        replies = iter(self.bench.ask(questions))
        for group, variant in zip(new, variants, strict=True):
            reply = next(replies) if variant.records is not None else variant.faults
            answer = reply if isinstance(reply, Answer) else None
            faults = reply if isinstance(reply, tuple) else ()
            self.solved[group] = _choice(group, variant, answer, faults)
            self.bounds[group] = answer.bound if answer else None

    def net(self, options: Options) -> float:
        net = self.solved[options].net if options in self.solved else None
        return float("-inf") if net is None else net

    def sheet(self, names: Sequence[str]) -> tuple[Choice, ...]:
        """Return the choices best first; of equals the smaller set, then by the order of names."""
        base, base_bound = self.solved[NOTHING], self.bounds[NOTHING]
        place = {name: number for number, name in enumerate(names)}

        def rank(group: Options) -> tuple[float, int, list[int]]:
            return -self.net(group), len(group), sorted(place[name] for name in group)

        return tuple(
            _against(self.solved[group], self.bounds[group], base, base_bound)
            for group in sorted(self.solved, key=rank)
        )


def _variant(records: SeasonRecords, overlays: Overlays, options: Options) -> Variant:
    return variant_of(records, overlays, sorted(options))


def _choice(
    group: Options, variant: Variant, answer: Answer | None, faults: tuple[Fault, ...]
) -> Choice:
    objective = answer.objective if answer else None
    records = variant.records
    if records is not None:
        faults = tuple(place_fault(records, variant.overlays, f) for f in faults if is_error(f))
    return Choice(
        options=tuple(sorted(group)),
        verdict=str(answer.verdict) if answer else "faults",
        paid=variant.paid,
        received=variant.received,
        objective=objective,
        net=None if objective is None else round(objective - variant.paid + variant.received, 6),
        faults=faults,
    )


def _against(choice: Choice, bound: float | None, base: Choice, base_bound: float | None) -> Choice:
    """Hold a choice against the season as recorded, with the solver's own bounds."""
    if choice.net is None:
        return choice
    if base.net is None:
        return replace(choice, pays=Pays.OPEN)
    pays = Pays.OPEN
    once = choice.received - choice.paid
    if base_bound is not None and choice.net > base_bound + _CENT:
        pays = Pays.YES
    elif bound is not None and bound + once <= base.net + _CENT:
        pays = Pays.NO
    return replace(choice, gain=round(choice.net - base.net, 6), pays=pays)


def _search(table: _Table, names: Sequence[str], most_sets: int) -> None:
    """Step to the best neighbouring set while it betters the present one and sets are left."""
    here = NOTHING
    table.solve([here, *(frozenset([name]) for name in names)])
    while len(table.solved) < most_sets:
        near = [group for group in _neighbours(here, names) if table.allows(group)]
        room = most_sets - len(table.solved)
        new = [group for group in near if group not in table.solved]
        table.solve(new[:room])
        best = max(near, key=table.net, default=here)
        if table.net(best) <= table.net(here) + _CENT:
            return
        here = best


def _neighbours(here: Options, names: Sequence[str]) -> list[Options]:
    """Return the sets one step away: one option more, one less, one for another; in fixed order."""
    inside = [name for name in names if name in here]
    outside = [name for name in names if name not in here]
    more = [here | {name} for name in outside]
    less = [here - {name} for name in inside]
    swapped = [here - {out} | {new} for out in inside for new in outside]
    return [*more, *less, *swapped]
