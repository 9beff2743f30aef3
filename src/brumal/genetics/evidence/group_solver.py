"""Solve one linkage group of a whole pedigree: what each animal is, and how sure that is.

Founders are first taken as recorded. Evidence which that makes impossible is explained by the
fewest hidden founder alleles (their chance vanishing), and what even those cannot explain is
reported as a contradiction and left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from brumal.genetics.evidence.bucket_tree import (
    LARGEST_TABLE,
    BucketTree,
    FloatArray,
    IntArray,
    Potential,
    plan_elimination,
)
from brumal.genetics.evidence.contradictions import contradiction
from brumal.genetics.evidence.family_network import (
    Item,
    Network,
    components,
    forward,
    narrow,
    potentials,
)
from brumal.genetics.evidence.group_evidence import GroupEvidence
from brumal.genetics.evidence.group_space import RECORDED_COST
from brumal.genetics.evidence.iterative_peeling import loopy_marginals
from brumal.genetics.genotypes import Diplotype

_NEGLIGIBLE = 1e-6


@dataclass(frozen=True, eq=False)
class Part:
    """Uncertain animals whose genotypes hang together; ``tree`` is ``None`` over the limit."""

    numbers: tuple[int, ...]
    factors: tuple[Potential, ...]
    sizes: dict[int, int]
    tree: BucketTree | None
    cells: int

    @cached_property
    def approximate(self) -> dict[int, FloatArray]:
        """Marginals by loopy belief propagation, where the exact table would be too large.

        What vanishes exactly elsewhere is here only small, and is cut off where it stays so.
        """
        plain = [
            Potential(factor.scope, factor.values * _small(factor.orders))
            for factor in self.factors
        ]
        marginals = loopy_marginals(plain, self.sizes)
        kept = {n: np.where(p > _NEGLIGIBLE, p, 0.0) for n, p in marginals.items()}
        return {number: chances / chances.sum() for number, chances in kept.items()}

    def marginal(self, number: int) -> FloatArray:
        """Return the probabilities of what an animal of this part may be, shape (states,)."""
        return self.approximate[number] if self.tree is None else self.tree.marginal(number)


@dataclass(frozen=True, eq=False)
class GroupResult:
    """The solved group; ``proofs`` need hidden founder alleles, ``clashes`` contradict."""

    evidence: GroupEvidence
    network: Network
    domains: dict[int, int]
    parts: tuple[Part, ...]
    proofs: tuple[Item, ...]
    clashes: tuple[tuple[Item, ...], ...]

    @cached_property
    def part_of(self) -> dict[int, Part]:
        """The part in which each uncertain animal stands."""
        return {number: part for part in self.parts for number in part.numbers}

    def diplotypes(self, number: int) -> tuple[Diplotype, ...]:
        """Return what an animal may be, in the order of its marginals."""
        return self.evidence.space.diplotypes(self.domains[number])

    def odds(self, number: int) -> tuple[tuple[int, float], ...]:
        """Return (number of the diplotype, probability) of an animal, nothing impossible."""
        members = self.evidence.space.members(self.domains[number])
        if len(members) == 1:
            return ((members[0], 1.0),)
        chances = self.part_of[number].marginal(number)
        return tuple((m, float(p)) for m, p in zip(members, chances, strict=True) if p > 0)


@dataclass(slots=True)
class _Search:
    """The evidence still believed, the founders that may hide alleles, and why."""

    evidence: GroupEvidence
    relaxed: set[int] = field(default_factory=set)
    proofs: dict[Item, None] = field(default_factory=dict)
    clashes: list[tuple[Item, ...]] = field(default_factory=list)

    def set_aside(self, clash: tuple[Item, ...]) -> None:
        """Note a contradiction and go on without it."""
        self.clashes.append(clash)
        self.evidence = self.evidence.without(clash)
        self.proofs = {item: None for item in self.proofs if item not in clash}


def solve_group(evidence: GroupEvidence, largest: int = LARGEST_TABLE) -> GroupResult:
    """Return what every animal may be at the group, by all evidence together.

    ``largest`` is the number of cells of the largest table to be worked exactly; a part of the
    pedigree that needs more is approximated and says so (``Part.tree`` is ``None``).
    """
    search = _Search(evidence)
    while True:
        network = search.evidence.network(search.relaxed)
        domains, stuck = forward(network)
        if stuck:
            _explain(search, stuck)
            continue
        misfits: Sequence[int] = narrow(network, domains)
        if not misfits:
            parts = _parts(network, domains, largest)
            impossible = (p for p in parts if p.tree is not None and not p.tree.possible)
            misfits = next((part.numbers for part in impossible), ())
            if not misfits:
                return GroupResult(
                    evidence=search.evidence,
                    network=network,
                    domains=domains,
                    parts=parts,
                    proofs=tuple(search.proofs),
                    clashes=tuple(search.clashes),
                )
        _unravel(search, misfits)


def _explain(search: _Search, stuck: Sequence[Item]) -> None:
    """Let founders hide alleles for evidence without explanation; else find what contradicts."""
    before = set(search.relaxed)
    for item in stuck:
        able = search.evidence.relaxable(search.evidence.numbers(item))
        if able:
            search.proofs[item] = None
            search.relaxed |= able
    if search.relaxed > before:
        return
    item = stuck[0]
    search.set_aside(contradiction(search.evidence, search.evidence.numbers(item)) or (item,))


def _unravel(search: _Search, misfits: Sequence[int]) -> None:
    """Deal with evidence that breaks only when several families are taken together."""
    evidence = search.evidence
    for circle in (misfits, range(len(evidence.kin.ids))):
        more = evidence.relaxable(circle) - search.relaxed
        if more:
            search.relaxed |= more
            return
        clash = contradiction(evidence, misfits)
        if clash:
            search.set_aside(clash)
            return
    # The test of what contradicts was too large: set aside all that is near.
    search.set_aside(tuple(("animal", number) for number in misfits))


def _parts(network: Network, domains: dict[int, int], largest: int) -> tuple[Part, ...]:
    """Return the connected parts of what is uncertain, each with its calibrated tree."""
    factors = potentials(network, domains)
    parts = components(factor.scope for factor in factors)
    place = {number: index for index, part in enumerate(parts) for number in part}
    own: list[list[Potential]] = [[] for _ in parts]
    for factor in factors:
        own[place[factor.scope[0]]].append(factor)
    made = []
    for numbers, mine in zip(parts, own, strict=True):
        sizes = {number: domains[number].bit_count() for number in numbers}
        plan = plan_elimination((factor.scope for factor in mine), sizes)
        tree = BucketTree(mine, plan) if plan.largest <= largest else None
        made.append(Part(numbers, tuple(mine), sizes, tree, plan.largest))
    return tuple(made)


def _small(orders: IntArray | None) -> FloatArray | float:
    """Return a small chance for each order: records doubted, then unrecorded hidden alleles."""
    if orders is None:
        return 1.0
    doubted, hidden = np.divmod(orders, RECORDED_COST)
    return np.asarray(1e-8**doubted * 1e-4**hidden)
