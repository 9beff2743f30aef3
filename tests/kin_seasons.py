"""Small seasons of uncertain kin, as files, and what they bring by every genotype of every animal.

Nothing is shared with the planner but the reading of morphs: genotypes are enumerated one by one
(``genotype_enumeration``), young drawn by Mendel's law at two unlinked recessives.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from brumal.planner.season import SolvedSeason
from genotype_enumeration import Group, Locus, Member, enumerate_all
from solved_seasons import SURE, female, male, solved

LOCI = {"clown": "Clown", "piebald": "Piebald"}
BASE, PIED, CLOWN, AFTER, BOTH = 30.0, 150.0, 200.0, 60.0, 500.0
SAID = ("", "50% het {0}", "50% het {0}", "66% het {0}", "het {0}")
Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class KinSeason:
    """A season as drawn: rows, eggs of each dam, the need for Clowns and the chances asked."""

    rows: list[str]
    eggs: dict[str, int]
    need: int
    chance_pied: float
    chance_both: float

    @property
    def text(self) -> str:
        """Return ``season.yaml``."""
        return SURE + (
            "limits: {max_F: 0.6}\n"
            f"values:\n  base: {BASE}\n  wanted:\n"
            f"    - {{morph: Clown, value: {CLOWN}, need: {self.need}, value_after: {AFTER}}}\n"
            f"    - {{morph: Piebald, value: {PIED}, chance: {self.chance_pied}}}\n"
            f"    - {{morph: Clown Piebald, value: {BOTH}, chance: {self.chance_both}}}\n"
        )


def kin_season(seed: int) -> KinSeason:
    """Draw uncertain founders, their young, and breeders out of both, some visual."""
    rng = np.random.default_rng([seed, 23])

    def said() -> str:
        words = [str(rng.choice(SAID)).format(gene) for gene in LOCI.values()]
        return " ".join(filter(None, words)) or "Normal"

    old = {"status": "outside", "hatched": "2012-06-01"}
    rows = [female("D0", said(), **old), female("D1", said(), **old), male("S0", said(), **old)]
    mid = {"status": "outside", "hatched": "2016-06-01"}
    rows += [female("X", dam="D0", sire="S0", **mid), male("Y", dam="D1", sire="S0", **mid)]
    eggs = {}
    for number in range(3):
        cells = {"expected_eggs": int(rng.integers(2, 5))}
        eggs[f"F{number}"] = cells["expected_eggs"]
        rows.append(female(f"F{number}", _visual(rng, 0.4), **_parents(rng, cells)))
    for number in range(int(rng.integers(2, 4))):
        rows.append(male(f"M{number}", _visual(rng, 0.3), **_parents(rng, {"max_pairings": 2})))
    return KinSeason(
        rows=rows,
        eggs=eggs,
        need=int(rng.integers(0, 4)),
        chance_pied=round(float(rng.uniform(0.02, 0.6)), 3),
        chance_both=round(float(rng.uniform(0.005, 0.05)), 4),
    )


def _visual(rng: np.random.Generator, share: float) -> str:
    """Return the look of a breeder; only one without parents on record may be visual."""
    return str(rng.choice(["Clown", "Clown Piebald"])) if rng.random() < share else ""


def _parents(rng: np.random.Generator, cells: dict[str, object]) -> dict[str, object]:
    dams = ["D0", "D1", "X"]
    sires = ["S0", "S0", "Y"]
    return cells | {"dam": str(rng.choice(dams)), "sire": str(rng.choice(sires))}


def solved_kin(folder: Path, drawn: KinSeason) -> SolvedSeason:
    """Write and solve a season."""
    return solved(folder, drawn.rows, drawn.text)


@dataclass(frozen=True)
class Truth:
    """What every plan of a season brings, by enumeration.

    ``copies[locus][animal]`` has the shape (joint genotypes,), with ``chances[locus]`` theirs.
    """

    drawn: KinSeason
    chances: dict[str, np.ndarray]
    copies: dict[str, dict[str, np.ndarray]]

    def _shares(self, pair: tuple[str, str]) -> tuple[np.ndarray, np.ndarray]:
        """Return the chance of a Clown (rows) and of a Piebald young (columns) by genotypes."""
        clown, pied = (
            self.copies[locus][pair[0]] * self.copies[locus][pair[1]] / 4 for locus in LOCI
        )
        return clown[:, None], pied[None, :]

    def _mean(self, given: np.ndarray) -> float:
        clown, pied = (self.chances[locus] for locus in LOCI)
        return float(clown @ np.broadcast_to(given, (clown.size, pied.size)) @ pied)

    def chance(self, plan: Pairs, both: bool) -> float:
        """Return the chance of a Piebald (of a Clown Piebald) young or more."""
        none = np.ones((1, 1))
        for pair in plan:
            clown, pied = self._shares(pair)
            none = none * (1 - (clown * pied if both else pied)) ** self.drawn.eggs[pair[0]]
        return 1 - self._mean(none)

    def filled(self, plan: Pairs) -> float:
        """Return E min(N, need), N the young sold as Clown: not Piebald as well."""
        law = np.ones((1, 1, 1))
        for pair in plan:
            clown, pied = self._shares(pair)
            share, eggs = clown * (1 - pied), self.drawn.eggs[pair[0]]
            own = np.stack(
                [
                    math.comb(eggs, k) * share**k * (1 - share) ** (eggs - k)
                    for k in range(eggs + 1)
                ],
                axis=2,
            )
            more = np.zeros((*own.shape[:2], law.shape[2] + eggs))
            for k in range(eggs + 1):
                more[:, :, k : k + law.shape[2]] += own[:, :, k, None] * law
            law = more
        counts = np.minimum(np.arange(law.shape[2]), self.drawn.need)
        return self._mean(law @ counts)

    def value(self, plan: Pairs) -> float:
        """Return the expected value of a plan: sales less 5 a pairing, 1 an egg and 10 a young."""
        total = (CLOWN - AFTER) * self.filled(plan)
        for pair in plan:
            clown, pied = self._shares(pair)
            prices = clown * pied * BOTH + clown * (1 - pied) * AFTER + (1 - clown) * pied * PIED
            prices = prices + (1 - clown) * (1 - pied) * BASE
            eggs = self.drawn.eggs[pair[0]]
            total += eggs * (self._mean(prices) - 11) - 5
        return total

    def is_allowed(self, plan: Pairs) -> bool:
        """Say whether a plan keeps both chances and each male's two pairings."""
        sires = [sire for _, sire in plan]
        return (
            all(sires.count(sire) <= 2 for sire in sires)
            and self.chance(plan, both=False) >= self.drawn.chance_pied - 1e-9
            and self.chance(plan, both=True) >= self.drawn.chance_both - 1e-9
        )

    def plans(self) -> Iterator[Pairs]:
        """Yield every plan, allowed or not."""
        sires = [name for name in self.copies["clown"] if name.startswith("M")]
        for mates in itertools.product([None, *sires], repeat=len(self.drawn.eggs)):
            yield [(dam, sire) for dam, sire in zip(self.drawn.eggs, mates, strict=True) if sire]


def truth(drawn: KinSeason, season: SolvedSeason) -> Truth:
    """Enumerate every genotype of every animal of a season."""
    kin = season.prepared.inferred.collection.kin
    morphs = season.prepared.inferred.collection.morphs
    members = [
        Member(*(both or (None, None)), sex.value if sex else None)
        for both, sex in zip(kin.parents, kin.sexes, strict=True)
    ]
    chances, copies = {}, {}
    for locus, allele in LOCI.items():
        told = {
            place: type(morphs[name])(
                claims=tuple(c for c in morphs[name].claims if c.locus == locus)
            )
            for place, name in enumerate(kin.ids)
        }
        joint = enumerate_all(Group((Locus(locus, {allele: False}),), ()), members, told, ())
        assert joint is not None
        chances[locus] = np.array(list(joint.values()))
        copies[locus] = {
            name: np.array([[s[0] for s in each[place]].count(allele) for each in joint])
            for place, name in enumerate(kin.ids)
        }
    return Truth(drawn, chances, copies)
