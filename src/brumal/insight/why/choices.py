"""The sires a female could have, the best of them solved: what the season loses with each."""

from __future__ import annotations

from dataclasses import dataclass

from brumal.insight.why.counterfactuals import Counterfactual, Questions
from brumal.pedigree.pair import KinPair, examine_pair

MOST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One sire that is open to a female.

    ``alone`` is what the pair brings by itself, ``with_it`` the best plan that makes it, ``kin``
    how the two are related.
    """

    sire: str
    alone: float
    F: float
    with_it: Counterfactual
    kin: KinPair


def choices(questions: Questions, dam: str, most: int = MOST) -> tuple[Choice, ...]:
    """Return the sires of most worth that the plan does not give her, the least loss first."""
    season = questions.season
    others = [each for each in season.candidates_of(dam) if season.mates.get(dam) != each.sire]
    others.sort(key=lambda each: (-each.worth, each.sire))
    found = [
        Choice(
            sire=each.sire,
            alone=each.value,
            F=each.F,
            with_it=questions.ask(questions.with_pair(each.pair)),
            kin=examine_pair(season.prepared.pedigree, dam, each.sire),
        )
        for each in others[:most]
    ]
    return tuple(sorted(found, key=_loss))


def _loss(choice: Choice) -> tuple[bool, float, str]:
    change = choice.with_it.change
    return change is None, -(change or 0.0), choice.sire
