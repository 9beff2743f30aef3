"""All crosses of a large collection against a plain enumeration of gametes.

500 females x 100 males, 12 segregating loci in all (one of them sex-linked, two linked with each
other), up to 6 in one pair, a third of the hets only possible. The enumeration walks every strand
pattern over all loci of a pair together; it is timed on a random sample of pairs and scaled up.
"""

from __future__ import annotations

import gc
import itertools
import random
import time
import tracemalloc

import pytest

from brumal.genetics.catalogue.genes import Catalogue, LinkageGroup
from brumal.genetics.crosses.clutch_odds import visual_classes
from brumal.genetics.crosses.cross import cross, group_odds, marginal, young_of
from brumal.genetics.crosses.meiosis import gametes as gametes_of
from brumal.genetics.genotypes import Belief, Diplotype, Genotype, Offspring, diplotype
from genes_for_tests import INCOMPLETE, RECESSIVE, catalogue_of, sex_linked

FEMALES, MALES, CARRIED, SAMPLE = 500, 100, 3, 60

LOCI = [f"l{number}" for number in range(12)]
GENES: Catalogue = catalogue_of(
    {f"G{n}": (locus, INCOMPLETE if n % 3 == 0 else RECESSIVE) for n, locus in enumerate(LOCI)},
    linked=(
        LinkageGroup(id="linked", loci=("l1", "l2"), recombination=(0.1,)),
        sex_linked("l0", recombination=(0.05,)),
    ),
)
GROUP_OF = {locus: group.id for group in GENES.groups.values() for locus in group.loci}


def animal(rng: random.Random, sex: str, *, figures_differ: bool) -> Genotype:
    """Make an animal that carries a mutant allele at three of the twelve loci.

    A third of the hets are possible hets: of 2/3 each, or each with a figure of its own as evidence
    leaves them, which is the worst case for sharing.
    """
    carried = set(rng.sample(LOCI, CARRIED))
    groups: dict[str, Belief] = {}
    for group in GENES.groups.values():
        mutant = tuple(
            ("X" if locus == "sex" else f"G{locus[1:]}" if locus in carried else "+")
            for locus in group.loci
        )
        wild = tuple(
            ("X" if sex == "female" else "Y") if locus == "sex" else "+" for locus in group.loci
        )
        bare = tuple("X" if locus == "sex" else "+" for locus in group.loci)
        if group.id != "sex" and not carried & set(group.loci):
            continue
        if group.id == "sex" or rng.random() > 1 / 3:
            groups[group.id] = ((diplotype(mutant, wild), 1.0),)
        else:
            chance = rng.uniform(0.05, 0.95) if figures_differ else 2 / 3
            groups[group.id] = tuple(
                sorted(((diplotype(bare, wild), 1 - chance), (diplotype(mutant, wild), chance)))
            )
    return Genotype(groups)


def enumerated(dam: Genotype, sire: Genotype) -> dict[tuple[Diplotype, ...], float]:
    """Enumerate every gamete of each possible dam and sire over all their loci together."""
    ids = sorted({*dam.groups, *sire.groups})
    total: dict[tuple[Diplotype, ...], float] = {}
    wild = {name: ((("+",) * len(GENES.groups[name].loci),) * 2, 1.0) for name in ids}
    for mother in itertools.product(*(dam.groups.get(name, (wild[name],)) for name in ids)):
        for father in itertools.product(*(sire.groups.get(name, (wild[name],)) for name in ids)):
            weight = 1.0
            for _, chance in (*mother, *father):
                weight *= chance
            eggs = gametes([pair for pair, _ in mother], ids)
            sperm = gametes([pair for pair, _ in father], ids)
            for (egg, p), (other, q) in itertools.product(eggs.items(), sperm.items()):
                young = tuple(map(diplotype, egg, other))
                total[young] = total.get(young, 0.0) + weight * p * q
    return total


