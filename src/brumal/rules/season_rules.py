"""What has happened this season already: whom no further visit serves."""

from __future__ import annotations

from brumal.records.animals import Animal, Sex
from brumal.records.season_state import MAY_MEET, Stage
from brumal.rules.rule import PRACTICE, AnimalRule, Finding, RuleContext, called

CAME_SO_FAR = "came-so-far"
_SAID = {
    Stage.OVULATED: "has ovulated",
    Stage.SHED: "is in her shed before laying",
    Stage.LAID: "has laid",
    Stage.HATCHED: "has had her clutch",
    Stage.OUT: "is gone",
}


def _judge(animal: Animal, context: RuleContext) -> Finding | None:
    her = context.state.females.get(animal.id)
    if animal.sex is Sex.MALE or her is None or her.stage in MAY_MEET:
        return None
    since = f" on {her.since}" if her.since is not None else ""
    return Finding(
        passed=False,
        text=f"{called(animal)} {_SAID[her.stage]} this season{since}: no visit serves her any "
        "more.",
    )


SEASON_RULES = (
    AnimalRule(
        id=CAME_SO_FAR,
        title="A female that has ovulated, shed or laid this season gets no further visit",
        because=f"{PRACTICE}: she ovulates once a season",
        keys=(),
        unit="",
        judge=_judge,
    ),
)
