"""What to say when nothing leads to a target: what is missing, and what to buy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Inheritance, fold
from brumal.genetics.genotypes import WILD, AllelePair
from brumal.genetics.notation.naming import name_of
from brumal.genetics.welfare import genotype_name
from brumal.genetics.wishes import Wish
from brumal.pipeline import Prepared
from brumal.records.animals import Sex
from brumal.routes.find import SAME, best_policy, chance_of
from brumal.routes.framing import Purchase, Start, frame_of
from brumal.routes.ready import hatch_day
from brumal.routes.route import Route
from brumal.routes.schedules import kinds_of, schedules
from brumal.routes.telling import told

FURTHEST = 8
"""Seasons beyond the asked ones that are looked at to say when a route would first lead there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One animal that might be bought: in words, and the first season that could bring a target."""

    words: str
    sex: Sex
    seasons: int | None
    year: int | None
    chance: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Missing:
    """Why nothing leads to a target in time.

    ``genes`` are the genes that no animal that may breed can carry, each with the ids of animals
    that carry it and may not breed. ``later`` is the first year in which the collection could bring
    a target if more seasons are given. ``tried`` are animals that might be bought, the shortest
    route first (of equals the likeliest), and ``route`` the route with the first of them.
    """

    genes: Mapping[str, tuple[str, ...]]
    later: int | None
    tried: tuple[Tried, ...]
    route: Route | None


def missing_for(start: Start, seasons: int, keep: int) -> Missing:
    """Return what is missing to reach the target within so many seasons."""
    absent = _absent(start)
    later = None
    if not absent:
        first = _first_season(start, range(seasons + 1, max(seasons, FURTHEST) + 1))
        later = hatch_day(start.prepared, first).year if first else None
    found: list[tuple[tuple[int, float, str], Tried, Start]] = []
    for purchase in _purchases(start, tuple(absent) or tuple(sorted(start.genes.wish.genes))):
        bought = start.with_bought(purchase)
        first = _first_season(bought, range(1, seasons + 1))
        chance = _rough(bought, first) if first else 0.0
        tried = Tried(
            words=purchase.words,
            sex=purchase.sex,
            seasons=first,
            year=hatch_day(start.prepared, first).year if first else None,
            chance=chance,
        )
        found.append(((first or FURTHEST + seasons, -chance, purchase.id), tried, bought))
    found.sort(key=lambda each: each[0])
    best = found[0] if found and found[0][1].seasons else None
    return Missing(
        genes=absent,
        later=later,
        tried=tuple(tried for _, tried, _ in found),
        route=_route(best[2], seasons, keep) if best else None,
    )


def harmful_target(prepared: Prepared, wish: Wish) -> str:
    """Return the genotype with a welfare note that the target itself falls under, or nothing."""
    accepted = {fold(entry) for entry in prepared.records.settings.rules.accept_welfare}
    least = [min(need.pairs, key=_mutants) for need in wish.needs]
    copies = [allele for pair in least for allele in pair]
    for note in prepared.catalogue.welfare:
        name = genotype_name(note, prepared.catalogue)
        carried = all(copies.count(gene) >= count for gene, count in note.carries.items())
        if note.excluded and carried and fold(name) not in accepted:
            return name
    return ""


def _mutants(pair: AllelePair) -> tuple[int, AllelePair]:
    return sum(allele != WILD for allele in pair), pair


def _absent(start: Start) -> dict[str, tuple[str, ...]]:
    """Return the genes that no animal that may breed can carry, and who else carries them."""
    genes = start.genes
    carried: set[str] = set()
    for name in start.founders:
        for kind, _ in kinds_of(start, name):
            for pair in genes.pairs(genes.genes(kind)).values():
                carried.update(pair)
    prepared = start.prepared
    return {
        gene: tuple(
            animal.id
            for animal in prepared.records.collection
            if animal.id not in start.founders and _shows(prepared, animal.id, gene)
        )
        for gene in sorted(genes.wish.genes)
        if gene not in carried
    }


def _shows(prepared: Prepared, name: str, gene: str) -> bool:
    return any(
        gene in strand
        for belief in prepared.genotypes[name].groups.values()
        for pair, chance in belief
        if chance > 0
        for strand in pair
    )


def _purchases(start: Start, genes: tuple[str, ...]) -> Iterator[Purchase]:
    """Yield the animals that might be bought: visuals and hets of either sex.

    Where genes are missing, one animal that carries all of them; else one for each gene.
    """
    alone = bool(_absent(start))
    sets = [genes] if alone else [(gene,) for gene in genes]
    alleles = start.genes.catalogue.alleles
    for chosen in sets:
        recessive = [alleles[g].inheritance is Inheritance.RECESSIVE for g in chosen]
        for copies in (2, 1) if any(recessive) else (1,):
            pairs = tuple(
                (alleles[gene].locus, (gene, gene) if hidden and copies == 2 else (WILD, gene))
                for gene, hidden in zip(chosen, recessive, strict=True)
            )
            words = name_of(dict(pairs), start.genes.catalogue)
            for sex in Sex:
                yield Purchase(
                    id=f"bought {sex} {words}", sex=sex, pairs=pairs, words=f"a {sex} {words}"
                )


def _first_season(start: Start, seasons: range) -> int | None:
    """Return the first number of seasons within which some schedule leads to a target."""
    return next((each for each in seasons if schedules(start, each, 1)), None)


def _rough(start: Start, seasons: int) -> float:
    """Return the chance of the likeliest schedule, by its policy of least width."""
    for schedule in schedules(start, seasons, 1):
        frame = frame_of(start, schedule.founders, seasons, 2)
        if frame is not None:
            return chance_of(best_policy(frame))
    return 0.0


def _route(start: Start, seasons: int, keep: int) -> Route | None:
    """Return the likeliest route of the first sets of founders."""
    best = None
    for schedule in schedules(start, seasons, 3):
        frame = frame_of(start, schedule.founders, seasons, keep)
        policy = best_policy(frame) if frame is not None else None
        if policy and chance_of(policy) > (chance_of(best) if best else SAME):
            best = policy
    return told(start, best) if best else None
