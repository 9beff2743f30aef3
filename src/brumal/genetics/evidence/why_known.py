"""Why an animal's genotype is known, or only likely: short sentences for the keeper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from brumal.genetics.evidence.clutch_evidence import look_of
from brumal.genetics.evidence.findings import Collection
from brumal.genetics.evidence.group_solver import GroupResult
from brumal.genetics.evidence.infer import Inferred
from brumal.genetics.evidence.kindred import Kindred
from brumal.genetics.genotypes import (
    SEX_GROUP,
    SEX_LOCUS,
    WILD,
    AllelePair,
    Claim,
    ClaimKind,
    Morph,
    Y,
)
from brumal.genetics.looks import pair_at
from brumal.genetics.masks import scene_of
from brumal.genetics.notation.naming import name_of
from brumal.genetics.notation.words import carried_words, format_chance

Odds = dict[AllelePair, float]

_UNEXPLAINED = "one of several that may have passed it to young on record"


def why_known(inferred: Inferred, animal: str) -> tuple[str, ...]:
    """Return a sentence for each allele that the animal carries or may carry, and why.

    Sorted by linkage group and locus. Raises ``KeyError`` for an id that is not in the collection.
    """
    number = inferred.collection.kin.place[animal]
    told: list[str] = []
    for name, result in sorted(inferred.groups.items()):
        for place, locus in enumerate(result.evidence.space.group.loci):
            if locus != SEX_LOCUS:
                told += _Locus(inferred, result, locus, place).sentences(number)
        if name == SEX_GROUP:
            told += _sides(inferred, result, number)
    return tuple(told)


@dataclass(frozen=True, slots=True)
class _Locus:
    """One locus of a solved group."""

    inferred: Inferred
    result: GroupResult
    locus: str
    place: int

    def odds(self, number: int) -> Odds:
        """Return the chance of each allele pair of an animal here."""
        pairs = self.result.evidence.space.pairs
        found: Odds = {}
        for state, chance in self.result.odds(number):
            pair = pair_at(pairs[state], self.place)
            found[pair] = found.get(pair, 0.0) + chance
        return found

    def sentences(self, number: int) -> Iterator[str]:
        """Say of each mutant allele how sure it is and why."""
        odds = self.odds(number)
        claim = self._claim(number)
        stated = claim is not None and claim.kind is not ClaimKind.POSSIBLE_HET
        if stated and claim is not None and claim.pairs[0] != (WILD, WILD):
            alone = self.inferred.collection.words(Morph((claim,)))
            yield f"{alone}: stated in its morph."
            yield from self._make_up(odds) if len(claim.pairs) > 1 else ()
            return
        for allele in sorted({a for pair in odds for a in pair} - {WILD}):
            chance = sum(p for pair, p in odds.items() if allele in pair)
            words = carried_words(allele, self.inferred.collection.catalogue)
            if odds.get((allele, allele), 0.0) > 1 - 1e-9:
                yield f"{allele}, two copies: certain, {self._why_certain(number, allele)}."
            elif chance > 1 - 1e-9:
                yield f"{words}: certain, {self._why_certain(number, allele)}."
            elif chance > 0:
                because = "; ".join(self._why_likely(number, allele, claim)) or _UNEXPLAINED
                yield f"{words}: {100 * chance:.1f}%, {because}."

    def _make_up(self, odds: Odds) -> Iterator[str]:
        """Say how sure each pair is that looks the same, such as two copies of a dominant."""
        catalogue = self.inferred.collection.catalogue
        for pair, chance in sorted(odds.items()):
            if WILD not in pair and 0 < chance < 1 - 1e-9:
                copies = f"two copies of {pair[0]}"
                name = copies if pair[0] == pair[1] else name_of({self.locus: pair}, catalogue)
                yield f"{name}: {100 * chance:.1f}%."

    def _why_certain(self, number: int, allele: str) -> str:
        visual = self._visual_young(number, allele)
        if visual:
            return f"proved by visual young ({', '.join(visual)})"
        for parent in self._kin.parents[number] or ():
            if set(self.odds(parent)) == {(allele, allele)}:
                return f"{self._label(parent)} is {allele} and passes it to every young"
        return "by its parents and young taken together"

    def _why_likely(self, number: int, allele: str, claim: Claim | None) -> Iterator[str]:
        own_word = self._kin.parents[number] is None or number in self.result.evidence.brought
        if own_word and claim is not None and claim.pairs[0] == (WILD, allele):
            yield f"stated in its morph as {format_chance(claim.chance)}"
        for parent in self._kin.parents[number] or ():
            chance = sum(p for pair, p in self.odds(parent).items() if allele in pair)
            if chance > 1 - 1e-9:
                yield f"{self._label(parent)} carries it"
            elif chance > 0:
                yield f"{self._label(parent)} carries it with {100 * chance:.1f}%"
        for (mate, kind), count in sorted(self._normal_young(number, allele).items()):
            makes = "make" if count > 1 else "makes"
            yield f"{count} normal young from {kind} {self._label(mate)} {makes} it less likely"

    def _visual_young(self, number: int, allele: str) -> list[str]:
        """Return the young that show two copies: animals, then rows of clutches."""
        found = [
            self._label(young)
            for young in self._kin.young[number]
            if self._shows_both(self._collection.morphs.get(self._kin.ids[young], Morph()), allele)
        ]
        for clutch, parents in zip(self._collection.clutches, self._kin.clutches, strict=True):
            count = sum(n for n, morph in clutch.young if self._shows_both(morph, allele))
            if number in parents and count:
                found.append(f"{count} in {f'row {clutch.row}' if clutch.row else 'a clutch'}")
        return found

    def _normal_young(self, number: int, allele: str) -> Counter[tuple[int, str]]:
        """Count young that do not show the locus, by a mate that carries the allele for sure."""
        counts: Counter[int] = Counter()
        for young in self._kin.young[number]:
            both = self._kin.parents[young]
            morph = self._collection.morphs.get(self._kin.ids[young])
            if both is not None and morph is not None and self._looks_normal(morph):
                counts[both[0] if both[1] == number else both[1]] += 1
        for clutch, both in zip(self._collection.clutches, self._kin.clutches, strict=True):
            if number in both:
                mate = both[0] if both[1] == number else both[1]
                counts[mate] += sum(n for n, morph in clutch.young if self._looks_normal(morph))
        found: Counter[tuple[int, str]] = Counter()
        for mate, count in counts.items():
            pairs = set(self.odds(mate))
            if count and pairs == {(allele, allele)}:
                found[mate, "visual"] = count
            elif count and all(allele in pair for pair in pairs):
                found[mate, "carrier"] = count
        return found

    def _claim(self, number: int) -> Claim | None:
        claims = self.result.evidence.claims.get(number, ())
        return next((claim for claim in claims if claim.locus == self.locus), None)

    def _shows_both(self, morph: Morph, allele: str) -> bool:
        both = frozenset({(allele, allele)})
        return (self.locus, both) in look_of(morph, self._collection.catalogue)

    def _looks_normal(self, morph: Morph) -> bool:
        """Say whether a young of this morph shows nothing here, and would if it had something."""
        catalogue = self._collection.catalogue
        if self.locus in scene_of(morph, catalogue).hidden:
            return False
        return all(locus != self.locus for locus, _ in look_of(morph, catalogue))

    @property
    def _collection(self) -> Collection:
        return self.inferred.collection

    @property
    def _kin(self) -> Kindred:
        return self.inferred.collection.kin

    def _label(self, number: int) -> str:
        return self._collection.label(number)


def _sides(inferred: Inferred, result: GroupResult, number: int) -> Iterator[str]:
    """Say on which sex chromosome a male's sex-linked alleles lie, and who passed them."""
    space = result.evidence.space
    on_x: dict[str, float] = {}
    on_y: dict[str, float] = {}
    for state, chance in result.odds(number):
        pair = space.pairs[state]
        if Y in (pair[0][0], pair[1][0]):
            for strand in pair:
                side = on_y if strand[0] == Y else on_x
                for allele in strand[1:]:
                    if allele != WILD:
                        side[allele] = side.get(allele, 0.0) + chance
    for allele in sorted({*on_x, *on_y}):
        x, y = on_x.get(allele, 0.0), on_y.get(allele, 0.0)
        if min(x, y) <= 0:
            letter, parent, most = ("Y", 1, "sons") if y else ("X", 0, "daughters")
            both = inferred.collection.kin.parents[number]
            passed = f", passed by {inferred.collection.label(both[parent])}" if both else ""
            yield f"{allele}: on the {letter}{passed}; most young that get it are {most}."
        else:
            yield f"{allele}: on the Y with {100 * y:.1f}%, on the X with {100 * x:.1f}%."
