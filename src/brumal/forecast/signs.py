"""What has been seen of a female sharpens the forecast of her ovulation (Bayes).

How likely each sign is, given the day she ovulates, is common practice without a source, kept wide;
that dominant follicles allow the day to be predicted at all is published (J Herpetol Med Surg
26(3-4):108, abstract read). What a vet sees goes before any of this.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

import numpy as np

from brumal.forecast.dates import DayChances, Floats
from brumal.records.settings import StageDays

MISSED = 0.3
"""The chance that an ovulation, or a pre-lay shed, passes without being seen."""
LATE_LOCK = 0.2
"""How likely a lock is after ovulation, against one before it."""
RIPE_MM, DAYS_A_MM, FOLLICLE_SD = 40.0, 1.5, 14.0
"""Follicles ovulate at about so many mm; days that each mm less stands for; spread in days."""
_LEAST = 1e-12
"""A day that the forecast held impossible stays possible where a sign says so."""


class SignKind(StrEnum):
    """What was seen."""

    NOTHING = "no ovulation seen so far"
    FOLLICLES = "follicles measured"
    LOCK = "a lock"
    OVULATION = "ovulation"
    SHED = "the pre-lay shed"
    LAID = "laid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One thing seen on a day; ``mm`` is the size of follicles."""

    kind: SignKind
    day: date
    mm: float | None = None


def days_given(
    days: DayChances, signs: Iterable[Sign], stages: StageDays
) -> tuple[DayChances, float]:
    """Return the chances of each day of ovulation given what was seen, and how likely that was.

    How likely is meant of a female that cycles. Signs are taken as independent of each other, given
    the day.
    """
    told = list(signs)
    if not told:
        return days, 1.0
    gone = sum(most for _, most in (stages.to_shed, stages.shed_to_laying))
    first = min(days.first, *(sign.day - timedelta(days=gone) for sign in told))
    last = max(days.last, *(sign.day for sign in told))
    length = (last - first).days + 1
    chances = np.full(length, _LEAST)
    start = (days.first - first).days
    chances[start : start + len(days.chances)] += days.chances
    day: Floats = np.arange(length).astype(np.float64)
    for sign in told:
        # Days from ovulation to the sign, negative where it comes before her ovulation.
        chances = chances * _likelihood(sign, (sign.day - first).days - day, stages)
    likely = float(chances.sum())
    return DayChances(first, chances / likely), likely


def _likelihood(sign: Sign, since: Floats, stages: StageDays) -> Floats:
    if sign.kind is SignKind.NOTHING:
        return _nothing(since, stages)
    if sign.kind is SignKind.LOCK:
        return np.where(since > 0, LATE_LOCK, 1.0)
    if sign.kind is SignKind.FOLLICLES:
        return _follicles(since, sign.mm)
    if sign.kind is SignKind.OVULATION:
        return np.where(since == 0, 1.0, 0.0)
    shed = _stage(stages.to_shed)
    law = shed if sign.kind is SignKind.SHED else np.convolve(shed, _stage(stages.shed_to_laying))
    inside = (since >= 0) & (since < len(law))
    found: Floats = np.where(inside, law[np.clip(since.astype(int), 0, len(law) - 1)], 0.0)
    return found


def _nothing(since: Floats, stages: StageDays) -> Floats:
    """No ovulation, no shed and no clutch: the first two may have been missed, not the clutch."""
    shed = since >= stages.to_shed[1]
    laid = since >= stages.to_shed[1] + stages.shed_to_laying[1]
    chance: Floats = np.where(since >= 0, MISSED, 1.0) * np.where(shed, MISSED, 1.0)
    return np.where(laid, 0.0, chance)


def _follicles(since: Floats, mm: float | None) -> Floats:
    """Follicles are there until ovulation; the larger, the nearer it is."""
    wait = max(RIPE_MM - mm, 0.0) * DAYS_A_MM if mm is not None else 0.0
    spread = FOLLICLE_SD if mm is not None else math.inf
    near: Floats = np.exp(-0.5 * ((-since - wait) / spread) ** 2)
    return np.where(since > 0, 0.0, near)


def _stage(days: tuple[int, int]) -> Floats:
    """Return the law of a stage from 0 days on."""
    least, most = days
    return np.concatenate([np.zeros(least), np.full(most - least + 1, 1 / (most - least + 1))])
