"""One linkage group of a pedigree as a network: what each animal may be, and how chances combine.

First every animal's possible diplotypes are narrowed family by family until nothing more falls
(genotype elimination, Lange & Goradia 1987, Am J Hum Genet 40:250-256, from memory); what is then
certain drops out, and only the rest, in connected parts, needs tables of chances.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brumal.genetics.evidence.bucket_tree import FloatArray, Potential
from brumal.genetics.evidence.group_space import Brought, GroupSpace, Prior
from brumal.records.animals import Sex

Item = tuple[str, int]
"""A piece of evidence: ("animal", its number) or ("clutch", its place)."""


@dataclass(frozen=True, slots=True)
class ClutchLooks:
    """Young seen in one clutch that are not animals of the collection: (mask of look, how many)."""

    place: int
    dam: int
    sire: int
    looks: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Network:
    """One group: founders with priors, families with their young's looks, clutches.

    ``families`` maps a young to (dam, sire), parents' families first. ``seen`` maps a young to the
    mask that its look and claims allow, ``brought`` to alleles on the keeper's word alone.
    """

    space: GroupSpace
    founders: Mapping[int, Prior]
    families: Mapping[int, tuple[int, int]]
    seen: Mapping[int, int]
    brought: Mapping[int, tuple[Brought, ...]]
    clutches: tuple[ClutchLooks, ...]
    sexes: Sequence[Sex | None]


def forward(network: Network) -> tuple[dict[int, int], list[Item]]:
    """Return what each animal may be by its ancestors and itself, and who cannot be explained.

    An animal that its ancestors cannot explain is taken at its own word, so that every such animal
    is found in one pass and not the first alone.
    """
    space = network.space
    domains = {number: prior.mask for number, prior in network.founders.items()}
    stuck: list[Item] = []
    for number, mask in domains.items():
        if not mask:
            stuck.append(("animal", number))
            domains[number] = space.anything(network.sexes[number]).mask
    for number, (dam, sire) in network.families.items():
        seen = network.seen[number]
        given = space.reach(domains[dam], domains[sire], network.brought.get(number, ()))
        domains[number] = given & seen or seen or space.anything(network.sexes[number]).mask
        if not given & seen:
            stuck.append(("animal", number))
    for clutch in network.clutches:
        given = space.reach(domains[clutch.dam], domains[clutch.sire])
        if any(not given & look for look, _ in clutch.looks):
            stuck.append(("clutch", clutch.place))
    return domains, stuck


def narrow(network: Network, domains: dict[int, int]) -> tuple[int, ...]:
    """Narrow ``domains`` in place until every family and clutch fits; return who does not fit.

    An empty result means that no family by itself rules the evidence out.
    """
    touching = _touching(network)
    waiting: dict[Item, None] = {("clutch", place): None for place in range(len(network.clutches))}
    for number in reversed(tuple(network.families)):
        waiting["animal", number] = None
    while waiting:
        item = next(iter(waiting))
        del waiting[item]
        members, left = _revised(network, domains, item)
        if not all(left):
            return members
        for member, mask in zip(members, left, strict=True):
            if mask != domains[member]:
                domains[member] = mask
                waiting.update((other, None) for other in touching[member] if other != item)
    return ()


def _touching(network: Network) -> dict[int, list[Item]]:
    """Return the families and clutches that each animal has a part in."""
    touching: dict[int, list[Item]] = {}
    for number, parents in network.families.items():
        for member in (number, *parents):
            touching.setdefault(member, []).append(("animal", number))
    for place, clutch in enumerate(network.clutches):
        for member in (clutch.dam, clutch.sire):
            touching.setdefault(member, []).append(("clutch", place))
    return touching


def _revised(
    network: Network, domains: Mapping[int, int], item: Item
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the members of a family or clutch and what each may still be."""
    space = network.space
    kind, place = item
    if kind == "animal":
        dam, sire = network.families[place]
        brought = network.brought.get(place, ())
        return (place, dam, sire), space.fitting_family(
            domains[place], domains[dam], domains[sire], brought
        )
    clutch = network.clutches[place]
    looks = tuple(look for look, _ in clutch.looks)
    return (clutch.dam, clutch.sire), space.fitting_parents(
        domains[clutch.dam], domains[clutch.sire], looks
    )


