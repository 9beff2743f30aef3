"""Frames of routes for tests: two recessive loci, clutches and founders as a test states them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.genotypes import WILD, AllelePair
from brumal.genetics.wishes import wish_of
from brumal.records.animals import Sex
from brumal.routes.frame import Barred, Founder, Frame, Rows
from brumal.routes.genes import TargetGenes, target_genes

CATALOGUE, _ = load_catalogue()
SEXES = {"f": Sex.FEMALE, "m": Sex.MALE}


def genes_for(morph: str, sex: str | None = None, tested: bool = False) -> TargetGenes:
    wish, problems = wish_of(morph, CATALOGUE)
    assert wish is not None, problems
    return target_genes(wish, CATALOGUE, SEXES[sex] if sex else None, tested)


def copies(allele: str, number: int) -> AllelePair:
    """Return an allele pair with so many copies of a mutant."""
    return ((WILD, WILD), (WILD, allele), (allele, allele))[number]


def kind(genes: TargetGenes, sex: str, **carried: int) -> int:
    """Return the number of a genotype: copies of alleles by name."""
    alleles = genes.catalogue.alleles
    pairs = {alleles[name].locus: copies(name, number) for name, number in carried.items()}
    return genes.kind(genes.founder(pairs, SEXES[sex]))


def frame(
    genes: TargetGenes,
    animals: Mapping[str, tuple[str, dict[str, int]]],
    *,
    young: Sequence[float],
    seasons: int,
    hold: int,
    serves: int = 1,
    lag: tuple[int, int] = (1, 1),
    hold_sex: str | None = None,
    barred: Barred = lambda _dam, _sire, _f: False,
    prior: Rows | None = None,
    rest: int = 0,
    in_a_row: int = 0,
    runs: Sequence[int] = (),
) -> Frame:
    """Return a frame of animals: id to (sex, copies of alleles); all are ready at once."""
    kinds = tuple(kind(genes, sex, **carried) for sex, carried in animals.values())
    return Frame(
        genes=genes,
        founders=tuple(
            Founder(id=name, sex=SEXES[sex], run=runs[at] if runs else 0)
            for at, (name, (sex, _)) in enumerate(animals.items())
        ),
        prior=((kinds, 1.0),) if prior is None else prior,
        seasons=seasons,
        lag={Sex.FEMALE: lag[0], Sex.MALE: lag[1]},
        hold=hold,
        hold_sex=SEXES[hold_sex] if hold_sex else None,
        young=lambda _dam, _sire, _season: tuple(young),
        males=lambda _male, _season: serves,
        barred=barred,
        rest=rest,
        in_a_row=in_a_row,
    )
