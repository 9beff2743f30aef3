"""From a policy to a route that can be told: its tree walked, equal steps put together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from brumal.genetics.crosses.clutch_odds import HiddenPair, VisualClass
from brumal.genetics.looks import NORMAL
from brumal.genetics.notation.class_names import class_name
from brumal.genetics.notation.naming import name_of
from brumal.records.animals import Sex
from brumal.records.plain_values import letters
from brumal.routes.bound import most_chance
from brumal.routes.framing import Start
from brumal.routes.genes import Look, TargetGenes
from brumal.routes.policy import Policy
from brumal.routes.ready import hatch_day
from brumal.routes.route import Kept, Route, Step
from brumal.routes.steering import Kinds, Pair, State
from brumal.rules.table import judge_animal, may_breed

SELDOM = 0.005
"""Steps that are made with less than this chance are followed, but not told."""


@dataclass(slots=True, kw_only=True)
class _Made:
    """A pair put together over all states in which it is made."""

    reached: float = 0.0
    target: float = 0.0
    main: bool = False
    main_kept: set[int] = field(default_factory=set)
    F: float = 0.0
    kept: dict[int, float] = field(default_factory=dict)
    shares: dict[int, tuple[float, Kinds]] = field(default_factory=dict)


def told(start: Start, policy: Policy) -> Route:
    """Return the route of a policy; its chances are those of the policy."""
    frame = policy.frame
    best = policy.best(policy.start)
    walk = _Walk(policy)
    walk.all()
    walk.main_line()
    names = _Names(start, policy, walk.made)
    years = [hatch_day(start.prepared, season).year for season in range(1, frame.seasons + 1)]
    used = {at for _, pair in walk.made for at in pair if at < len(frame.founders)}
    founders = tuple(f.id for at, f in enumerate(frame.founders) if at in used)
    prices = sum(start.founders[name].price for name in founders)
    return Route(
        frame=frame,
        founders=founders,
        labels={name: _label(start, name) for name in founders},
        morphs={name: _morph(start, name) for name in founders},
        bought=tuple(name for name in founders if name in start.bought),
        waiting=tuple(name for name in founders if _waits(start, name)),
        seasons=frame.seasons,
        chance=tuple(
            (year, sure_chance(1 - fail)) for year, fail in zip(years, best.fails, strict=True)
        ),
        most=max(most_chance(frame), 1 - best.fails[-1]),
        expected=best.targets,
        held=walk.held,
        clutches=walk.clutches,
        cost=best.cost + prices,
        F=max((made.F for made in walk.made.values()), default=0.0),
        steps=tuple(
            Step(
                season=season,
                year=years[season - 1],
                dam=names.of(pair[0]),
                sire=names.of(pair[1]),
                keep=names.kept(made, years),
                reached=min(made.reached, 1.0),
                target=made.target / made.reached,
                F=made.F,
                main=made.main,
            )
            for (season, pair), made in sorted(walk.made.items())
            if made.reached >= SELDOM or made.main
        ),
        complete=policy.width.whole,
    )


class _Walk:
    """The states that a policy may come to, and the pairs made in them."""

    def __init__(self, policy: Policy) -> None:
        self.policy = policy
        self.made: dict[tuple[int, Pair], _Made] = {}
        self.held = 0
        self.clutches = 0

    def all(self) -> None:
        """Follow every outcome, season by season."""
        states = {self.policy.start: 1.0}
        while states:
            following: dict[State, float] = {}
            for state, reached in states.items():
                answer = self.policy.follow(state)
                self.held = max(self.held, len(state.held))
                self.clutches = max(self.clutches, len(answer.pairs))
                offered = self.policy.steering.offered(state, answer.pairs)
                for place, pair in enumerate(answer.pairs):
                    self._add(state, pair, reached)
                    made = self.made[state.season, pair]
                    for branch in answer.branches:
                        for number in branch.kept:
                            member = self.policy.book.members[number]
                            if (member.dam, member.sire) == pair:
                                mass = made.kept.get(number, 0.0) + reached * branch.chance
                                made.kept[number] = mass
                                made.shares[number] = offered.get((place, member.look), (0.0, ()))
                for branch in answer.branches:
                    mass = following.get(branch.state, 0.0) + reached * branch.chance
                    following[branch.state] = mass
            states = following

    def _add(self, state: State, pair: Pair, reached: float) -> None:
        made = self.made.setdefault((state.season, pair), _Made())
        made.reached += reached
        made.F = self.policy.book.phi(*pair)
        made.target += reached * sum(
            chance * self.policy.steering.brood(state, kinds, pair).target
            for kinds, chance in state.rows
        )

    def main_line(self) -> None:
        """Mark the pairs of the line of outcomes that brings most of the chance."""
        state = self.policy.start
        while True:
            answer = self.policy.follow(state)
            for pair in answer.pairs:
                self.made[state.season, pair].main = True
            if not answer.branches:
                return
            branch = max(
                answer.branches,
                key=lambda b: (b.chance * (1 - self.policy.best(b.state).fails[-1]), b.kept),
            )
            for number in branch.kept:
                member = self.policy.book.members[number]
                self.made[state.season, (member.dam, member.sire)].main_kept.add(number)
            state = branch.state


class _Names:
    """What members are called: founders by id, young by year of hatching and a letter."""

    def __init__(
        self, start: Start, policy: Policy, made: Mapping[tuple[int, Pair], _Made]
    ) -> None:
        self.start, self.policy = start, policy
        self.names: dict[int, str] = {
            at: founder.id for at, founder in enumerate(policy.frame.founders)
        }
        count: dict[int, int] = {}
        numbers = sorted({n for each in made.values() for n in each.kept})
        for number in numbers:
            born = policy.book.members[number].born
            year = hatch_day(start.prepared, born).year
            count[year] = count.get(year, 0) + 1
            self.names[number] = f"{year}-{letters(count[year])}"

    def of(self, number: int) -> str:
        """Return what a member is called."""
        return self.names[number]

    def kept(self, made: _Made, years: list[int]) -> tuple[Kept, ...]:
        """Return the young held from a pair, the likeliest first."""
        members = self.policy.book.members
        found = []
        for number, mass in sorted(made.kept.items(), key=lambda each: (-each[1], each[0])):
            member, (share, kinds) = members[number], made.shares[number]
            if mass < SELDOM * made.reached and number not in made.main_kept:
                continue
            found.append(
                Kept(
                    name=self.names[number],
                    look=look_words(self.policy.frame.genes, member.look, kinds),
                    sex=member.sex,
                    count=1,
                    odds=share,
                    chance=min(mass / made.reached, 1.0),
                    ready=years[member.ready - 1],
                    unproven=unproven(self.policy.frame.genes, kinds),
                    main=number in made.main_kept,
                )
            )
        return tuple(found)


def look_words(genes: TargetGenes, look: Look, kinds: Kinds) -> str:
    """Return the trade name of young that look alike, possible hets with their chance."""
    seen = genes.seen(look)
    if seen.genes is not None:
        return name_of(genes.pairs(seen.genes), genes.catalogue)
    shown = dict(seen.shown)
    hidden: dict[tuple[str, tuple[str, str]], float] = {}
    for kind, chance in kinds:
        for locus, pair in genes.pairs(genes.genes(kind)).items():
            if pair != shown.get(locus, NORMAL):
                hidden[locus, pair] = hidden.get((locus, pair), 0.0) + chance
    made = VisualClass(
        chance=1.0,
        shown=seen.shown,
        hidden=tuple(
            HiddenPair(locus=locus, pair=pair, chance=chance)
            for (locus, pair), chance in sorted(hidden.items())
        ),
        female=float(seen.sex is Sex.FEMALE),
    )
    return class_name(made, genes.catalogue)


def unproven(genes: TargetGenes, kinds: Kinds) -> bool:
    """Say whether young that look alike may differ in what they carry."""
    return len({tuple(sorted(genes.pairs(genes.genes(kind)).items())) for kind, _ in kinds}) > 1


def _label(start: Start, name: str) -> str:
    return start.bought[name].words if name in start.bought else start.prepared.label(name)


def sure_chance(figure: float) -> float:
    """Return a chance without errors of rounding below what is told."""
    return min(figure, 1.0) if figure > 1e-10 else 0.0


def _waits(start: Start, name: str) -> bool:
    """Say whether a founder is not ready on the first day of pairing."""
    if name in start.bought:
        return start.founders[name].ready > 1
    animal = start.prepared.animals[name]
    return not may_breed(judge_animal(animal, start.prepared.rules))


def _morph(start: Start, name: str) -> str:
    """Return what a founder is, as its keeper writes it."""
    if name in start.bought:
        return name_of(dict(start.bought[name].pairs), start.genes.catalogue)
    return start.prepared.animals[name].morph
