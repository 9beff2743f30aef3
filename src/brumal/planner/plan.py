"""The plan: everything that reports need, computed once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from brumal.planner.infeasible import InfeasibleSet
from brumal.planner.solver.answer import Verdict
from brumal.records.last_plan import PLAN_VERSION as PLAN_VERSION
from brumal.records.season_facts import SeasonClutch
from brumal.records.season_state import Stage
from brumal.routes.route import Kept
from brumal.rules.start import Start

FEW = 0.01
"""A share of the money by which the calendar may fall short without a word at the head."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A look the young of a pair may have, with its possible hets.

    ``chance`` is that of one young, ``value`` what a hatchling of this look is worth at full price.
    """

    morph: str
    chance: float
    value: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondChoice:
    """Who takes the place of a sire, and what the season is then worth less.

    ``missed`` names the chances asked for that the season then no longer has.
    """

    sire: str
    less: float
    missed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """What hatched, by the looks written down, and what it comes to, less the pair's costs.

    ``looks`` are (look, how many), those worth most first.
    """

    looks: tuple[tuple[str, int], ...]
    money: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPair:
    """One pair of the plan.

    ``value`` is expected money (full prices less costs) and ``sd`` its standard deviation;
    ``eggs`` the expected clutch if she goes, ``young`` the expected hatchlings with the chance
    that she does not go counted in. ``lock`` is ``must_pair`` or ``already_paired`` where the
    keeper decided, else empty. ``cautions`` are whole sentences, what can hurt an animal first;
    those that many animals share stand in ``Plan.cautions`` alone. ``start`` is the day of the
    first visit, made or expected; ``waits_for`` are the provisional starts of its animals, whose
    chance is counted in ``goes``. ``state`` is how far she has come, ``since`` the day that brought
    it, ``sires`` the males that may be the sire (more than one: each with its chance), ``clutch``
    what was laid, ``came`` what hatched (the value and all sums count the odds of its looks),
    ``second`` who takes the sire's place should he refuse.
    """

    dam: str
    sire: str
    value: float
    sd: float
    goes: float
    eggs: float
    box_eggs: float
    shares_box: bool
    young: float
    F: float
    outcomes: tuple[Outcome, ...]
    lock: str = ""
    cautions: tuple[str, ...] = ()
    start: date | None = None
    waits_for: tuple[Start, ...] = ()
    state: Stage = Stage.OPEN
    since: date | None = None
    sires: tuple[tuple[str, float], ...] = ()
    clutch: SeasonClutch | None = None
    came: Came | None = None
    second: SecondChoice | None = None

    @property
    def provisional(self) -> bool:
        """Say whether a weight still to come decides the first visit."""
        return bool(self.waits_for)

    def chance_after(self, count: int) -> float:
        """Return the chance of a young of any look but the first so many."""
        return sum(each.chance for each in self.outcomes[count:])


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIns:
    """The pairs that take the place of an animal which is too light on its weigh day."""

    animal: str
    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCaution:
    """A caution on animals of the plan in whole sentences; ``rank`` 0 can hurt an animal.

    ``own`` says it of each of the ``animals`` alone, or of all of them where it has one entry.
    """

    rank: int
    animals: tuple[str, ...]
    text: str
    own: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unready:
    """Why a plan without pairs has none: which ``sex`` has no animal fit to breed.

    ``nearest`` are (id, day) of those that should be ready soonest. Where both sexes have animals
    that may breed, ``sex`` is empty; ``priced`` says whether any young is worth anything.
    """

    sex: str
    nearest: tuple[tuple[str, date], ...]
    priced: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason to sit the year out: the rule's id and a whole sentence with the figures."""

    rule: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Resting:
    """A female that sits the year out, ``by`` a ``rule``, a ``lock`` or the plan's ``choice``."""

    id: str
    by: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextInLine:
    """A female left out, and the plan nearest to the best one that has her in.

    She goes to ``sire``; ``for_dam`` is the female of the plan who makes room (empty: none has to),
    by going to ``other_sire`` or, where that is empty, by resting; ``rests`` is one more who then
    rests. ``loss`` is what the season loses by that; ``too_close`` says that it is within the gap
    of the proof.
    """

    dam: str
    sire: str
    loss: float
    for_dam: str = ""
    other_sire: str = ""
    rests: str = ""
    too_close: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MaleUse:
    """A male's pairings against his limit; a male that may not breed has the reasons.

    Pairs that stand as facts may be more than his limit: ``limit`` is then as many.
    """

    id: str
    pairings: int
    limit: int
    limit_from: str
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What a wanted entry should get: expected young sold under it, chance of one that fits it."""

    morph: str
    need: int | None
    asked_chance: float | None
    expected: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ForLater:
    """A pair of the plan that works for a later target, and the young to hold back from it.

    ``alone`` is the money that is lost where this pair is left out and all others stand.
    """

    dam: str
    sire: str
    keep: tuple[Kept, ...]
    alone: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRoute:
    """What this season does for a wish that may wait until the year ``by``.

    ``chance`` holds (year, chance of a target by its end) with this season's pairs, ``without`` the
    same with none of the route's animals paired this season; both exact for the policies that the
    route states. ``money`` is what the plan counts for the difference in later years. ``open`` says
    that something leads there in time, ``refused`` names the welfare note that the target is under.
    """

    morph: str
    by: int
    value: float
    money: float
    chance: tuple[tuple[int, float], ...]
    without: tuple[tuple[int, float], ...]
    pairs: tuple[ForLater, ...]
    open: bool
    refused: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """The objective in its parts: they add up to it.

    ``offers`` is what sales bring less what animals bought or borrowed cost, ``keeping`` a year's
    keep of the adults, ``risk`` what bad seasons take off where they count, ``routes`` what the
    season adds to wishes that may wait, ``switches`` what agreed pairs given up count against it.
    """

    pairs: float
    holdbacks: float
    saturation: float
    rules: float
    offers: float = 0.0
    keeping: float = 0.0
    risk: float = 0.0
    routes: float = 0.0
    switches: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BadSeasons:
    """How bad seasons count: the mean of the worst ``share`` of sampled ``seasons``.

    The objective is ``expected`` less ``weight`` times what ``mean`` falls short of it.
    """

    weight: float
    share: float
    seasons: int
    expected: float
    mean: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """An animal that money decides on: what is done, and for how much.

    ``kind`` is ``borrow``, ``buy`` or ``sell``; ``taken`` says whether the plan does it.
    """

    id: str
    kind: str
    money: float
    taken: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What the plan fills: boxes as counted, hatchlings against tubs, money before sales.

    ``young`` is expected in all; ``tubs`` are those that count against the limit. ``weekly`` is the
    chance asked for that no week lacks a box (``None``: all clutches count as being in at once);
    ``enough`` is that of this plan with ``boxes_limit`` boxes, or less than it. ``with_fewer`` is
    the same with one box fewer than it counts; where facts count more than there are, it is
    ``None`` and ``with_counted`` the same with as many as it counts. ``fullest`` is the Monday of
    the week with the most boxes in use, ``in_fullest`` on average and ``high_in_fullest`` or fewer
    in nine seasons of ten.
    """

    boxes: int
    boxes_limit: int | None
    young: float
    tubs: float
    tubs_limit: int | None
    weekly: float | None = None
    enough: float | None = None
    fullest: date | None = None
    in_fullest: float = 0.0
    with_fewer: float | None = None
    with_counted: float | None = None
    high_in_fullest: int = 0
    spend: float = 0.0
    spend_limit: float | None = None

    @property
    def over(self) -> bool:
        """Say whether the pairs that stand count for more boxes than there are."""
        return self.boxes_limit is not None and self.boxes > self.boxes_limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What the plan was made from, so that it can be made again."""

    fingerprints: Mapping[str, str]
    settings: Mapping[str, object]
    versions: Mapping[str, str]
    solver: str
    gap: float
    time_limit: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A season's plan with its proof; ``clash`` says why where the verdict is impossible.

    ``line`` are the females left out that would come next, ``stand_ins`` who takes the place of
    animals whose start waits for a weight, ``as_of`` is the day the season is seen from. ``names``
    maps each id to the label that people read. ``cautions`` are told before all others: what can
    hurt an animal, what many animals share, what holds for several pairs. ``unready`` is there
    where no female is paired.
    """

    season: str
    currency: str
    pair_from: date
    pair_to: date
    verdict: Verdict
    objective: float | None
    bound: float | None
    gap: float | None
    pairs: tuple[PlannedPair, ...]
    resting: tuple[Resting, ...]
    males: tuple[MaleUse, ...]
    targets: tuple[Target, ...]
    money: Money
    room: Room
    inputs: Inputs
    names: Mapping[str, str]
    line: tuple[NextInLine, ...] = ()
    as_of: date | None = None
    stand_ins: tuple[StandIns, ...] = ()
    offers: tuple[Offer, ...] = ()
    bad_seasons: BadSeasons | None = None
    clashes: tuple[InfeasibleSet, ...] = ()
    notes: tuple[str, ...] = field(default_factory=tuple)
    cautions: tuple[PlanCaution, ...] = ()
    unready: Unready | None = None
    routes: tuple[PlannedRoute, ...] = ()
    by_calendar: float | None = None

    @property
    def few_visits(self) -> bool:
        """Say whether the visits of its calendar bring clearly less than pairs are priced by."""
        if self.by_calendar is None or self.objective is None:
            return False
        return self.by_calendar < self.objective - FEW * abs(self.objective)

    @property
    def left_open(self) -> float:
        """Return how much more the best plan there can be may bring."""
        return (self.bound or 0.0) - (self.objective or 0.0)

    @property
    def mean_inbreeding(self) -> float:
        """Return the mean F of the young, a pair counted once; 0 without pairs."""
        return sum(pair.F for pair in self.pairs) / max(len(self.pairs), 1)

    @property
    def spread(self) -> float:
        """Return how far the money may come out either way, each pair taken by itself."""
        return math.sqrt(sum(pair.sd**2 for pair in self.pairs))
