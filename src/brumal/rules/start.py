"""From which day an animal may be paired: the first on which every rule holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from brumal.records.animals import Animal
from brumal.rules.rule import RuleContext
from brumal.rules.table import judge_animal, may_breed
from brumal.rules.verdict import RuleVerdict

SEASON_OVER = "season"
"""What holds an animal where pairing is over on the day the season is seen from."""
Contexts = dict[date, RuleContext]


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """When an animal may first be paired this season.

    ``day`` is ``None`` where no day of the season will do; ``held_by`` is the id of the rule that
    holds the animal last, or bars it (empty where none did). A ``provisional`` start rests on grams
    still to come: it holds with ``chance`` if the animal weighs ``asked_g`` or more on
    ``weigh_on``. ``first`` are the verdicts of the first day of all, ``verdicts`` those of ``day``
    (of the first day where there is none).
    """

    animal: str
    day: date | None
    held_by: str = ""
    provisional: bool = False
    chance: float = 1.0
    weigh_on: date | None = None
    asked_g: float | None = None
    verdicts: tuple[RuleVerdict, ...] = ()
    first: tuple[RuleVerdict, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PairStart:
    """When two animals may first meet, and the chance that both are heavy enough by then.

    ``provisional`` says that it rests on grams still to come. ``verdicts`` are those of both from
    that day on (none of a pair that is made already).
    """

    day: date
    provisional: bool = False
    chance: float = 1.0
    verdicts: tuple[RuleVerdict, ...] = ()


def starts_of(animals: Iterable[Animal], context: RuleContext) -> dict[str, Start]:
    """Return the start of every animal, by id."""
    known: Contexts = {context.on: context}
    return {animal.id: _start(animal, context, known) for animal in animals}


def start_of(animal: Animal, context: RuleContext) -> Start:
    """Return the start of one animal."""
    return _start(animal, context, {context.on: context})


def _start(animal: Animal, context: RuleContext, known: Contexts) -> Start:
    """Walk from the day of judging to the first on which nothing fails.

    Each step goes to the first day on which what fails may hold: the day that the rules name, or
    the next on which something dated ahead acts.
    """
    last = context.settings.season.pair_to
    first = judge_animal(animal, context)
    if context.on > last:
        first = (*first, _over(animal, context.on, last))
    day, verdicts, held = context.on, first, ""
    while not may_breed(verdicts):
        held = _held_by(verdicts)
        next_day = _next_day(verdicts, context.ahead.get(animal.id, ()), day)
        if next_day is None or next_day > last:
            return Start(animal=animal.id, day=None, held_by=held, verdicts=first, first=first)
        day = next_day
        if day not in known:
            known[day] = context.at(day)
        verdicts = judge_animal(animal, known[day])
    return _found(animal, day, held, verdicts, first)


def _over(animal: Animal, on: date, last: date) -> RuleVerdict:
    return RuleVerdict(
        rule=SEASON_OVER,
        subject=(animal.id,),
        passed=False,
        text=f"Pairing ended on {last}; the season is seen from {on}.",
    )


def _found(
    animal: Animal,
    day: date,
    held: str,
    verdicts: tuple[RuleVerdict, ...],
    first: tuple[RuleVerdict, ...],
) -> Start:
    asked = [each.figures for each in verdicts if "chance" in each.figures]
    return Start(
        animal=animal.id,
        day=day,
        held_by=held,
        provisional=bool(asked),
        chance=min((float(figures["chance"]) for figures in asked), default=1.0),
        weigh_on=day if asked else None,
        asked_g=max((float(figures["limit_g"]) for figures in asked), default=None),
        verdicts=verdicts,
        first=first,
    )


def _ready(verdict: RuleVerdict) -> date | None:
    day = verdict.figures.get("ready")
    return date.fromisoformat(day) if isinstance(day, str) else None


def _held_by(verdicts: Iterable[RuleVerdict]) -> str:
    """Return the failed rule without a day, else the one of the latest day."""
    failed = [verdict for verdict in verdicts if not verdict.passed]
    return max(failed, key=lambda each: _ready(each) or date.max).rule


def _next_day(verdicts: Iterable[RuleVerdict], ahead: Iterable[date], day: date) -> date | None:
    """Return the first day after ``day`` on which what fails may hold, ``None`` where none is."""
    ready = [_ready(verdict) for verdict in verdicts if not verdict.passed]
    known = [each for each in ready if each is not None]
    days = [each for each in ahead if each > day]
    if len(known) == len(ready) and max(known) > day:
        days.append(max(known))
    return min(days, default=None)


@dataclass(frozen=True, slots=True)
class Meetings:
    """When two animals of a season may first meet: on the later of their days, both still fit.

    ``animals`` and their ``starts`` are by id. What was found is kept, each animal and day once.
    """

    animals: Mapping[str, Animal]
    starts: Mapping[str, Start]
    context: RuleContext
    known: dict[tuple[str, date], Start] = field(default_factory=dict)
    contexts: Contexts = field(default_factory=dict)

    def of(self, dam: str, sire: str) -> PairStart | None:
        """Return the day and the chance of two animals' first visit, ``None`` where none is."""
        hers, his = self._both(dam, sire)
        if hers.day is None or his.day is None:
            return None
        return PairStart(
            day=max(hers.day, his.day),
            provisional=hers.provisional or his.provisional,
            chance=hers.chance * his.chance,
            verdicts=(*hers.verdicts, *his.verdicts),
        )

    def bars(self, dam: str, sire: str) -> tuple[RuleVerdict, ...]:
        """Return what keeps two animals apart that may start, but are not both fit on one day."""
        if self.starts[dam].day is None or self.starts[sire].day is None:
            return ()
        both = self._both(dam, sire)
        return tuple(
            verdict
            for start in both
            if start.day is None
            for verdict in start.verdicts
            if not verdict.passed
        )

    def _both(self, dam: str, sire: str) -> tuple[Start, Start]:
        """Return the starts of two animals from the later one's day on."""
        hers, his = self.starts[dam], self.starts[sire]
        asked = None
        while hers.day is not None and his.day is not None and asked != max(hers.day, his.day):
            asked = max(hers.day, his.day)
            hers, his = self.since(dam, asked), self.since(sire, asked)
        return hers, his

    def since(self, animal: str, day: date) -> Start:
        """Return the start of an animal that is first met on a day or later.

        A start that waits for a weight stands: the animal is weighed on its own day.
        """
        own = self.starts[animal]
        if own.day is None or own.day >= day or own.provisional:
            return own
        if (animal, day) not in self.known:
            if day not in self.contexts:
                self.contexts[day] = self.context.at(day)
            again = _start(self.animals[animal], self.contexts[day], self.contexts)
            self.known[animal, day] = again
        return self.known[animal, day]
