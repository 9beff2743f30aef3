"""What the page and its worker say to each other: frozen records that travel between processes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from brumal.insight.compare.comparison import Comparison
from brumal.insight.compare.first_plan import FirstPlan
from brumal.insight.week import Week
from brumal.insight.why.answers import AnimalWhy
from brumal.insight.why.choices import Choice
from brumal.insight.why.outlook import Outlook
from brumal.insight.why.shadow_prices import ShadowPrice
from brumal.insight.why.whole import Subject
from brumal.pedigree.pair import KinPair
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import Plan
from brumal.records.faults import Fault
from brumal.records.folder import SeasonRecords
from brumal.rules.start import Start


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """The season as its folder says it: what the worker makes ready once."""

    records: SeasonRecords


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """A season to be planned; ``before`` are the pairs of the plan shown until now.

    ``unmarked`` says that it is the season as its folder says it, whose plan is kept beside others.
    """

    number: int
    records: SeasonRecords
    before: tuple[Pair, ...] = ()
    unmarked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AskWhy:
    """One animal of a season already planned to be explained."""

    number: int
    animal: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AskOneMore:
    """What one more of each limit of a season already planned would bring.

    It is found limit by limit, while nothing else is asked; ``found`` are those known.
    """

    number: int
    found: tuple[ShadowPrice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AskBeside:
    """The what-ifs of a season folder to be planned side by side."""

    number: int
    records: SeasonRecords


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """The solve under way is to end: with its best plan so far (``keep``), or without an answer."""

    keep: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class First:
    """The answer at once: the plan before repaired, not proven; ``None`` where that found none."""

    number: int
    plan: FirstPlan | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Looking:
    """How far a solve is: the best value so far (``None``: no plan yet) and what bounds any."""

    number: int
    best: float | None
    bound: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """A plan with all that the page shows of it.

    ``outlook`` and ``week`` are ``None`` where no plan is possible. ``mates`` are the sires open to
    each female with the worth of the pair by itself, the best first; ``able`` the animals that no
    rule bars.
    """

    number: int
    plan: Plan
    outlook: Outlook | None
    week: Week | None
    mates: Mapping[str, tuple[tuple[str, float], ...]]
    able: frozenset[str]
    starts: Mapping[str, Start]


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """A season that cannot be planned, and why."""

    number: int
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """One animal explained: ``choices`` are a female's other sires, ``kin`` she and her sire."""

    number: int
    animal: str
    why: AnimalWhy
    subject: Subject
    choices: tuple[Choice, ...]
    kin: tuple[KinPair, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMore:
    """What one more of each limit would bring, as far as it is known."""

    number: int
    prices: tuple[ShadowPrice, ...]
    subject: Subject


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideSoFar:
    """How many of the seasons side by side are planned, and the last of them."""

    number: int
    done: int
    of: int
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """The what-ifs side by side."""

    number: int
    comparison: Comparison


Question = Ask | AskWhy | AskOneMore | AskBeside
Message = Base | Question | Stop
Reply = First | Looking | Solved | Failed | Why | OneMore | BesideSoFar | Beside
