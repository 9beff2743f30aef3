"""What young sell for and what a season costs: the part of ``season.yaml`` that is about money."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass

from brumal.records.setting_types import (
    STRICT,
    Cost,
    Days,
    Label,
    Portion,
    Price,
    Share,
    Wanting,
    Whole,
)


@dataclass(frozen=True, config=STRICT)
class BySex:
    """A price that differs by the sex of the young.

    A sex left out is not wanted; as a base price or an extra it brings nothing.
    """

    female: Price | None = None
    male: Price | None = None


ByLabel = Literal["linear", "by_label"] | dict[Label, Share]
"""How possible hets sell: by their probability, by the usual labels, or by the keeper's own."""


@dataclass(frozen=True, config=STRICT)
class Keep:
    """Young to hold back: how many, of which sex, and what the first ones are worth.

    ``extra`` is money on top of the price; ``worth``, in its place, what each will bring or save
    altogether instead of the price of a sale.
    """

    count: Whole
    sex: Annotated[str, Field(pattern="^(female|male)$")] | None = None
    extra: Cost = 0.0
    worth: Cost | None = None


@dataclass(frozen=True, config=STRICT)
class Wanted:
    """One wish: a morph, what a hatchling of it is worth, and how many are wanted.

    ``by`` is the last year in which its first target may hatch: this season then works for it.
    """

    morph: str
    value: Price | BySex
    need: Wanting | None = None
    value_after: Price | BySex | None = None
    keep: Keep | None = None
    chance: Annotated[float, Field(gt=0, lt=1)] | None = None
    by: Annotated[int, Field(ge=1900, le=2999)] | None = None


@dataclass(frozen=True, config=STRICT)
class Extra:
    """What a visual or a het beyond the entry adds, by gene name."""

    visual: dict[str, Price | BySex] = Field(default_factory=dict)
    het: dict[str, Price | BySex] = Field(default_factory=dict)


@dataclass(frozen=True, config=STRICT)
class Market:
    """How many young of several wanted morphs together find buyers at full price.

    ``morphs`` are wanted entries by their morph as written; each young past ``need`` is worth
    ``less`` less.
    """

    morphs: tuple[str, ...]
    need: Wanting
    less: Cost


@dataclass(frozen=True, config=STRICT)
class Values:
    """What hatchlings are worth.

    ``combinations`` are prices of morphs that are no wishes. ``possible_hets`` says what a young
    that may be het brings of the price of one that is: its probability (``linear``), or the share
    behind the highest label that the probability reaches. ``discount`` is the share that a target
    of a wish with ``by`` is worth less for each year that it hatches later.
    """

    base: Price | BySex = 0.0
    wanted: tuple[Wanted, ...] = ()
    combinations: dict[str, Price | BySex] = Field(default_factory=dict)
    extra: Extra = Field(default_factory=Extra)
    possible_hets: ByLabel = "linear"
    markets: tuple[Market, ...] = ()
    discount: Share = 0.1


@dataclass(frozen=True, config=STRICT)
class Costs:
    """Cost per pairing, per egg laid, per hatchling raised to sale; per adult and year.

    ``adult_feed`` and ``adult_place`` are paid for each animal of the collection, also those that
    are on loan.
    """

    pairing: Cost = 0.0
    egg: Cost = 0.0
    hatchling: Cost = 0.0
    adult_feed: Cost = 0.0
    adult_place: Cost = 0.0

    @property
    def adult(self) -> float:
        """Return what an animal of the collection costs a year."""
        return self.adult_feed + self.adult_place


@dataclass(frozen=True, config=STRICT)
class Sale:
    """What is lost between a price and the money: fees, young without a buyer, waiting.

    ``fee`` is the share of each price that the sale itself takes, ``unsold`` the share of young
    that find no buyer and bring nothing. Each young waits ``delay_days`` for its buyer after it is
    raised, at ``day_cost`` a day.
    """

    fee: Portion = 0.0
    unsold: Portion = 0.0
    delay_days: Days = 0
    day_cost: Cost = 0.0
