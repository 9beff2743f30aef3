"""From a prepared season to the frame of a route: who may take part, and what is true of each."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from brumal.genetics.catalogue.genes import fold
from brumal.genetics.crosses.pair_odds import joint_cases
from brumal.genetics.genotypes import AllelePair, Diplotype
from brumal.genetics.welfare import genotype_name, watched_genes, welfare_risks
from brumal.pipeline import Prepared
from brumal.records.animals import Animal, Sex
from brumal.routes.clutches import Clutches
from brumal.routes.frame import Founder, Frame, Member, Rows
from brumal.routes.genes import TargetGenes
from brumal.routes.ready import first_season, founder_ready, lag
from brumal.rules.rule import PairFigures
from brumal.rules.table import pair_barred

MOST_STATES = 4096
"""Joint chances of the founders of a frame that are followed; no frame has more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """An animal that is not in the collection, unrelated to it, grown, with these allele pairs."""

    id: str
    sex: Sex
    pairs: tuple[tuple[str, AllelePair], ...]
    words: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Start:
    """Who a route may start from: founders by id; ``bought`` are those not in the collection."""

    prepared: Prepared
    genes: TargetGenes
    founders: Mapping[str, Founder]
    lag: Mapping[Sex, int]
    bought: Mapping[str, Purchase] = field(default_factory=dict)

    def with_bought(self, purchase: Purchase) -> Start:
        """Return the same start with one animal bought."""
        prepared = self.prepared
        free = prepared.records.settings.season.pair_from + timedelta(
            days=prepared.records.settings.rules.quarantine_days
        )
        founder = Founder(
            id=purchase.id, sex=purchase.sex, ready=first_season(prepared, free), price=0.0
        )
        return Start(
            prepared=prepared,
            genes=self.genes,
            founders={**self.founders, purchase.id: founder},
            lag=self.lag,
            bought={**self.bought, purchase.id: purchase},
        )


def start_of(prepared: Prepared, genes: TargetGenes) -> Start:
    """Return every animal of the collection that may ever breed, with its first season."""
    settings = prepared.records.settings
    given = dict(settings.locks.must_pair) | dict(prepared.records.already_paired)
    prices = {**settings.offers.borrow, **settings.offers.buy}
    founders = {}
    for animal in sorted(prepared.records.collection, key=lambda each: each.id):
        ready = founder_ready(prepared, animal)
        if ready is None or animal.sex is None:
            continue
        if animal.id in dict(prepared.records.already_paired):
            ready = 1
        founders[animal.id] = Founder(
            id=animal.id,
            sex=animal.sex,
            ready=ready,
            given=given.get(animal.id),
            price=prices.get(animal.id, 0.0),
            run=_run(prepared, animal),
        )
    lags = {sex: lag(prepared, sex) for sex in Sex}
    return Start(prepared=prepared, genes=genes, founders=founders, lag=lags)


def _run(prepared: Prepared, animal: Animal) -> int:
    """Return in how many seasons in a row a female may have laid up to this one."""
    ledger = prepared.rules.ledgers.get(animal.id)
    return 0 if ledger is None else ledger.most_in_a_row


def frame_of(start: Start, ids: Sequence[str], seasons: int, hold: int) -> Frame | None:
    """Return the frame of some founders; ``None`` where too much is unknown of them together."""
    prior = _prior(start, ids)
    return None if prior is None else _frame(start, ids, prior, seasons, hold)


def frame_without_odds(start: Start, ids: Sequence[str], seasons: int) -> Frame:
    """Return the frame of many founders to look rules, clutches and kinship up in: no prior."""
    return _frame(start, ids, (), seasons, 1)


def _frame(start: Start, ids: Sequence[str], prior: Rows, seasons: int, hold: int) -> Frame:
    prepared = start.prepared
    clutches, rules = Clutches(prepared=prepared), prepared.records.settings.rules
    return Frame(
        genes=start.genes,
        founders=tuple(start.founders[name] for name in ids),
        prior=prior,
        seasons=seasons,
        lag=start.lag,
        hold=hold,
        young=clutches.young,
        males=clutches.males,
        kinship=_kinship(start, ids),
        barred=_Bars(start).barred,
        cost=clutches.cost,
        # What is softened to a price bars nobody.
        rest=0 if "rest" in rules.soft else rules.rest_seasons,
        in_a_row=0 if "in-a-row" in rules.soft else rules.max_seasons_in_a_row,
    )


def _kinship(start: Start, ids: Sequence[str]) -> dict[tuple[str, str], float]:
    own = [name for name in ids if name not in start.bought]
    found = {(name, name): 0.5 for name in ids}
    for one, other in itertools.product(own, own):
        if one <= other:
            found[one, other] = start.prepared.kinship.phi(one, other)
    return found


def _prior(start: Start, ids: Sequence[str]) -> Rows | None:
    """Return the joint chances of what these founders are; kin that are uncertain together stay."""
    genes = start.genes
    tables: list[list[tuple[dict[str, Diplotype], float]]] = []
    for at in range(len(genes.groups)):
        cases = _cases(start, ids, at)
        if cases is None:
            return None
        tables.append(cases)
    rows: dict[tuple[int, ...], float] = {}
    size = 1
    for table in tables:
        size *= len(table)
    if size > MOST_STATES:
        return None
    for parts in itertools.product(*tables):
        chance = 1.0
        for _, share in parts:
            chance *= share
        kinds = tuple(genes.kind(tuple(carried[name] for carried, _ in parts)) for name in ids)
        rows[kinds] = rows.get(kinds, 0.0) + chance
    return tuple(sorted(rows.items()))