def potentials(network: Network, domains: Mapping[int, int]) -> list[Potential]:
    """Return the tables of chances over the animals that are still uncertain."""
    made: list[Potential] = []
    tables: dict[tuple[int, int, int, tuple[Brought, ...]], FloatArray] = {}
    for number, prior in network.founders.items():
        if _open(domains[number]):
            made.append(_of_prior(network.space, number, domains[number], prior))
    for number, (dam, sire) in network.families.items():
        members = (number, dam, sire)
        if any(_open(domains[member]) for member in members):
            brought = network.brought.get(number, ())
            key = (domains[number], domains[dam], domains[sire], brought)
            if key not in tables:
                tables[key] = _family_table(network.space, *key)
            made.append(_over_open(members, tables[key], domains))
    for clutch in network.clutches:
        both = (clutch.dam, clutch.sire)
        if any(_open(domains[member]) for member in both):
            table = _clutch_table(network.space, clutch, domains)
            made.append(_over_open(both, table, domains))
    return made


def components(scopes: Iterable[Sequence[int]]) -> list[tuple[int, ...]]:
    """Return the connected parts of a network, each sorted, ordered by first member."""
    leader: dict[int, int] = {}

    def find(number: int) -> int:
        while leader[number] != number:
            leader[number] = leader[leader[number]]
            number = leader[number]
        return number

    for scope in scopes:
        for number in scope:
            leader.setdefault(number, number)
            low, high = sorted((find(scope[0]), find(number)))
            leader[high] = low
    parts: dict[int, list[int]] = {}
    for number in sorted(leader):
        parts.setdefault(find(number), []).append(number)
    return [tuple(part) for part in parts.values()]


def _family_table(
    space: GroupSpace, young: int, dams: int, sires: int, brought: tuple[Brought, ...]
) -> FloatArray:
    """Return the chance of each young (axis 0) of each dam (axis 1) and sire (axis 2)."""
    row = {number: place for place, number in enumerate(space.members(young))}
    table = np.zeros((len(row), len(space.members(dams)), len(space.members(sires))))
    for (d, dam), (s, sire) in itertools.product(
        enumerate(space.members(dams)), enumerate(space.members(sires))
    ):
        for number, chance in space.young(dam, sire, brought):
            if number in row:
                table[row[number], d, s] = chance
    return table


def _clutch_table(space: GroupSpace, clutch: ClutchLooks, domains: Mapping[int, int]) -> FloatArray:
    """Return the likelihood of the young seen for each dam (axis 0) and sire (axis 1).

    Alike young enter as a power; the greatest likelihood is scaled to one.
    """
    dams, sires = space.members(domains[clutch.dam]), space.members(domains[clutch.sire])
    logs = np.zeros((len(dams), len(sires)))
    for (d, dam), (s, sire) in itertools.product(enumerate(dams), enumerate(sires)):
        for look, count in clutch.looks:
            share = sum(chance for number, chance in space.young(dam, sire) if look >> number & 1)
            logs[d, s] += count * np.log(share) if share > 0 else -np.inf
    return np.asarray(np.exp(logs - logs.max()))


def _of_prior(space: GroupSpace, number: int, mask: int, prior: Prior) -> Potential:
    row = {each: place for place, each in enumerate(space.members(mask))}
    values, orders = np.zeros(len(row)), np.zeros(len(row), np.int64)
    for each, order, chance in prior.entries:
        if each in row:
            values[row[each]], orders[row[each]] = chance, order
    return Potential((number,), values, orders if orders.any() else None)


def _over_open(
    members: tuple[int, ...], table: FloatArray, domains: Mapping[int, int]
) -> Potential:
    """Return the table as a potential over those members that are uncertain."""
    uncertain = [axis for axis, member in enumerate(members) if _open(domains[member])]
    closed = tuple(axis for axis in range(len(members)) if axis not in uncertain)
    scope = [members[axis] for axis in uncertain]
    by_number = sorted(range(len(scope)), key=lambda axis: scope[axis])
    values = table.squeeze(closed).transpose(by_number)
    return Potential(tuple(sorted(scope)), values)


def _open(mask: int) -> bool:
    """Say whether more than one diplotype is left."""
    return bool(mask & (mask - 1))
