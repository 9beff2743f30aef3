"""What the young of a pair bring on average, by a walk over every joint genotype."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from typing import Any

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import SEX_GROUP, WILD, Y
from brumal.genetics.lethal import is_harmed, living_young
from brumal.genetics.looks import shown_pair
from brumal.genetics.notation.naming import diplotype_pairs, visuals_and_hets
from brumal.pipeline import Prepared
from brumal.records.settings import BySex

USUAL = {0.0: 0.0, 0.5: 0.3, 0.66: 0.5, 1.0: 1.0}

Young = list[tuple[dict[str, Any], float]]
"""Young that look alike: pairs by locus (the sex among them) and the chance of each."""


def walked(prepared: Prepared, dam: str, sire: str, groups: frozenset[str]) -> float:
    """Return the expected price of one young: each look is labelled, then sold at the best price.

    Everything is enumerated: joint genotypes of all groups, merged by what can be seen of them and
    sex, the chances of what does not show counted out look by look. Young that do not live are left
    out; those harmed look as they look and bring nothing.
    """
    catalogue = prepared.catalogue
    odds: list[Young] = []
    for group in living_young(prepared.cross(dam, sire), catalogue).groups:
        if group.group not in groups:
            continue
        found: dict[Any, float] = defaultdict(float)
        for case in group.cases:
            for diplotype, chance in case.outcomes:
                found[diplotype] += case.weight * chance
        own = []
        for diplotype, chance in found.items():
            pairs: dict[str, Any] = dict(diplotype_pairs(group.group, diplotype, catalogue))
            if group.group == SEX_GROUP:
                pairs["sex"] = "male" if Y in (diplotype[0][0], diplotype[1][0]) else "female"
            if is_harmed(group.group, diplotype, catalogue):
                pairs["harmed"] = True
            own.append((pairs, chance))
        odds.append(own)
    looks: dict[Any, Young] = defaultdict(list)
    healthy: dict[Any, float] = defaultdict(float)
    for joint in itertools.product(*odds):
        pairs = {locus: pair for part, _ in joint for locus, pair in part.items()}
        sound = pairs.pop("harmed", None) is None
        hidden = hidden_loci(pairs, catalogue)
        look = tuple(
            (locus, pair if locus == "sex" else shown_pair(pair, catalogue))
            for locus, pair in sorted(pairs.items())
            if locus not in hidden
        )
        chance = math.prod(chance for _, chance in joint)
        looks[look].append((pairs, chance))
        healthy[look] += chance * sound
    return sum(healthy[look] * price_of(prepared, young) for look, young in looks.items())


def hidden_loci(pairs: dict[str, Any], catalogue: Catalogue) -> set[str]:
    """Return the loci that eye-catching looks hide, of two such looks the earlier being seen."""
    seen: set[str] = set()
    hidden: set[str] = set()
    for mask in catalogue.masks:
        if mask.locus not in hidden and pairs.get(mask.locus) in mask.pairs:
            seen.add(mask.locus)
            hidden |= mask.hides - seen
    return hidden


def label_share(chance: float) -> float:
    """Return the share of a price that a young brings that has what is asked with this chance."""
    return USUAL[max(label for label in USUAL if label <= chance + 1e-9)]


def price_of(prepared: Prepared, young: Young) -> float:
    """Return the best price of young that look alike.

    What is hidden is sold by look where all of them have it; hets by their chance.
    """
    catalogue, values = prepared.catalogue, prepared.records.settings.values
    total = sum(chance for _, chance in young)
    sex = young[0][0]["sex"]
    hidden = hidden_loci(young[0][0], catalogue)

    def of_sex(price: float | BySex) -> float | None:
        return getattr(price, sex) if isinstance(price, BySex) else price

    def visible(pairs: dict[str, Any]) -> set[str]:
        genes: set[str] = set()
        for locus, pair in pairs.items():
            if locus != "sex":
                genes |= set(visuals_and_hets(pair, catalogue, locus).visuals)
        return genes

    # In the open all of them show the same.
    visuals = set.intersection(*[visible(pairs) for pairs, _ in young])
    hets: dict[str, float] = {}
    for gene in values.extra.het:
        locus = catalogue.alleles[gene].locus
        het = tuple(sorted((gene, WILD)))
        carried = sum(
            chance
            for pairs, chance in young
            if pairs.get(locus) == het
            or (locus in hidden and gene not in visuals and gene in pairs.get(locus, ()))
        )
        hets[gene] = label_share(carried / total)
    prices = [*(w.value for w in values.wanted), *values.combinations.values()]
    best = of_sex(values.base)
    offers = [(None, best or 0.0), *zip(prepared.sold, map(of_sex, prices), strict=True)]
    found = []
    for wish, price in offers:
        if price is None:
            continue
        share = 1.0
        for need in wish.needs if wish else ():
            met = sum(
                chance
                for pairs, chance in young
                if need.satisfied(pairs.get(need.locus, (WILD, WILD)))
            )
            by_chance = need.locus not in hidden or need.unseen
            share *= label_share(met / total) if by_chance else float(met > total - 1e-9)
        if share == 0:
            continue
        named = wish.genes if wish else frozenset()
        visual = {gene: of_sex(money) or 0.0 for gene, money in values.extra.visual.items()}
        extra = sum(visual.get(gene, 0.0) for gene in visuals if gene not in named)
        extra += sum(
            (of_sex(values.extra.het[g]) or 0.0) * own for g, own in hets.items() if g not in named
        )
        found.append(price * share + extra)
    return max(found)
