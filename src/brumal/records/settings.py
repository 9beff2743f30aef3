"""The keeper's settings: ``season.yaml`` as frozen, validated dataclasses.

pydantic refuses unknown keys and wrong types; ``brumal.records.season_file`` turns what it says
into faults with the line of the file.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import ConfigDict, Field, StringConstraints
from pydantic.dataclasses import dataclass

STRICT = ConfigDict(extra="forbid")

Share = Annotated[float, Field(ge=0, le=1)]
Money = Annotated[float, Field(allow_inf_nan=False)]
Cost = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
IdPair = tuple[str, str]
Portion = Annotated[float, Field(ge=0, lt=1)]
Reason = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


@dataclass(frozen=True, config=STRICT)
class SeasonDates:
    """The season's name and the window in which pairs may be put together."""

    name: str
    pair_from: date
    pair_to: date


@dataclass(frozen=True, config=STRICT)
class Assume:
    """Figures the keeper states for every clutch; each one left out is forecast instead."""

    goes: Share | None = None
    fertile: Share | None = None
    hatched: Share | None = None
    eggs: Positive | None = None


@dataclass(frozen=True, config=STRICT)
class Limits:
    """What there is room and permission for; ``None`` means no limit."""

    boxes: Count | None = None
    tubs: Count | None = None
    pairings_per_male: Count | None = None
    max_F: Share = 0.0625  # noqa: N815  (F is the field's symbol)


@dataclass(frozen=True, config=STRICT)
class Box:
    """How clutches fill a box: up to ``clutches`` small ones share it, a larger one has its own."""

    clutches: Annotated[int, Field(ge=1)] = 2
    small_clutch: Count = 6


@dataclass(frozen=True, config=STRICT)
class BySex:
    """A value that differs by the sex of the young; a sex left out is not wanted."""

    female: Money | None = None
    male: Money | None = None


@dataclass(frozen=True, config=STRICT)
class Keep:
    """Young to hold back: how many, of which sex, and the extra value of the first ones."""

    count: Annotated[int, Field(ge=1)]
    sex: Annotated[str, Field(pattern="^(female|male)$")] | None = None
    extra: Cost = 0.0


@dataclass(frozen=True, config=STRICT)
class Wanted:
    """One wish: a morph, what a hatchling of it is worth, and how many are wanted."""

    morph: str
    value: Money | BySex
    need: Count | None = None
    value_after: Money | BySex | None = None
    keep: Keep | None = None
    chance: Annotated[float, Field(gt=0, lt=1)] | None = None


@dataclass(frozen=True, config=STRICT)
class Extra:
    """What a visual or a het beyond the entry adds, by gene name."""

    visual: dict[str, Money] = Field(default_factory=dict)
    het: dict[str, Money] = Field(default_factory=dict)


@dataclass(frozen=True, config=STRICT)
class Values:
    """What hatchlings are worth."""

    base: Money = 0.0
    wanted: tuple[Wanted, ...] = ()
    extra: Extra = Field(default_factory=Extra)


@dataclass(frozen=True, config=STRICT)
class Costs:
    """Cost per pairing, per egg laid, per hatchling raised to sale."""

    pairing: Cost = 0.0
    egg: Cost = 0.0
    hatchling: Cost = 0.0


@dataclass(frozen=True, config=STRICT)
class Locks:
    """What the keeper has already decided; pairs are (dam, sire)."""

    must_pair: tuple[IdPair, ...] = ()
    never_pair: tuple[IdPair, ...] = ()
    sit_out: tuple[str, ...] = ()
    already_paired: tuple[IdPair, ...] = ()


@dataclass(frozen=True, config=STRICT)
class RuleLimits:
    """The limits of the breeding rules; every default is listed in ``docs/rules.md``.

    ``accept_welfare`` names genes whose welfare exclusion the keeper lifts.
    """

    female_weight_g: Positive = 1500.0
    female_age_months: Positive = 30.0
    male_weight_g: Positive = 500.0
    male_age_months: Positive = 12.0
    condition: tuple[float, float] = (2.0, 4.0)
    recovered_share: Share = 0.9
    accept_welfare: tuple[str, ...] = ()


@dataclass(frozen=True, config=STRICT)
class Kin:
    """What the keeper states of kinship; every key is explained in ``docs/kinship.md``.

    ``founder_F`` gives the inbreeding coefficient of founders, ``founder_kinship`` the kinship
    (coancestry) of two founders, as (id, id, kinship). ``min_generations`` is the number of
    generations that must be fully recorded before F is trusted. ``exceptions`` are
    (dam, sire, written reason). ``penalty_per_F`` is money off the value of a clutch per unit of
    F: 1600 takes 100 off a clutch at F 0.0625. ``max_kept_kinship`` caps the mean kinship of the
    young that are held back.
    """

    founder_F: dict[str, Portion] = Field(default_factory=dict)  # noqa: N815
    founder_kinship: tuple[tuple[str, str, Portion], ...] = ()
    min_generations: Count = 0
    exceptions: tuple[tuple[str, str, Reason], ...] = ()
    penalty_per_F: Cost = 0.0  # noqa: N815
    max_kept_kinship: Share | None = None


@dataclass(frozen=True, config=STRICT)
class Settings:
    """The whole of ``season.yaml``."""

    season: SeasonDates
    currency: str = "EUR"
    assume: Assume = Field(default_factory=Assume)
    limits: Limits = Field(default_factory=Limits)
    box: Box = Field(default_factory=Box)
    rules: RuleLimits = Field(default_factory=RuleLimits)
    values: Values = Field(default_factory=Values)
    costs: Costs = Field(default_factory=Costs)
    locks: Locks = Field(default_factory=Locks)
    kin: Kin = Field(default_factory=Kin)
