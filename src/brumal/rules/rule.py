"""What a rule is: an id, why it stands, its limit, and how it judges."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from brumal.forecast.ledger import Ledger
from brumal.forecast.weight import WeightSeries
from brumal.genetics.welfare import WelfareRisk
from brumal.records.animals import Animal, Clutch, Event, Sex
from brumal.records.season_state import SeasonState
from brumal.records.settings import RuleLimits, Settings
from brumal.rules.verdict import Rank

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRisk:
    """A welfare note that an animal falls under itself, and when a vet last cleared it of that."""

    risk: WelfareRisk
    cleared: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleContext:
    """What rules look up, built once: everything judged at ``on``.

    That is the first day of pairing, or the day the season is seen from where that is later.

    ``layings`` holds each animal's days of laying before this season, earliest first; ``troubles``
    her clutches with trouble at laying; ``clutches`` all of hers, the earliest first; ``ledgers``
    the seasons of each female of the collection; ``proven`` the females known to have laid;
    ``exceptions`` the keeper's written reasons for pairs above the cap on F. ``events`` holds what
    happened to each animal, earliest first; ``own_risks`` the welfare notes that it may fall under
    itself, ``clean_lines`` the animals whose parents leave no room for one. ``newcomers`` come from
    outside (on loan, on offer, brought in by a what-if), ``home_bred`` hatched here; ``here_since``
    and ``alive_since`` are the first days on which an animal is on record in this collection, and
    anywhere. ``undated`` are females with a clutch whose day is not recorded. ``seen`` is the day
    of the season's view, ``state`` how far every animal has come in it.
    ``ahead`` holds the days after ``on`` from which something dated ahead acts on an animal, by a
    what-if; ``reweighed`` the weights (day, series) of those weighed ahead, earliest first.
    """

    settings: Settings
    on: date
    series: Mapping[str, WeightSeries]
    layings: Mapping[str, tuple[date, ...]]
    troubles: Mapping[str, tuple[Clutch, ...]]
    proven: frozenset[str]
    exceptions: Mapping[tuple[str, str], str]
    clutches: Mapping[str, tuple[Clutch, ...]] = field(default_factory=dict)
    ledgers: Mapping[str, Ledger] = field(default_factory=dict)
    events: Mapping[str, tuple[Event, ...]] = field(default_factory=dict)
    own_risks: Mapping[str, tuple[OwnRisk, ...]] = field(default_factory=dict)
    clean_lines: frozenset[str] = frozenset()
    newcomers: frozenset[str] = frozenset()
    home_bred: frozenset[str] = frozenset()
    here_since: Mapping[str, date] = field(default_factory=dict)
    alive_since: Mapping[str, date] = field(default_factory=dict)
    undated: frozenset[str] = frozenset()
    seen: date | None = None
    state: SeasonState = field(default_factory=SeasonState)
    ahead: Mapping[str, tuple[date, ...]] = field(default_factory=dict)
    reweighed: Mapping[str, tuple[tuple[date, WeightSeries], ...]] = field(default_factory=dict)

    def at(self, day: date) -> RuleContext:
        """Return the context for judging on another day: what is dated ahead acts from its own."""
        later = {
            animal: [series for from_day, series in found if from_day <= day]
            for animal, found in self.reweighed.items()
        }
        weighed = {animal: found[-1] for animal, found in later.items() if found}
        return replace(self, on=day, series={**self.series, **weighed} if weighed else self.series)

    @property
    def season_from(self) -> date:
        """Return the first day of pairing: seasons gone by are counted back from it."""
        return self.settings.season.pair_from

    @property
    def known_until(self) -> date:
        """Return the last day of what is known: that of judging, or the later one it is seen on."""
        return max(self.on, self.seen or self.on)

    def told(self, animal: str) -> tuple[Event, ...]:
        """Return what happened to an animal up to the last day of what is known."""
        until = self.known_until
        return tuple(event for event in self.events.get(animal, ()) if event.date <= until)

    def laid(self, animal: str) -> tuple[date, ...]:
        """Return her days of laying with this season's, by which weights are read."""
        her = self.state.females.get(animal)
        clutch = her.clutch if her else None
        own = self.layings[animal]
        return own if clutch is None or clutch.laid is None else (*own, clutch.laid)

    @property
    def limits(self) -> RuleLimits:
        """Return the keeper's rule limits."""
        return self.settings.rules


@dataclass(frozen=True, slots=True, kw_only=True)
class PairFigures:
    """What pair rules judge by.

    ``F`` is the inbreeding coefficient of the young, ``generations`` the number of generations
    recorded in full behind both parents, ``risks`` the welfare risks of the cross and ``exception``
    the keeper's reason to let these two meet however close they are.
    """

    F: float
    generations: int = 0
    risks: Sequence[WelfareRisk] = ()
    exception: str = ""


@dataclass(frozen=True, slots=True)
class Meeting:
    """A pair before the pair rules."""

    dam: Animal
    sire: Animal
    context: RuleContext
    figures: PairFigures

    @property
    def names(self) -> str:
        """Return what sentences call the two."""
        return f"{called(self.dam)} and {called(self.sire)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a rule finds, before it becomes a verdict; ``missing`` is the shortfall in its unit.

    ``shared`` and ``detail`` are the words of a caution that many animals may share.
    """

    passed: bool
    text: str
    remedy: str = ""
    caution: bool = False
    missing: float = 0.0
    figures: Mapping[str, float | str] = field(default_factory=dict)
    shared: str = ""
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalRule:
    """A rule on one animal.

    ``because`` is the published source or ``common practice, no source`` with the reason.
    ``keys`` are the settings that move it, as in ``rules.female_weight_g``. ``unit`` is what the
    cost of a soft rule counts, empty where the rule may never be softened. ``judge`` returns
    ``None`` where the rule does not apply. ``rank`` is that of its cautions.
    """

    id: str
    title: str
    because: str
    keys: tuple[str, ...]
    unit: str
    judge: Callable[[Animal, RuleContext], Finding | None]
    rank: Rank = Rank.HARM


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRule:
    """A rule on a pair: ``bars`` says whether it fails without making sentences.

    It looks at the figures of a pair and the keeper's settings alone: pairs of the same figures are
    judged once.
    """

    id: str
    title: str
    because: str
    keys: tuple[str, ...]
    bars: Callable[[PairFigures, RuleContext], bool]
    judge: Callable[[Meeting], Finding]
    rank: Rank = Rank.HARM


@dataclass(frozen=True, slots=True)
class Pronoun:
    """The words for one animal."""

    subject: str
    possessive: str
    object: str


_PRONOUNS = {
    Sex.FEMALE: Pronoun("she", "her", "her"),
    Sex.MALE: Pronoun("he", "his", "him"),
    None: Pronoun("it", "its", "it"),
}


def pronoun(animal: Animal) -> Pronoun:
    """Return the pronouns by sex."""
    return _PRONOUNS[animal.sex]


def called(animal: Animal) -> str:
    """Return what sentences call the animal: its name, else its id."""
    return animal.name or animal.id


def grams(weight: float) -> str:
    """Write a weight as in ``1,380 g``."""
    return f"{weight:,.0f} g"


def decimals(figure: float, most: int = 2) -> str:
    """Write a figure with at most ``most`` decimals and no trailing zeros."""
    text = f"{figure:.{most}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
