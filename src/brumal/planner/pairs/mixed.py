"""Clutches of which the sire is not certain: a mixture of what they are by each male.

A pair that stands as a fact bears the name of one sire; where several males may be his clutch's,
each counts by his chance, given the young that were seen. The clutch has one sire, so that laws and
draws are mixed whole, never linkage group by linkage group.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from brumal.forecast.clutch import ClutchForecast, clutch_for
from brumal.forecast.given import clutch_given
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Array, Pair
from brumal.planner.pairs.columns import PairColumns

Parts = Sequence[tuple[float, ClutchForecast]]
"""The chance of each sire and the clutch as it is by him; a certain sire is one part."""

_LINEAR = ("value", "extra", "penalty", "young", "F", "spend", "kept")


def parts_of(prepared: Prepared, clutch: ClutchForecast) -> Parts:
    """Return a clutch by each male that may be its sire."""
    odds = prepared.mixed.get((clutch.dam, clutch.sire))
    if odds is None:
        return ((1.0, clutch),)
    return tuple((chance, _by(prepared, clutch, sire)) for sire, chance in odds.items())


def _by(prepared: Prepared, clutch: ClutchForecast, sire: str) -> ClutchForecast:
    if sire == clutch.sire:
        return clutch
    her = prepared.records.state.females.get(clutch.dam)
    dam, male = prepared.animals[clutch.dam], prepared.animals[sire]
    his = clutch_given(
        clutch_for(prepared.forecasts, dam, male, clutch.goes), her.clutch if her else None
    )
    return replace(
        clutch,
        sire=sire,
        fertile=his.fertile,
        fertile_strength=his.fertile_strength,
        hatched=his.hatched,
        hatched_strength=his.hatched_strength,
    )


def with_parts(prepared: Prepared, pairs: Iterable[Pair]) -> list[Pair]:
    """Return pairs, and those that some of them may be in truth."""
    given = list(pairs)
    if not prepared.mixed:
        return given
    more = {(dam, sire) for dam, named in given for sire in prepared.mixed.get((dam, named), ())}
    return [*given, *sorted(more.difference(given))]


@dataclass(frozen=True, slots=True, eq=False)
class Whole:
    """Clutches, after the first ``count`` those that some of them may be in truth.

    ``parts`` has the chances and the places of what an uncertain one may be, by its place.
    """

    clutches: Sequence[ClutchForecast]
    count: int
    parts: Mapping[int, Sequence[tuple[float, int]]]

    @staticmethod
    def of(prepared: Prepared, clutches: Sequence[ClutchForecast]) -> Whole:
        """Take in what uncertain clutches may be."""
        every, parts = list(clutches), {}
        for number, clutch in enumerate(clutches if prepared.mixed else ()):
            if (clutch.dam, clutch.sire) not in prepared.mixed:
                continue
            own = []
            for chance, part in parts_of(prepared, clutch):
                own.append((chance, number if part is clutch else len(every)))
                if part is not clutch:
                    every.append(part)
            parts[number] = own
        return Whole(every, len(clutches), parts)

    @property
    def pairs(self) -> list[Pair]:
        """Return the pair of each clutch."""
        return [(clutch.dam, clutch.sire) for clutch in self.clutches]

    def columns(self, columns: PairColumns) -> PairColumns:
        """Return the columns of the first ``count``, from those of all."""
        if not self.parts:
            return columns
        made = columns.only(range(self.count))
        for number, own in self.parts.items():
            chances, at = np.array([chance for chance, _ in own]), [place for _, place in own]
            for name in _LINEAR:
                getattr(made, name)[number] = chances @ getattr(columns, name)[at]
            held = chances * columns.kept[at]
            made.kin[number] = held @ columns.kin[at] / held.sum() if held.any() else 0.0
            if made.means is not None and columns.means is not None:
                made.means[number] = chances @ columns.means[at]
        return made


def mixed_laws(parts: Sequence[tuple[float, Mapping[int, Array]]]) -> dict[int, Array]:
    """Mix what a clutch brings to each wish by each sire; who cannot serve a wish brings none.

    Each law has the probability of no young, or of 0, 1, 2 ... young, by state of the family.
    """
    mixed: dict[int, Array] = {}
    for wish in sorted({wish for _, laws in parts for wish in laws}):
        like = next(laws[wish] for _, laws in parts if wish in laws)
        nothing = np.zeros_like(like)
        nothing[(..., 0) if like.ndim > 1 else ...] = 1.0
        mixed[wish] = sum(
            (chance * laws.get(wish, nothing) for chance, laws in parts), np.zeros_like(like)
        )
    return mixed