def _cases(
    start: Start, ids: Sequence[str], at: int
) -> list[tuple[dict[str, Diplotype], float]] | None:
    """Return the joint cases at one group of the target: what each founder carries, the chance."""
    genes, prepared = start.genes, start.prepared
    group = genes.groups[at]
    cases: list[tuple[dict[str, Diplotype], float]] = [({}, 1.0)]
    together: set[str] = set()
    own = [name for name in ids if name not in start.bought]
    for block in joint_cases(prepared.inferred, own, group.id, MOST_STATES):
        if block.cases is None:
            continue
        together.update(block.ids)
        joint: dict[tuple[Diplotype, ...], float] = {}
        for chance, carried in block.cases:
            reduced = tuple(genes.reduced(at, ((pair, 1.0),))[0][0] for pair in carried)
            joint[reduced] = joint.get(reduced, 0.0) + chance
        cases = [
            ({**sofar, **dict(zip(block.ids, carried, strict=True))}, share * chance)
            for sofar, share in cases
            for carried, chance in joint.items()
        ]
        if len(cases) > MOST_STATES:
            return None
    for name in ids:
        if name in together:
            continue
        belief = _belief(start, name, at)
        cases = [
            ({**sofar, name: pair}, share * chance)
            for sofar, share in cases
            for pair, chance in belief
            if chance > 0
        ]
        if len(cases) > MOST_STATES:
            return None
    return cases


def _belief(start: Start, name: str, at: int) -> tuple[tuple[Diplotype, float], ...]:
    sex = start.founders[name].sex
    if name in start.bought:
        made = start.genes.founder(dict(start.bought[name].pairs), sex)
        return ((made[at], 1.0),)
    return start.genes.beliefs(start.prepared.genotypes[name], sex)[at]


def beliefs(start: Start, name: str) -> tuple[tuple[tuple[Diplotype, float], ...], ...]:
    """Return what is believed of a founder at each group of the target."""
    return tuple(_belief(start, name, at) for at in range(len(start.genes.groups)))


class _Bars:
    """Whether two members may meet: pair rules for founders, kinship and welfare for their young.

    What young carry of genes with a welfare note is not followed beyond the target's own genes, so
    that two members are kept apart where founders behind them could give harmed young together.
    """

    def __init__(self, start: Start) -> None:
        self.start = start
        self.never = set(start.prepared.records.settings.locks.never_pair)
        settings = start.prepared.records.settings
        catalogue = start.prepared.catalogue
        accepted = {fold(entry) for entry in settings.rules.accept_welfare}
        self._notes = [
            note.carries
            for note in catalogue.welfare
            if note.excluded and fold(genotype_name(note, catalogue)) not in accepted
        ]
        self._watched: dict[str, frozenset[str]] = {}

    def barred(self, dam: Member, sire: Member, f: float) -> bool:
        """Say whether a rule keeps the two apart; ``f`` is F of their young."""
        prepared = self.start.prepared
        generations = min(self._generations(dam), self._generations(sire))
        own = [
            prepared.animals.get(each.founder.id) if each.founder else None for each in (dam, sire)
        ]
        if own[0] is not None and own[1] is not None:
            return self._founders_barred(own[0], own[1], f, generations)
        if pair_barred(PairFigures(F=f, generations=generations), prepared.rules):
            return True
        return self._harmful(*(self._behind(each) for each in (dam, sire)))

    def _founders_barred(self, dam: Animal, sire: Animal, f: float, generations: int) -> bool:
        prepared = self.start.prepared
        if (dam.id, sire.id) in self.never:
            return True
        accepted = frozenset(prepared.records.settings.rules.accept_welfare)
        young = prepared.cross(dam.id, sire.id)
        figures = PairFigures(
            F=f,
            generations=generations,
            risks=welfare_risks(young, prepared.catalogue, accepted),
            exception=prepared.rules.exceptions.get((dam.id, sire.id), ""),
        )
        return pair_barred(figures, prepared.rules)

    def _harmful(self, hers: frozenset[str], his: frozenset[str]) -> bool:
        """Say whether a note that keeps young out of every plan may be met by young of the two."""
        return any(
            all(gene in (hers & his if copies > 1 else hers | his) for gene, copies in note.items())
            for note in self._notes
        )

    def _behind(self, member: Member) -> frozenset[str]:
        """Return the genes with a welfare note that a member may have from its founders."""
        return frozenset[str]().union(*(self._genes(name) for name in member.behind))

    def _genes(self, name: str) -> frozenset[str]:
        if name not in self._watched:
            prepared = self.start.prepared
            if name in self.start.bought:
                named = {gene for _, pair in self.start.bought[name].pairs for gene in pair}
                watched = {gene for note in prepared.catalogue.welfare for gene in note.carries}
                self._watched[name] = frozenset(named & watched)
            else:
                self._watched[name] = watched_genes(prepared.genotypes[name], prepared.catalogue)
        return self._watched[name]

    def _generations(self, member: Member) -> int:
        """Return the generations recorded in full behind a member; its own parents are known."""
        known = [self.start.prepared.generations.get(name, 0) for name in member.behind]
        return min(known) + (member.founder is None)
