"""Records that cannot all be true: find few of them that contradict each other.

QuickXplain (Junker 2004, AAAI-04, 167-172, from memory) shrinks the evidence near the place where
it breaks to a set from which nothing can be left out; what stands nearest is blamed first.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Sequence

from brumal.genetics.evidence.bucket_tree import LARGEST_TABLE, BucketTree, plan_elimination
from brumal.genetics.evidence.family_network import Item, components, forward, narrow, potentials
from brumal.genetics.evidence.group_evidence import GroupEvidence

_FIRST_LOOK = 8


def contradiction(evidence: GroupEvidence, near: Sequence[int]) -> tuple[Item, ...]:
    """Return pieces of evidence that contradict each other, none of which can be left out.

    The search widens from the animals ``near`` the break. Evidence whose test would need too large
    a table is kept, so the set may then hold too much. An empty result means that hidden alleles of
    founders can explain everything.
    """
    ranked = _by_distance(evidence, near)
    count = _FIRST_LOOK
    while True:
        close = ranked[:count]
        if not is_consistent(evidence, close):
            return tuple(_shrunk([], [], close, lambda items: is_consistent(evidence, items)))
        if count >= len(ranked):
            return ()
        count *= 4


def is_consistent(evidence: GroupEvidence, items: Collection[Item]) -> bool:
    """Say whether any genotypes at all fit this evidence (also if that is too large to test)."""
    network = evidence.only(set(items))
    domains, stuck = forward(network)
    if stuck or narrow(network, domains):
        return False
    factors = potentials(network, domains)
    sizes = {number: mask.bit_count() for number, mask in domains.items()}
    for part in components(factor.scope for factor in factors):
        inside = set(part)
        own = [factor for factor in factors if factor.scope[0] in inside]
        plan = plan_elimination((factor.scope for factor in own), sizes)
        if plan.largest <= LARGEST_TABLE and not BucketTree(own, plan).possible:
            return False
    return True


def _shrunk(
    fixed: list[Item],
    added: list[Item],
    items: list[Item],
    consistent: Callable[[list[Item]], bool],
) -> list[Item]:
    """Return a smallest part of ``items`` that contradicts itself and ``fixed`` (QuickXplain)."""
    if added and not consistent(fixed):
        return []
    if len(items) == 1:
        return items
    first, second = items[: len(items) // 2], items[len(items) // 2 :]
    late = _shrunk([*fixed, *first], first, second, consistent)
    early = _shrunk([*fixed, *late], late, first, consistent)
    return early + late


def _by_distance(evidence: GroupEvidence, near: Sequence[int]) -> list[Item]:
    """Return all evidence that touches the family of ``near``, the closest first."""
    kin = evidence.kin
    distance = dict.fromkeys(near, 0)
    waiting = deque(near)
    mates: dict[int, list[int]] = {}
    for clutch in evidence.clutches:
        mates.setdefault(clutch.dam, []).append(clutch.sire)
        mates.setdefault(clutch.sire, []).append(clutch.dam)
    while waiting:
        number = waiting.popleft()
        around = (*(kin.parents[number] or ()), *kin.young[number], *mates.get(number, ()))
        for other in around:
            if other not in distance:
                distance[other] = distance[number] + 1
                waiting.append(other)
    reached = []
    for place, item in enumerate(evidence.items):
        far = [distance.get(number) for number in evidence.numbers(item)]
        steps = [step for step in far if step is not None]
        if len(steps) == len(far):
            reached.append((max(steps), place, item))
    return [item for _, _, item in sorted(reached)]
