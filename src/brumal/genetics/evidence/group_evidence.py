"""All evidence at one linkage group, and the networks that can be made of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from brumal.genetics.evidence.family_network import ClutchLooks, Item, Network
from brumal.genetics.evidence.group_space import Brought, Claims, GroupSpace, Prior
from brumal.genetics.evidence.kindred import Kindred
from brumal.genetics.genotypes import ClaimKind
from brumal.genetics.masks import Veil


@dataclass(frozen=True)
class GroupEvidence:
    """What is recorded of one group: each animal's claims there and the looks of clutches.

    ``veils`` tells of animals whose look at another locus hides loci of this group.
    """

    space: GroupSpace
    kin: Kindred
    claims: Mapping[int, Claims]
    clutches: tuple[ClutchLooks, ...]
    veils: Mapping[int, Veil] = field(default_factory=dict)

    @property
    def items(self) -> list[Item]:
        """Every piece of evidence: the look of each recorded animal, the young of each clutch."""
        animals: list[Item] = [
            ("animal", number) for number, known in enumerate(self.kin.recorded) if known
        ]
        return animals + [("clutch", clutch.place) for clutch in self.clutches]

    def numbers(self, item: Item) -> tuple[int, ...]:
        """Return whom a piece of evidence speaks of: the animal, or the parents of the clutch."""
        kind, place = item
        return (place,) if kind == "animal" else self.kin.clutches[place]

    def relaxable(self, numbers: Iterable[int]) -> set[int]:
        """Return the founders among the ancestors that could hide more than their record says."""
        return {
            number
            for number in self.kin.ancestors(numbers)
            if self.kin.parents[number] is None and self._prior(number, hidden=True).hides
        }

    def network(self, relaxed: Collection[int]) -> Network:
        """Return the network of all evidence.

        Founders are what their record says, but for the ``relaxed`` ones, which may hide alleles
        with vanishing chance.
        """
        founders, seen = {}, {}
        for number, parents in enumerate(self.kin.parents):
            if parents is None:
                founders[number] = self._prior(number, hidden=number in relaxed)
            else:
                seen[number] = self._seen(number)
        return Network(
            self.space, founders, self._families, seen, self.brought, self.clutches, self.kin.sexes
        )

    def without(self, clash: Collection[Item]) -> GroupEvidence:
        """Return the evidence that is left when a contradiction is set aside.

        The youngest animals of it are taken at their own word, as founders; a founder's record and
        a clutch are left out.
        """
        elders = {
            elder
            for item in clash
            for number in self.numbers(item)
            for elder in self.kin.ancestors([number]) - ({number} if item[0] == "animal" else set())
        }
        youngest = {place for kind, place in clash if kind == "animal" and place not in elders}
        founders = {number for number in youngest if self.kin.parents[number] is None}
        clutches = tuple(c for c in self.clutches if ("clutch", c.place) not in clash)
        return replace(
            self,
            kin=self.kin.parted(youngest, founders),
            claims={n: claims for n, claims in self.claims.items() if n not in founders},
            veils={n: veil for n, veil in self.veils.items() if n not in founders},
            clutches=clutches,
        )

    def only(self, items: Collection[Item]) -> Network:
        """Return the network of these pieces of evidence alone, founders free to hide alleles."""
        kept = self.kin.ancestors(number for item in items for number in self.numbers(item))
        founders, seen, families = {}, {}, {}
        for number in sorted(kept):
            parents = self.kin.parents[number]
            told = ("animal", number) in items
            if parents is None:
                anything = self.space.anything(self.kin.sexes[number])
                founders[number] = self._prior(number, hidden=True) if told else anything
            else:
                families[number] = parents
                seen[number] = self._seen(number) if told else self._any(number)
        clutches = tuple(c for c in self.clutches if ("clutch", c.place) in items)
        return Network(self.space, founders, families, seen, self.brought, clutches, self.kin.sexes)

    @cached_property
    def brought(self) -> dict[int, tuple[Brought, ...]]:
        """The possible hets that no pedigree accounts for: there the keeper's figure is the prior.

        A possible het that recorded parents already make possible adds nothing of its own.
        """
        candidates = {number: self._possible_hets(number) for number in self._families}
        if not any(candidates.values()):
            return {}
        space, found = self.space, {}
        domains: dict[int, int] = {}
        for number, parents in enumerate(self.kin.parents):
            if parents is None:
                domains[number] = self._prior(number, hidden=False).mask or self._any(number)
                continue
            dam, sire = domains[parents[0]], domains[parents[1]]
            given = space.reach(dam, sire)
            own = tuple(
                brought
                for brought in candidates[number]
                if not space.has_allele(given, brought.place, brought.allele)
            )
            if own:
                found[number] = own
                given = space.reach(dam, sire, own)
            domains[number] = given & self._seen(number) or self._seen(number) or self._any(number)
        return found

    @cached_property
    def _families(self) -> dict[int, tuple[int, int]]:
        return {
            number: parents
            for number, parents in enumerate(self.kin.parents)
            if parents is not None
        }

    def _possible_hets(self, number: int) -> tuple[Brought, ...]:
        loci = self.space.group.loci
        return tuple(
            Brought(loci.index(claim.locus), claim.pairs[0][1], claim.chance)
            for claim in self.claims.get(number, ())
            if claim.kind is ClaimKind.POSSIBLE_HET
        )

    def _prior(self, number: int, *, hidden: bool) -> Prior:
        return self.space.prior(
            self.claims.get(number, ()),
            self.kin.sexes[number],
            self.veils.get(number, ()),
            recorded=self.kin.recorded[number],
            hidden=hidden,
        )

    def _seen(self, number: int) -> int:
        claims, veil = self.claims.get(number, ()), self.veils.get(number, ())
        return self.space.seen(claims, self.kin.sexes[number], veil)

    def _any(self, number: int) -> int:
        return self.space.anything(self.kin.sexes[number]).mask
