"""All that the records say of the kinship of two animals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from brumal.pedigree.completeness import generations_known, known_shares
from brumal.pedigree.graph import Pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.paths import LINES_SHOWN, PairPaths, paths_between
from brumal.pedigree.relationship import Relationship, relationship
from brumal.pedigree.summary import young_mean_kinship
from brumal.records.animals import Sex


@dataclass(frozen=True, slots=True, kw_only=True)
class PairMember:
    """What is known of one animal: F as recorded, and how much of its pedigree.

    ``generations`` are recorded in full; ``known`` is the share of ancestors known by generation,
    parents first.
    """

    id: str
    sex: Sex | None
    F: float
    generations: int
    known: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KinPair:
    """The kinship of two animals; ``names`` and ``sexes`` cover every animal on a path.

    ``young_mean`` is the mean kinship of a young of the two to the collection.
    """

    one: PairMember
    other: PairMember
    relation: Relationship
    paths: PairPaths
    names: Mapping[str, str]
    sexes: Mapping[str, Sex | None]
    young_mean: float | None = None

    @property
    def phi(self) -> float:
        """Return their kinship: F of their young, as recorded."""
        return self.paths.phi


def examine_pair(
    pedigree: Pedigree,
    one: str,
    other: str,
    living: Sequence[str] = (),
    limit: int = LINES_SHOWN,
) -> KinPair:
    """Gather the kinship of two animals, paths grouped beyond ``limit`` pairs of lines.

    ``living`` are the animals of the collection. Raises ``KeyError`` for an id that is not in the
    pedigree.
    """
    paths = paths_between(pedigree, one, other, limit)
    shown = sorted(
        {one, other}
        | {end for source in paths.sources for end in source.ends}
        | {
            name
            for source in paths.sources
            for path in source.paths
            for name in (*path.one_line, *path.other_line)
        }
    )
    return KinPair(
        one=_standing(pedigree, one),
        other=_standing(pedigree, other),
        relation=relationship(pedigree, one, other),
        paths=paths,
        names={name: pedigree.label(name) for name in shown},
        sexes={name: pedigree.sexes.get(name) for name in shown},
        young_mean=young_mean_kinship(pedigree, living, one, other) if living else None,
    )


def _standing(pedigree: Pedigree, name: str) -> PairMember:
    at = pedigree.index[name]
    return PairMember(
        id=name,
        sex=pedigree.sexes.get(name),
        F=float(kinship_block(pedigree, (name,)).F[0]),
        generations=int(generations_known(pedigree)[at]),
        known=tuple(float(share) for share in known_shares(pedigree)[at]),
    )
