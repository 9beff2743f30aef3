"""What to say when nothing leads to a target: what is missing, and what to buy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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
    """What might be bought: in words, and the first season that could bring a target."""

    words: str
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
    """Return what is missing to reach the target within so many seasons.

    One animal bought is tried first; only where none is enough, a female and a male.
    """
    absent = _absent(start)
    later = None
    if not absent:
        first = _first_season(start, range(seasons + 1, max(seasons, FURTHEST) + 1))
        later = hatch_day(start.prepared, first).year if first else None
    named = tuple(absent) or tuple(sorted(start.genes.wish.genes))
    sets = [named] if absent else [(gene,) for gene in named]
    alone = [(one,) for genes in sets for one in _animals(start, genes)]
    found = _try(start, alone, seasons)
    if not any(tried.seasons for tried, _ in found):
        found += _try(start, [pair for genes in sets for pair in _couples(start, genes)], seasons)
    found.sort(key=lambda each: (each[0].seasons or 1000, -each[0].chance))
    best = next((bought for tried, bought in found if tried.seasons), None)
    return Missing(
        genes=absent,
        later=later,
        tried=tuple(tried for tried, _ in found),
        route=_route(best, seasons, keep) if best else None,
    )


def _try(
    start: Start, purchases: Sequence[Sequence[Purchase]], seasons: int
) -> list[tuple[Tried, Start]]:
    """Return for each purchase the first season that could bring a target."""
    found = []
    for purchase in purchases:
        bought = start
        for one in purchase:
            bought = bought.with_bought(one)
        first = _first_season(bought, range(1, seasons + 1))
        tried = Tried(
            words=" and ".join(one.words for one in purchase),
            seasons=first,
            year=hatch_day(start.prepared, first).year if first else None,
            chance=_rough(bought, first) if first else 0.0,
        )
        found.append((tried, bought))
    return found


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


def _animals(start: Start, genes: Sequence[str]) -> Iterator[Purchase]:
    """Yield the animals that might be bought for some genes: visuals and hets of either sex."""
    alleles = start.genes.catalogue.alleles
    recessive = [alleles[gene].inheritance is Inheritance.RECESSIVE for gene in genes]
    for visual in (True, False) if any(recessive) else (True,):
        pairs = tuple(
            (alleles[gene].locus, (gene, gene) if hidden and visual else (WILD, gene))
            for gene, hidden in zip(genes, recessive, strict=True)
        )
        name = name_of(dict(pairs), start.genes.catalogue)
        for sex in Sex:
            words = f"a {sex} {name}"
            yield Purchase(id=f"bought {sex} {name}", sex=sex, pairs=pairs, words=words)


def _couples(start: Start, genes: Sequence[str]) -> list[tuple[Purchase, Purchase]]:
    """Return a female and a male of the same kind each."""
    animals = list(_animals(start, genes))
    return [
        (one, other)
        for one in animals
        for other in animals
        if one.sex is Sex.FEMALE and other.sex is Sex.MALE and one.pairs == other.pairs
    ]


def _first_season(start: Start, seasons: range) -> int | None:
    """Return the first number of seasons within which some schedule leads to a target."""
    return next((each for each in seasons if schedules(start, each, 1)), None)


def _rough(start: Start, seasons: int) -> float:
    """Return the chance of the likeliest schedule, by its policy of least width."""
    for founders in schedules(start, seasons, 1):
        frame = frame_of(start, founders, seasons, 2)
        if frame is not None:
            return chance_of(best_policy(frame))
    return 0.0


def _route(start: Start, seasons: int, keep: int) -> Route | None:
    """Return the likeliest route of the first sets of founders."""
    best = None
    for founders in schedules(start, seasons, 3):
        frame = frame_of(start, founders, seasons, keep)
        policy = best_policy(frame) if frame is not None else None
        if policy and chance_of(policy) > (chance_of(best) if best else SAME):
            best = policy
    return told(start, best) if best else None