def gametes(pairs: list[Diplotype], ids: list[str]) -> dict[tuple[tuple[str, ...], ...], float]:
    """Enumerate the strands copied at each locus that differs, all groups together."""
    found: dict[tuple[tuple[str, ...], ...], float] = {}
    choices = []
    for (one, two), name in zip(pairs, ids, strict=True):
        if one == two:
            choices.append([(one, 1.0)])
            continue
        fractions = GENES.groups[name].recombination
        patterns = []
        for path in itertools.product((0, 1), repeat=len(one)):
            chance = 0.5
            for left, right, fraction in zip(path, path[1:], fractions, strict=False):
                chance *= fraction if left != right else 1 - fraction
            patterns.append((tuple((one, two)[s][i] for i, s in enumerate(path)), chance))
        choices.append(patterns)
    for together in itertools.product(*choices):
        chance = 1.0
        for _, p in together:
            chance *= p
        key = tuple(strand for strand, _ in together)
        found[key] = found.get(key, 0.0) + chance
    return found


def written_out(young: Offspring, ids: list[str]) -> dict[tuple[Diplotype, ...], float]:
    """Multiply the groups of a cross out into one table, for comparison."""
    tables = {odds.group: marginal(odds) for odds in young.groups}
    wild = {name: (((("+",) * len(GENES.groups[name].loci),) * 2, 1.0),) for name in ids}
    table: dict[tuple[Diplotype, ...], float] = {}
    for together in itertools.product(*(tables.get(name, wild[name]) for name in ids)):
        chance = 1.0
        for _, p in together:
            chance *= p
        table[tuple(pair for pair, _ in together)] = chance
    return table


@pytest.mark.benchmark
@pytest.mark.parametrize("figures_differ", [False, True], ids=["66-percent", "own-figures"])
def test_all_crosses_of_a_large_collection(figures_differ: bool) -> None:
    rng = random.Random(20261201)
    dams = [animal(rng, "female", figures_differ=figures_differ) for _ in range(FEMALES)]
    sires = [animal(rng, "male", figures_differ=figures_differ) for _ in range(MALES)]
    pairs = list(itertools.product(dams, sires))
    forget()
    start = time.perf_counter()
    young = [cross(dam, sire, GENES) for dam, sire in pairs]
    ours = time.perf_counter() - start

    sample = rng.sample(range(len(pairs)), SAMPLE)
    start = time.perf_counter()
    plain = [enumerated(*pairs[place]) for place in sample]
    theirs = (time.perf_counter() - start) * len(pairs) / SAMPLE
    start = time.perf_counter()
    looks = sum(len(visual_classes(young[place], GENES)) for place in sample)
    looks_time = (time.perf_counter() - start) * len(pairs) / SAMPLE

    for place, expected in zip(sample, plain, strict=True):
        ids = sorted({*pairs[place][0].groups, *pairs[place][1].groups})
        found = {key: p for key, p in written_out(young[place], ids).items() if p > 0}
        assert found == pytest.approx({k: p for k, p in expected.items() if p > 0}, abs=1e-12)

    tables = len({id(odds) for each in young for odds in each.groups})
    del young
    forget()
    tracemalloc.start()
    held = [cross(dam, sire, GENES) for dam, sire in pairs]
    memory, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(
        f"\n{len(held)} crosses: {ours:.2f} s, {1e6 * ours / len(held):.1f} us a pair; "
        f"plain enumeration {theirs:.0f} s (scaled from {SAMPLE} pairs): {theirs / ours:.0f}x\n"
        f"looks written out in full ({looks / SAMPLE:.0f} a pair): {looks_time:.0f} s more, "
        f"{theirs / (ours + looks_time):.1f}x with them\n"
        f"memory with all crosses and caches: {memory / 1e6:.0f} MB, peak {peak / 1e6:.0f} MB; "
        f"{tables} tables of odds"
    )
    assert theirs / ours >= 20


def forget() -> None:
    """Start cold: empty every cache of the crosses."""
    for cached in (gametes_of, young_of, group_odds):
        cached.cache_clear()
    gc.collect()
