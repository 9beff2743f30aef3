"""From which day an animal may be paired: the first on which every rule holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from brumal.records.animals import Animal
from brumal.rules.rule import RuleContext
from brumal.rules.table import judge_animal, may_breed


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """When an animal may first be paired this season.

    ``day`` is ``None`` where no day of the season will do; ``held_by`` is the id of the rule that
    holds the animal last, or bars it. A ``provisional`` start rests on grams still to come: it
    holds with ``chance`` if the animal weighs ``asked_g`` or more on ``weigh_on``.
    """

    animal: str
    day: date | None
    held_by: str = ""
    provisional: bool = False
    chance: float = 1.0
    weigh_on: date | None = None
    asked_g: float | None = None


def starts_of(animals: Iterable[Animal], context: RuleContext) -> dict[str, Start]:
    """Return the start of every animal, by id."""
    return {animal.id: _start(animal, context) for animal in animals}


def _start(animal: Animal, context: RuleContext) -> Start:
    verdicts = judge_animal(animal, context)
    if may_breed(verdicts):
        return Start(animal=animal.id, day=context.on)
    held = next(verdict.rule for verdict in verdicts if not verdict.passed)
    return Start(animal=animal.id, day=None, held_by=held)


def pair_start(starts: Mapping[str, Start], dam: str, sire: str) -> date | None:
    """Return the first day on which two animals may meet, ``None`` where there is none."""
    days = (starts[dam].day, starts[sire].day)
    return None if days[0] is None or days[1] is None else max(days[0], days[1])
