"""How many eggs she lays: by mass, first or later clutch, and her own record.

The logarithm of the eggs of a clutch is modelled as
    a + b [first clutch] + c log(mass / reference) + (what is hers) + (chance),
so that the coefficient of variation is the same for small and large females (J Zool 1996, "A
neglected life-history trait: clutch-size variance in snakes", abstract read). The clutch mass of
snakes is in proportion to the mother's mass (Herpetologica 42:179-185, 1986, abstract read; not
figures of *Python regius*), which puts c near but, eggs being larger in larger mothers, below 1.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.history import PastClutch
from brumal.forecast.shrinkage import Posterior, grouped_evidence, linear_bayes
from brumal.records.settings import ClutchPrior

Floats = NDArray[np.float64]

WITHIN_SD = 0.2
BETWEEN_SD = 0.15
FIRST_SD = 0.15
EXPONENT_SD = 0.3
MASS_UNKNOWN_SD = 0.2
"""Spread of log mass among breeding females: what an unknown mass leaves open."""
SCALES = tuple(math.exp(step / 4) for step in range(-4, 5))
SCALE_SD = 0.5
"""Prior spread of the log of the two standard deviations, around those stated above."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EggModel:
    """What the collection and the prior say of log eggs.

    ``effects`` holds the intercept, the first-clutch effect, the mass exponent and one effect for
    each dam of ``place``; ``within_variance`` and ``between_variance`` are on the log scale.
    ``as_laid`` holds all clutches of each dam who was not weighed before one of them.
    """

    effects: Posterior
    place: Mapping[str, int]
    reference_g: float
    within_variance: float
    between_variance: float
    clutches: int
    as_laid: Mapping[str, Sequence[PastClutch]]

    def of(self, dam: str, mass_g: float | None, first: bool) -> tuple[float, float]:
        """Return mean and variance of the log of the eggs of the dam's next clutch.

        Of a dam who was not weighed before a clutch, its size counts as it is, whatever she weighs
        now: see ``_as_laid``.
        """
        if dam in self.as_laid:
            return self._as_laid(self.as_laid[dam], mass_g, first)
        loads = np.zeros(len(self.effects.mean))
        loads[:3] = _loads(mass_g, first, self.reference_g)
        variance = self.within_variance
        at = self.place.get(dam)
        if at is None:
            variance += self.between_variance
        else:
            loads[at] = 1.0
        if mass_g is None:
            variance += (self.effects.mean[2] * MASS_UNKNOWN_SD) ** 2
        variance += float(loads @ self.effects.covariance @ loads)
        return float(loads @ self.effects.mean), float(variance)

    def _as_laid(
        self, own: Sequence[PastClutch], mass_g: float | None, first: bool
    ) -> tuple[float, float]:
        """Shrink her own clutch sizes to what is usual at her present mass.

        Sizes of clutches with a weight are carried to that mass, those without stand as laid: one
        normal mean with known variances (any text on Bayes; Buhlmann & Straub 1970, from memory).
        """
        loads = np.array(_loads(mass_g, first, self.reference_g))
        usual = float(loads @ self.effects.mean[:3])
        spread = self.between_variance + float(loads @ self.effects.covariance[:3, :3] @ loads)
        if mass_g is None:
            spread += (self.effects.mean[2] * MASS_UNKNOWN_SD) ** 2
        carried = [self._carried(clutch, mass_g, first) for clutch in own]
        weight = len(own) * spread / (len(own) * spread + self.within_variance)
        mean = usual + weight * (sum(carried) / len(carried) - usual)
        return mean, self.within_variance + (1 - weight) * spread

    def _carried(self, clutch: PastClutch, mass_g: float | None, first: bool) -> float:
        _, first_effect, exponent = self.effects.mean[:3].tolist()
        eggs = math.log(clutch.eggs or 1) + first_effect * (first - clutch.first)
        if clutch.mass_g and mass_g:
            eggs += exponent * math.log(mass_g / clutch.mass_g)
        return float(eggs)


