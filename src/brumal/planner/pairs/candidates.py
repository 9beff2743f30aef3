"""Candidate pairs: who may meet whom, what each pair brings, and why the others may not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from brumal.forecast.clutch import ClutchForecast, same_clutches
from brumal.genetics.welfare import bears_on_welfare, watched_genes, welfare_risks
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Candidate, Pair
from brumal.planner.pairs.pricing import Made, Pricing, pricing_of
from brumal.planner.visiting import Visiting
from brumal.records.animals import Animal, Sex
from brumal.records.season_state import UNKNOWN_SIRE
from brumal.rules.on_record import first_visit
from brumal.rules.pair_rules import WELFARE
from brumal.rules.rule import PairFigures
from brumal.rules.season_rules import CAME_SO_FAR
from brumal.rules.start import PairStart, Start
from brumal.rules.table import judge_animal, judge_pair, pair_barred
from brumal.rules.verdict import RuleVerdict
from brumal.timings import timed


@dataclass(frozen=True, kw_only=True)
class Candidates:
    """All pairs that rules and locks leave open, and who is barred by what.

    ``verdicts`` holds every rule's verdict on each animal of the collection, on the day it may
    start or else on the first day of all; ``barred`` the pairs of animals that may breed but not
    with each other; ``clutches`` the forecast of each open pair, its chance of going times that of
    its start; ``starts`` when each open pair may first meet.
    """

    open: Sequence[Candidate]
    verdicts: Mapping[str, tuple[RuleVerdict, ...]]
    barred: frozenset[Pair]
    clutches: Mapping[Pair, ClutchForecast]
    starts: Mapping[Pair, PairStart]
    pricing: Pricing

    def may_breed(self, animal: str) -> bool:
        """Say whether this animal may breed from some day of the season on."""
        start = self.pricing.prepared.starts.get(animal)
        return start is not None and start.day is not None

    def held(self, pair: Pair) -> tuple[RuleVerdict, ...]:
        """Return what bars further visits of a pair that is made already; nothing where none does.

        The pair stands as a fact, whatever the rules say of its animals or of its young.
        """
        return _held(self.pricing.prepared, pair)

    def settled(self, dam: str) -> bool:
        """Say whether no visit serves a female any more, whatever else rules say of her."""
        return any(each.rule == CAME_SO_FAR for each in self.verdicts.get(dam, ()))

    def waits_for(self, pair: Pair) -> tuple[Start, ...]:
        """Return the starts of an open pair's animals that rest on grams still to come."""
        if not self.starts[pair].provisional:
            return ()
        starts = [self.pricing.prepared.starts[animal] for animal in pair]
        return tuple(start for start in starts if start.provisional)

    @cached_property
    def made(self) -> Made:
        """Return the open pairs as another season may take them over."""
        return Made(
            pricing=self.pricing,
            candidates={each.pair: each for each in self.open},
            clutches=self.clutches,
            penalties=penalties_of(self.verdicts),
        )


@timed("pricing")
def find_candidates(prepared: Prepared, like: Candidates | None = None) -> Candidates:
    """Judge every animal and every pair of the collection, and price the pairs left open.

    Pairs are taken over from a season found before (``like``) where nothing of theirs differs.
    """
    own = prepared.records.collection
    verdicts = {animal.id: prepared.starts[animal.id].verdicts for animal in own}
    if prepared.records.has_unknown_sire:
        verdicts[UNKNOWN_SIRE.id] = ()
    open_pairs, barred = _meetings(prepared, own)
    starts = {(dam.id, sire.id): _pair_start(prepared, dam.id, sire.id) for dam, sire in open_pairs}
    clutches = _clutches(prepared, open_pairs, starts, like)
    pricing = pricing_of(prepared, like.pricing if like else None)
    made = like.made if like else None
    return Candidates(
        open=pricing.candidates(tuple(clutches.values()), penalties_of(verdicts), made),
        verdicts=verdicts,
        barred=frozenset(barred),
        clutches=clutches,
        starts=starts,
        pricing=pricing,
    )


def penalties_of(verdicts: Mapping[str, tuple[RuleVerdict, ...]]) -> dict[str, float]:
    """Return the money that soft rules take off, by animal."""
    return {id: sum(verdict.penalty for verdict in found) for id, found in verdicts.items()}


def _held(prepared: Prepared, pair: Pair) -> tuple[RuleVerdict, ...]:
    if pair not in prepared.records.already_paired:
        return ()
    verdicts: list[RuleVerdict] = []
    for animal in pair:
        start = prepared.starts.get(animal)
        own = start.verdicts if start else ()
        verdicts += own or judge_animal(prepared.animals[animal], prepared.rules)
    verdicts += [each for each in pair_verdicts(prepared, *pair) if each.rule == WELFARE]
    verdicts += _asked(prepared, pair)
    return tuple(verdict for verdict in verdicts if not verdict.passed)


def _asked(prepared: Prepared, pair: Pair) -> Iterator[RuleVerdict]:
    """Yield what the keeper asked for that goes against further visits of a pair that has met."""
    locks = prepared.records.settings.locks
    for animal in pair:
        if animal in locks.sit_out:
            words = f"take {prepared.label(animal)} off locks.sit_out, where you asked for rest."
            yield RuleVerdict(rule="sit_out", subject=(animal,), passed=False, text=words)
    if pair in locks.never_pair:
        words = "take the two off locks.never_pair, where you keep them apart."
        yield RuleVerdict(rule="never_pair", subject=pair, passed=False, text=words)


