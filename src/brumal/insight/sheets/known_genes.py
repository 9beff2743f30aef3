"""What an animal carries at each locus, with the chance of each possibility."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import Genotype, Morph
from brumal.genetics.notation.parse import format_morph
from brumal.insight.sheets.exact_names import exact_claims

WILD_TYPE = "wild type"


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneOdds:
    """One locus: (name, chance) of each thing the animal may carry there, likeliest first."""

    locus: str
    options: tuple[tuple[str, float], ...]

    @property
    def certain(self) -> bool:
        """Say whether only one pair is possible."""
        return len(self.options) == 1


def gene_odds(genotype: Genotype, catalogue: Catalogue) -> tuple[GeneOdds, ...]:
    """Return the loci at which the animal is not certainly wild type, sorted by locus.

    Of a male's sex-linked gene the sides, X and Y, are possibilities of their own.
    """
    found: dict[str, dict[str, float]] = {}
    for group, belief in genotype.groups.items():
        for carried, chance in belief:
            named = {
                claim.locus: format_morph(Morph((claim,)), catalogue)
                for claim in exact_claims(group, carried, catalogue)
            }
            for locus in catalogue.groups[group].loci:
                odds = found.setdefault(locus, {})
                name = named.get(locus, WILD_TYPE)
                odds[name] = odds.get(name, 0.0) + chance
    return tuple(
        GeneOdds(locus=locus, options=_likeliest_first(odds))
        for locus, odds in sorted(found.items())
        if set(odds) != {WILD_TYPE}
    )


def _likeliest_first(odds: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    return tuple(sorted(odds.items(), key=lambda option: (-round(option[1], 12), option[0])))