def fit_eggs(past: Sequence[PastClutch], prior: ClutchPrior) -> EggModel:
    """Fit the egg model: variances by empirical Bayes, effects by linear Bayes."""
    laid = [clutch for clutch in past if clutch.eggs]
    dams = sorted({clutch.dam for clutch in laid})
    number = {dam: at for at, dam in enumerate(dams)}
    group = np.array([number[clutch.dam] for clutch in laid], dtype=np.intp)
    seen = np.log([float(clutch.eggs or 0) for clutch in laid])
    fixed = np.array(
        [_loads(clutch.mass_g, clutch.first, prior.reference_g) for clutch in laid]
    ).reshape(len(laid), 3)
    unknown = np.array([clutch.mass_g is None for clutch in laid], dtype=bool)
    prior_mean, prior_variance = _fixed_prior(prior)
    within, between = _variances(seen - fixed @ prior_mean, fixed, prior_variance, group)

    loadings = np.hstack([fixed, np.eye(len(dams))[group].reshape(len(laid), len(dams))])
    noise = np.full(len(laid), within) + unknown * (prior.mass_exponent * MASS_UNKNOWN_SD) ** 2
    effects = linear_bayes(
        seen,
        noise,
        loadings,
        np.concatenate([prior_mean, np.zeros(len(dams))]),
        np.concatenate([prior_variance, np.full(len(dams), between)]),
    )
    return EggModel(
        effects=effects,
        place={dam: at + 3 for dam, at in number.items()},
        reference_g=prior.reference_g,
        within_variance=within,
        between_variance=between,
        clutches=len(laid),
        as_laid=_as_laid(laid),
    )


def _as_laid(laid: Sequence[PastClutch]) -> dict[str, tuple[PastClutch, ...]]:
    """Return all clutches of the dams who were not weighed before one of theirs."""
    unweighed = {clutch.dam for clutch in laid if clutch.mass_g is None}
    own: dict[str, list[PastClutch]] = {dam: [] for dam in sorted(unweighed)}
    for clutch in laid:
        if clutch.dam in own:
            own[clutch.dam].append(clutch)
    return {dam: tuple(hers) for dam, hers in own.items()}


def _loads(mass_g: float | None, first: bool, reference_g: float) -> tuple[float, float, float]:
    return 1.0, float(first), math.log(mass_g / reference_g) if mass_g else 0.0


def _fixed_prior(prior: ClutchPrior) -> tuple[Floats, Floats]:
    one_clutch = WITHIN_SD**2 + BETWEEN_SD**2
    intercept_variance = one_clutch / prior.worth
    # The mean of a lognormal is exp(mean + variance / 2): this intercept makes it ``prior.eggs``.
    intercept = math.log(prior.eggs) - (one_clutch + intercept_variance) / 2
    mean = np.array([intercept, math.log(max(prior.first_share, 0.05)), prior.mass_exponent])
    return mean, np.array([intercept_variance, FIRST_SD**2, EXPONENT_SD**2])


def _variances(
    surprise: Floats, fixed: Floats, fixed_variance: Floats, group: NDArray[np.intp]
) -> tuple[float, float]:
    """Return the likeliest (within, between) variance on a grid, given the records and prior."""
    if not len(surprise):
        return WITHIN_SD**2, BETWEEN_SD**2

    def log_posterior(scales: tuple[float, float]) -> float:
        within, between = (WITHIN_SD * scales[0]) ** 2, (BETWEEN_SD * scales[1]) ** 2
        evidence = grouped_evidence(surprise, fixed, fixed_variance, group, between, within)
        return evidence - sum((math.log(scale) / SCALE_SD) ** 2 for scale in scales) / 2

    best = max(itertools.product(SCALES, SCALES), key=log_posterior)
    return (WITHIN_SD * best[0]) ** 2, (BETWEEN_SD * best[1]) ** 2
