"""Young that do not live, and young that are harmed: what notes take from a clutch.

A note counts whether or not the keeper lifts the rule that keeps such pairs out of plans: lifting
it makes no young healthy. Notes that hang on one linkage group are exact; one that needs genes of
several groups is taken as independent of all else about the young.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue, Harm, WelfareNote
from brumal.genetics.crosses.pair_odds import cross_pair
from brumal.genetics.evidence.infer import Inferred
from brumal.genetics.genotypes import Belief, Case, Diplotype, GroupOdds, Offspring
from brumal.genetics.welfare import Demand, watched_genes, watched_notes, welfare_risks
from brumal.records.animals import Animal, Sex


def is_harmed(group: str, found: Diplotype, catalogue: Catalogue) -> bool:
    """Say whether a diplotype falls under a lethal or neurological note of its group alone."""
    return any(demand.met(found) for demand in _of_group(catalogue, lethal=False).get(group, ()))


def harm_groups(catalogue: Catalogue) -> frozenset[str]:
    """Return the linkage groups on which a lethal or neurological note hangs alone."""
    return frozenset(_of_group(catalogue, lethal=False))


def living(group: str, young: Belief, catalogue: Catalogue) -> Belief:
    """Return the odds of those young that live; all of them where none does.

    The same object comes back where no lethal note of this group alone is met.
    """
    demands = _of_group(catalogue, lethal=True).get(group, ())
    if not any(demand.met(found) for found, _ in young for demand in demands):
        return young
    left = [(found, p) for found, p in young if not any(demand.met(found) for demand in demands)]
    whole = math.fsum(p for _, p in left)
    return tuple((found, p / whole) for found, p in left) if whole > 0 else young


def living_cases(odds: GroupOdds, catalogue: Catalogue) -> tuple[Case, ...]:
    """Return the cases of a linkage group among those young that live, by their share of them."""
    demands = _of_group(catalogue, lethal=True).get(odds.group, ())
    if not demands:
        return odds.cases
    left = [
        Case(
            case.weight * _alive(case.outcomes, demands),
            living(odds.group, case.outcomes, catalogue),
        )
        for case in odds.cases
    ]
    whole = math.fsum(case.weight for case in left)
    if whole <= 0:
        return odds.cases
    return tuple(Case(case.weight / whole, case.outcomes) for case in left if case.weight > 0)


def living_young(offspring: Offspring, catalogue: Catalogue) -> Offspring:
    """Return those young of a pair that live."""
    groups = [GroupOdds(odds.group, living_cases(odds, catalogue)) for odds in offspring.groups]
    return Offspring(tuple(groups))


def _alive(young: Belief, demands: tuple[Demand, ...]) -> float:
    return math.fsum(p for found, p in young if not any(demand.met(found) for demand in demands))


def lethal_share(offspring: Offspring, catalogue: Catalogue) -> float:
    """Return the share of the young of a pair that do not live."""
    alive = 1.0
    for odds in offspring.groups:
        demands = _of_group(catalogue, lethal=True).get(odds.group, ())
        if demands:
            alive *= math.fsum(case.weight * _alive(case.outcomes, demands) for case in odds.cases)
    for risk in welfare_risks(offspring, catalogue):
        if risk.note.harm is Harm.LETHAL and _spans_groups(risk.note, catalogue):
            alive *= 1 - risk.probability
    return 1 - alive


def lethal_shares(
    animals: Iterable[Animal], inferred: Inferred, catalogue: Catalogue
) -> dict[tuple[str, str], float]:
    """Return the share of young that do not live, of every pair in which there are any."""
    asked = [note.carries.keys() for note in catalogue.welfare if note.harm is Harm.LETHAL]
    genes = {
        animal.id: watched_genes(inferred.genotypes[animal.id], catalogue) for animal in animals
    }
    carriers = [animal for animal in animals if any(genes[animal.id] & each for each in asked)]
    found = {}
    for dam in (each for each in carriers if each.sex is not Sex.MALE):
        for sire in (each for each in carriers if each.sex is not Sex.FEMALE and each is not dam):
            if any(each <= genes[dam.id] | genes[sire.id] for each in asked):
                share = lethal_share(cross_pair(inferred, dam.id, sire.id), catalogue)
                if share > 0:
                    found[dam.id, sire.id] = share
    return found


def _spans_groups(note: WelfareNote, catalogue: Catalogue) -> bool:
    return any(item.note is note and len(item.demands) > 1 for item in watched_notes(catalogue))


@lru_cache(maxsize=16)
def _of_group(catalogue: Catalogue, *, lethal: bool) -> Mapping[str, tuple[Demand, ...]]:
    """Return what notes of one linkage group alone ask, lethal ones or all that are left out."""
    found: dict[str, tuple[Demand, ...]] = {}
    for item in watched_notes(catalogue):
        wanted = item.note.harm is Harm.LETHAL if lethal else item.note.excluded
        if wanted and len(item.demands) == 1:
            ((group, demand),) = item.demands.items()
            found[group] = (*found.get(group, ()), demand)
    return found