def _pair_start(prepared: Prepared, dam: str, sire: str) -> PairStart:
    """Return when a pair may first meet; one that is made already has met, whatever rules say."""
    if (dam, sire) in prepared.records.already_paired:
        return PairStart(day=first_visit(prepared.records, dam, sire))
    start = prepared.meetings.of(dam, sire)
    assert start is not None
    return start


def _clutches(
    prepared: Prepared,
    pairs: Sequence[tuple[Animal, Animal]],
    starts: Mapping[Pair, PairStart],
    like: Candidates | None,
) -> dict[Pair, ClutchForecast]:
    """Return the forecast of each pair, the one made before where its parts are the same.

    A pair that is made already and gets no further visit has those that were made.
    """
    forecasts, visiting = prepared.forecasts, Visiting.of(prepared)
    same = same_clutches(like.pricing.prepared.forecasts, forecasts) if like else frozenset()
    found = {}
    for dam, sire in pairs:
        pair = (dam.id, sire.id)
        known = like.clutches.get(pair) if like and dam.id in same else None
        served = visiting.served_so_far(dam.id) if _held(prepared, pair) else None
        is_same = known is not None and known.goes == visiting.goes(pair, starts[pair], served)
        if known is None or not is_same:
            known = visiting.clutch(dam, sire, starts[pair], served)
        found[pair] = known
    return found


def pair_figures(prepared: Prepared, dam: Animal, sire: Animal) -> PairFigures:
    """Return what the pair rules judge by."""
    accepted = frozenset(prepared.records.settings.rules.accept_welfare)
    return PairFigures(
        F=prepared.kinship.phi(dam.id, sire.id),
        generations=min(prepared.generations[dam.id], prepared.generations[sire.id]),
        risks=welfare_risks(prepared.cross(dam.id, sire.id), prepared.catalogue, accepted),
        exception=prepared.rules.exceptions.get((dam.id, sire.id), ""),
    )


@dataclass(frozen=True, slots=True)
class _Meetings:
    """Who may meet whom; ``genes`` are those of welfare notes that each animal may carry.

    It is known which of these matter together, and what rules say of pairs of the same figures.
    """

    prepared: Prepared
    genes: Mapping[str, frozenset[str]]
    bear: dict[frozenset[str], bool] = field(default_factory=dict)
    known: dict[tuple[float, int], bool] = field(default_factory=dict)

    def barred(self, dam: Animal, sire: Animal) -> bool:
        """Say whether a pair rule fails; without a cross where no welfare note can be met."""
        prepared = self.prepared
        genes = self.genes[dam.id] | self.genes[sire.id]
        if genes not in self.bear:
            self.bear[genes] = bears_on_welfare(genes, prepared.catalogue)
        if self.bear[genes] or (dam.id, sire.id) in prepared.rules.exceptions:
            return pair_barred(pair_figures(prepared, dam, sire), prepared.rules)
        kinship = prepared.kinship.phi(dam.id, sire.id)
        generations = min(prepared.generations[dam.id], prepared.generations[sire.id])
        if (kinship, generations) not in self.known:
            figures = PairFigures(F=kinship, generations=generations)
            self.known[kinship, generations] = pair_barred(figures, prepared.rules)
        return self.known[kinship, generations]


def pair_verdicts(prepared: Prepared, dam: str, sire: str) -> tuple[RuleVerdict, ...]:
    """Return the verdict of every pair rule, in whole sentences, and what bars their first day."""
    female, male = prepared.animals[dam], prepared.animals[sire]
    verdicts = judge_pair(female, male, prepared.rules, pair_figures(prepared, female, male))
    in_collection = dam in prepared.starts and sire in prepared.starts
    return (*verdicts, *(prepared.meetings.bars(dam, sire) if in_collection else ()))


def _meetings(
    prepared: Prepared, own: Sequence[Animal]
) -> tuple[list[tuple[Animal, Animal]], list[Pair]]:
    """Split all meetings of animals that may start into those left open and those barred.

    Pairs already made stay open whatever the rules say: they are facts, and the dam meets no other.
    Two that refused each other meet no more.
    """
    locks = prepared.records.settings.locks
    made = dict(prepared.records.already_paired)
    never = set(locks.never_pair) | prepared.records.state.refused
    resting = set(locks.sit_out)
    able = [animal for animal in own if prepared.starts[animal.id].day is not None]
    sires = [animal for animal in able if animal.sex is Sex.MALE and animal.id not in resting]
    meetings = _Meetings(
        prepared, {a.id: watched_genes(prepared.genotypes[a.id], prepared.catalogue) for a in able}
    )
    open_pairs = [(prepared.animals[dam], prepared.animals[sire]) for dam, sire in made.items()]
    barred: list[Pair] = []
    for dam in able:
        if dam.sex is not Sex.FEMALE or dam.id in resting or dam.id in made:
            continue
        for sire in sires:
            if (dam.id, sire.id) in never:
                continue
            if meetings.barred(dam, sire) or prepared.meetings.of(dam.id, sire.id) is None:
                barred.append((dam.id, sire.id))
            else:
                open_pairs.append((dam, sire))
    return sorted(open_pairs, key=lambda pair: (pair[0].id, pair[1].id)), barred
