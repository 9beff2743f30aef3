"""The keeper's settings: ``season.yaml`` as frozen, validated dataclasses.

pydantic refuses unknown keys and wrong types; ``brumal.records.season_file`` turns what it says
into faults with the line of the file.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import Field
from pydantic.dataclasses import dataclass

from brumal.records.price_settings import ByLabel as ByLabel
from brumal.records.price_settings import BySex as BySex
from brumal.records.price_settings import Costs as Costs
from brumal.records.price_settings import Extra as Extra
from brumal.records.price_settings import Keep as Keep
from brumal.records.price_settings import Sale as Sale
from brumal.records.price_settings import Values as Values
from brumal.records.price_settings import Wanted as Wanted
from brumal.records.setting_types import (
    STRICT,
    WEEKDAYS,
    Chance,
    Cost,
    Count,
    DayOfYear,
    DayRange,
    Days,
    Eggs,
    Off,
    Portion,
    Positive,
    Reason,
    ScoreRange,
    Share,
    Weekday,
    Whole,
)
from brumal.records.setting_types import IdPair as IdPair
from brumal.records.setting_types import Label as Label


@dataclass(frozen=True, config=STRICT)
class SeasonDates:
    """The season's name and the window in which pairs may be put together.

    ``as_of`` is the day the season is seen from (left out: the day of the run). In a running season
    agreed pairs stand unless giving one up gains more than ``keep_pairs_for``, in money.
    """

    name: str
    pair_from: date
    pair_to: date
    as_of: date | None = None
    keep_pairs_for: Cost = 10.0

    @property
    def last_day(self) -> date:
        """Return the last day that a row of a table may bear: the season goes on after pairing."""
        return max(self.pair_to, self.as_of or self.pair_to)

    @property
    def not_after(self) -> str:
        """Return the words for a date no later than that."""
        if self.last_day == self.pair_to:
            return f"a date not after the season's pair_to ({self.pair_to})"
        return f"a date not after {self.last_day}, the day the season is seen from"


@dataclass(frozen=True, config=STRICT)
class Assume:
    """Figures the keeper states for every clutch; each one left out is forecast instead."""

    goes: Share | None = None
    fertile: Share | None = None
    hatched: Share | None = None
    eggs: Eggs | None = None


@dataclass(frozen=True, config=STRICT)
class Limits:
    """What there is room and permission for; ``None`` means no limit.

    ``weekly`` is the chance with which no week of the season may lack a box (tubs are counted in
    the fullest week); ``False`` counts all clutches as being in at once.
    ``spend`` is money that may go out before any young is sold, ``resting`` the least number of
    females that rest, ``sire_share`` the largest share of the young held back that may come from
    one sire.
    """

    boxes: Count | None = None
    tubs: Count | None = None
    weekly: Annotated[float, Field(gt=0, lt=1)] | Off = 0.9
    pairings_per_male: Count | None = None
    max_F: Share = 0.0625  # noqa: N815  (F is the field's symbol)
    spend: Cost | None = None
    resting: Count = 0
    sire_share: Share | None = None


@dataclass(frozen=True, config=STRICT)
class Box:
    """How clutches fill a box: up to ``clutches`` small ones share it, a larger one has its own."""

    clutches: Whole = 2
    small_clutch: Count = 6


@dataclass(frozen=True, config=STRICT)
class Locks:
    """What the keeper has already decided; pairs are (dam, sire).

    ``sires`` says of a female that several males visited how likely each is the sire: dam to
    (sire to share), the shares taken in proportion.
    """

    must_pair: tuple[IdPair, ...] = ()
    never_pair: tuple[IdPair, ...] = ()
    sit_out: tuple[str, ...] = ()
    already_paired: tuple[IdPair, ...] = ()
    sires: dict[str, dict[str, Share]] = Field(default_factory=dict)


@dataclass(frozen=True, config=STRICT)
class Offers:
    """Animals that money decides on, by id; each stands in the animals table as breeder or loan.

    ``borrow`` and ``buy`` cost once, if the animal is paired; ``sell`` brings money if it is not.
    """

    borrow: dict[str, Cost] = Field(default_factory=dict)
    buy: dict[str, Cost] = Field(default_factory=dict)
    sell: dict[str, Cost] = Field(default_factory=dict)


@dataclass(frozen=True, config=STRICT)
class RuleLimits:
    """The limits of the breeding rules; every default is listed in ``docs/rules.md``.

    ``accept_welfare`` names genes whose welfare exclusion the keeper lifts.
    ``proven_female_weight_g`` is the least weight of a female that has laid before (left out: the
    same as for a first clutch). A last weighing older than ``weight_max_age_days`` at pairing is
    called old. An animal whose last weighing is under a limit may start on the day on which it
    weighs enough with the chance ``start_chance``. ``first_clutch_condition`` is the body condition
    asked of a female that has not laid yet. ``max_seasons_in_a_row`` and ``rest_seasons`` (whole
    seasons off after a laying) are off at 0. From ``great_age_years`` on a vet is to look at a
    female before pairing. With ``quarantine_test`` quarantine ends only with a negative test.
    ``soft`` turns a preference from a bar into a price: rule id to cost a unit of what is missing
    (units in ``docs/rules.md``).
    Limits that guard health have floors (``records.floors``).
    """

    female_weight_g: Positive = 1500.0
    female_age_months: Annotated[float, Field(gt=0, le=600, allow_inf_nan=False)] = 30.0
    male_weight_g: Positive = 500.0
    male_age_months: Annotated[float, Field(gt=0, le=600, allow_inf_nan=False)] = 12.0
    condition: ScoreRange = (2.5, 4.0)
    first_clutch_condition: ScoreRange = (3.0, 4.0)
    recovered_share: Share = 0.9
    accept_welfare: tuple[str, ...] = ()
    proven_female_weight_g: Positive | None = None
    weight_max_age_days: Days = 90
    start_chance: Annotated[float, Field(ge=0.5, le=0.99)] = 0.8
    max_seasons_in_a_row: Days = 2
    rest_seasons: Days = 0
    great_age_years: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)] = 15.0
    quarantine_days: Days = 90
    quarantine_test: bool = False
    soft: dict[str, Cost] = Field(default_factory=dict)


@dataclass(frozen=True, config=STRICT)
class Keeping:
    """What the keeper's records hold.

    ``failures`` says that every season in which a female was paired and laid nothing has its row
    in the clutches table; without it, rows of clutches tell nothing of how often females go.
    """

    failures: bool = False


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
class ClutchPrior:
    """What is believed of a clutch before the collection's own records; see ``docs/forecast.md``.

    ``eggs`` is the mean of a later clutch of a female of ``reference_g`` grams; a first clutch has
    ``first_share`` of it, and eggs go with mass to the power ``mass_exponent``. ``goes`` is the
    chance that a paired female lays, ``goes_first`` that of one that never has,
    ``goes_after_laying`` that of one that laid last season, and ``goes_doubtful`` bounds it for one
    of great age or with trouble at laying on record. ``fertile`` is the share of eggs that are not
    slugs, ``hatched`` the share of fertile eggs that hatch. All of it counts for as much as
    ``worth`` recorded clutches.
    """

    eggs: Eggs = 6.83
    reference_g: Positive = 1800.0
    first_share: Share = 0.85
    mass_exponent: Annotated[float, Field(ge=0, le=3)] = 0.8
    goes: Share = 0.8
    goes_first: Share = 0.7
    goes_after_laying: Share = 0.7
    goes_doubtful: Share = 0.5
    fertile: Share = 0.9
    hatched: Share = 0.9
    worth: Annotated[float, Field(ge=0.1, le=10_000)] = 8.0


@dataclass(frozen=True, config=STRICT)
class StageDays:
    """When females ovulate, and the days of each stage after it: ``dates`` in ``season.yaml``.

    ``ovulation`` are the days of the year (month-day) between which eight in ten females ovulate;
    left out, it goes by the months of pairing. Stages are (least, most) days: ``to_shed`` from
    ovulation to the pre-lay shed, ``shed_to_laying`` from that to laying, ``incubation`` from
    laying, ``raising`` from hatching until the young leave their tubs.
    """

    ovulation: tuple[DayOfYear, DayOfYear] | None = None
    to_shed: DayRange = (18, 24)
    shed_to_laying: DayRange = (26, 33)
    incubation: DayRange = (55, 60)
    raising: DayRange = (42, 84)


@dataclass(frozen=True, config=STRICT)
class Visits:
    """How males go round: days a visit lasts, rest of the male and of the female after it.

    Visits begin on ``weekdays`` and go on until her window is over, or until there are ``wanted``
    of them. A visit serves an ovulation at most ``serve_days`` after it with ``serve_chance``; in
    so many days an ordinary schedule has ``ordinary`` visits, and no male is planned for more
    females than he can give ``least`` each.
    """

    days: Whole = 3
    male_rest_days: Days = 4
    female_rest_days: Days = 14
    weekdays: Annotated[tuple[Weekday, ...], Field(min_length=1)] = WEEKDAYS
    wanted: Whole | None = None
    least: Whole = 2
    serve_days: Whole = 60
    serve_chance: Annotated[float, Field(gt=0, lt=1)] = 0.6
    ordinary: Whole = 3


@dataclass(frozen=True, config=STRICT)
class Checks:
    """When the calendar asks the keeper to look over the animals of the plan.

    They are weighed every ``weigh_every_days`` from the first day of pairing; a female that laid
    is looked over and fed ``look_over_days`` after her own laying; while there may be eggs, they
    and the incubator are checked every ``eggs_every_days``.
    """

    weigh_every_days: Whole = 28
    look_over_days: Days = 7
    eggs_every_days: Whole = 7


@dataclass(frozen=True, config=STRICT)
class Ranges:
    """How far figures may come out from what the plan takes them for, as shares either way.

    ``price`` is of every price of a hatchling, ``eggs`` of the clutch of each female, ``hatched``
    of the share that hatches this season; see ``brumal simulate --replan``.
    """

    price: Portion = 0.15
    eggs: Portion = 0.15
    hatched: Portion = 0.1


@dataclass(frozen=True, config=STRICT)
class Risk:
    """How much bad seasons count; see ``docs/planning.md``.

    The plan maximises the expectation less ``weight`` times what the mean of the ``worst`` share of
    ``seasons`` falls short of it. The seasons are drawn once from ``seed``.
    """

    weight: Share = 0.0
    worst: Annotated[float, Field(gt=0, le=1)] = 0.1
    seasons: Annotated[int, Field(ge=10, le=10_000)] = 1000
    seed: Count = 1


@dataclass(frozen=True, config=STRICT)
class Notation:
    """How morphs are read and written.

    ``possible`` is the chance of a possible het (or a gene that may show) of which the records
    give none. With ``combination_names`` results bear the combination names of the trade.
    """

    possible: Chance | None = None
    combination_names: bool = False


@dataclass(frozen=True, config=STRICT)
class Settings:
    """The whole of ``season.yaml``."""

    season: SeasonDates
    currency: str = "EUR"
    assume: Assume = Field(default_factory=Assume)
    limits: Limits = Field(default_factory=Limits)
    box: Box = Field(default_factory=Box)
    rules: RuleLimits = Field(default_factory=RuleLimits)
    records: Keeping = Field(default_factory=Keeping)
    values: Values = Field(default_factory=Values)
    costs: Costs = Field(default_factory=Costs)
    sale: Sale = Field(default_factory=Sale)
    locks: Locks = Field(default_factory=Locks)
    offers: Offers = Field(default_factory=Offers)
    kin: Kin = Field(default_factory=Kin)
    clutch: ClutchPrior = Field(default_factory=ClutchPrior)
    dates: StageDays = Field(default_factory=StageDays)
    visits: Visits = Field(default_factory=Visits)
    checks: Checks = Field(default_factory=Checks)
    ranges: Ranges = Field(default_factory=Ranges)
    risk: Risk = Field(default_factory=Risk)
    notation: Notation = Field(default_factory=Notation)
