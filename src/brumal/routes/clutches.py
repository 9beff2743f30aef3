"""How many young a pairing of a route brings, this season and later, and what it costs.

A founder's clutches are forecast as this season's are, in later seasons too. A female that hatches
on the way has the collection's figures: a first clutch in the first season she may breed in, later
clutches after it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from brumal.forecast.clutch import ClutchForecast, clutch_for, started
from brumal.forecast.dam import dam_forecast
from brumal.forecast.noted import Welfare
from brumal.pipeline import Prepared
from brumal.records.ages import months_old
from brumal.records.animals import Animal, Sex
from brumal.routes.frame import Member, Pmf
from brumal.routes.ready import hatch_day, season_day
from brumal.rules.males import (
    GROWN_MONTHS,
    GROWN_PAIRINGS,
    MIDDLE_PAIRINGS,
    YOUNG_MONTHS,
    YOUNG_PAIRINGS,
    male_limit,
)

_STRANGER = Animal(id="", sex=Sex.MALE)


@dataclass(frozen=True, kw_only=True, eq=False)
class Clutches:
    """The clutches of a collection, of animals bought for a route and of its young.

    Animals that are not in the collection count as grown and, females, as proven.
    """

    prepared: Prepared
    _pmfs: dict[tuple[str, str, bool, float], tuple[Pmf, ClutchForecast]] = field(
        default_factory=dict
    )

    def young(self, dam: Member, sire: Member, season: int) -> Pmf:
        """Return the chances of the number of hatched young."""
        return self._of(dam, sire, season)[0]

    def cost(self, dam: Member, sire: Member, season: int) -> float:
        """Return what a pairing is expected to cost: the pairing, its eggs, its hatchlings."""
        costs, clutch = self.prepared.records.settings.costs, self._of(dam, sire, season)[1]
        laid = clutch.goes * clutch.eggs
        return costs.pairing + costs.egg * laid + costs.hatchling * clutch.expected_young

    def males(self, male: Member, season: int) -> int:
        """Return how many females a male serves in a season, by the keeper's word or by age."""
        animal = self._animal(male)
        if animal is not None and season == 1:
            return male_limit(animal, self.prepared.records)[0]
        if animal is not None and animal.max_pairings is not None:
            return animal.max_pairings
        stated = self.prepared.records.settings.limits.pairings_per_male
        if stated is not None:
            return stated
        on = season_day(self.prepared.records.settings.season.pair_from, season)
        hatched = animal.hatched if animal else None
        if male.founder is None:
            hatched = hatch_day(self.prepared, male.born)
        months = months_old(hatched, on) if hatched else GROWN_MONTHS
        if months < YOUNG_MONTHS:
            return YOUNG_PAIRINGS
        return MIDDLE_PAIRINGS if months < GROWN_MONTHS else GROWN_PAIRINGS

    def _animal(self, member: Member) -> Animal | None:
        return self.prepared.animals.get(member.founder.id) if member.founder else None

    def _of(self, dam: Member, sire: Member, season: int) -> tuple[Pmf, ClutchForecast]:
        first = dam.founder is None and season == dam.ready
        mother, father = self._animal(dam), self._animal(sire)
        start = self._start(mother, father) if season == 1 else 1.0
        key = (mother.id if mother else "", father.id if father else "", first, start)
        if key not in self._pmfs:
            clutch = (
                started(clutch_for(self.prepared.forecasts, mother, father or _STRANGER), start)
                if mother is not None
                else self._of_stranger(father or _STRANGER, first)
            )
            self._pmfs[key] = (_ended(clutch.young_pmf.tolist()), clutch)
        return self._pmfs[key]

    def _start(self, mother: Animal | None, father: Animal | None) -> float:
        """Return the chance that two may meet this season, where grams still to come decide."""
        if mother is None or father is None:
            return 1.0
        if (mother.id, father.id) in self.prepared.records.settings.locks.already_paired:
            return 1.0
        start = self.prepared.meetings.of(mother.id, father.id)
        return 1.0 if start is None else start.chance

    def _of_stranger(self, sire: Animal, first: bool) -> ClutchForecast:
        """Return the clutch of a female that hatches on the way, at the least weight asked."""
        forecasts = self.prepared.forecasts
        mass_g = self.prepared.records.settings.rules.female_weight_g
        hers = dam_forecast(forecasts.collection, "", mass_g=mass_g, proven=not first)
        whole = replace(forecasts, dams={"": hers}, welfare=Welfare())
        return clutch_for(whole, Animal(id="", sex=Sex.FEMALE), sire)


def _ended(chances: list[float]) -> Pmf:
    """Cut the impossible high counts off."""
    while len(chances) > 1 and chances[-1] <= 0:
        chances.pop()
    return tuple(chances)
