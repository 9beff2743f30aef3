"""What visits of a pair serve: ordinary ones to price it by, and those of a plan's own calendar.

Pairs are priced as if each female got an ordinary schedule of visits from the first day on which
the two may meet, so that a plan stays a sum over its pairs. A plan is laid out afterwards, and what
its real visits serve is counted again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from brumal.forecast.clutch import ClutchForecast, ClutchForecasts, clutch_for
from brumal.forecast.dates import ClutchDates, DayChances, clutch_dates, window
from brumal.forecast.occupancy import ExpectedClutch
from brumal.forecast.rounds import Calendar, RoundPair, rounds_for
from brumal.forecast.service import Served, cycles, ordinary_visits, these_visits
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.records.animals import Animal
from brumal.rules.start import PairStart


@dataclass(slots=True)
class Visiting:
    """The service of ordinary visits for pairs of a season, each female and first day once.

    ``forecasts`` may differ from those of the season, in a question about one female's eggs.
    """

    prepared: Prepared
    forecasts: ClutchForecasts
    _served: dict[tuple[str, date], Served] = field(default_factory=dict)
    _days: dict[str, DayChances] = field(default_factory=dict)

    @staticmethod
    def of(prepared: Prepared) -> Visiting:
        """Return that of a season as it is."""
        return Visiting(prepared, prepared.forecasts)

    def ovulation(self, dam: str) -> DayChances:
        """Return the chances of each day of a female's ovulation."""
        if dam not in self._days:
            self._days[dam] = self.prepared.ovulations.of(dam).days
        return self._days[dam]

    def counts(self, pair: Pair) -> bool:
        """Say whether visits bear on the chance that the female goes.

        They do not where that chance is stated, or where earlier visits have been made already.
        """
        stated = self.forecasts.dams[pair[0]].goes_on.stated
        return not stated and pair not in self.prepared.records.settings.locks.already_paired

    def last_day(self, dam: str) -> date:
        """Return the day until which a female is visited: her window or pairing is over."""
        pair_to = self.prepared.records.settings.season.pair_to
        return min(pair_to, window(self.ovulation(dam)).late)

    def ordinary(self, dam: str, first: date) -> Served:
        """Return what ordinary visits from a day on serve."""
        if (dam, first) not in self._served:
            visits = self.prepared.records.settings.visits
            self._served[dam, first] = ordinary_visits(
                self.ovulation(dam), first, self.last_day(dam), visits
            )
        return self._served[dam, first]

    def goes(self, pair: Pair, start: PairStart, served: Served | None = None) -> float:
        """Return the chance that the female goes with ordinary visits, or with those ``served``."""
        hers = self.forecasts.dams[pair[0]]
        if not self.counts(pair):
            return hers.goes * start.chance
        share = (served or self.ordinary(pair[0], start.day)).share
        visits = self.prepared.records.settings.visits
        return cycles(hers.goes_on, visits) * share * start.chance

    def clutch(self, dam: Animal, sire: Animal, start: PairStart) -> ClutchForecast:
        """Return the forecast of a pair with ordinary visits."""
        return clutch_for(self.forecasts, dam, sire, self.goes((dam.id, sire.id), start))


@dataclass(frozen=True, kw_only=True, eq=False)
class LaidOut:
    """A plan's visits day by day, and each pair's clutch and dates as they serve them.

    A start that waits for a weight has its time, but no visits on the calendar before it is
    recorded.
    """

    calendar: Calendar
    clutches: Mapping[Pair, ClutchForecast]
    dates: Mapping[Pair, ClutchDates]

    @property
    def expected(self) -> list[ExpectedClutch]:
        """Return the clutches with their dates."""
        return [
            ExpectedClutch(clutch=clutch, dates=self.dates[pair])
            for pair, clutch in self.clutches.items()
        ]


def lay_out(
    prepared: Prepared,
    clutches: Mapping[Pair, ClutchForecast],
    starts: Mapping[Pair, PairStart],
    needs: Mapping[Pair, float],
    held: Collection[Pair],
) -> LaidOut:
    """Lay out the visits of pairs, those in most need first; ``held`` get none.

    ``clutches`` are the forecasts with ordinary visits, ``needs`` has an entry for each pair.
    """
    settings, visiting = prepared.records.settings, Visiting.of(prepared)
    rounds = [
        RoundPair(
            dam=dam,
            sire=sire,
            need=need,
            start=starts[dam, sire].day,
            until=visiting.last_day(dam),
        )
        for (dam, sire), need in needs.items()
        if (dam, sire) not in held
    ]
    calendar = rounds_for(rounds, settings.season, settings.visits)
    found: dict[Pair, ClutchForecast] = {}
    dates: dict[Pair, ClutchDates] = {}
    for pair in needs:
        days, clutch = visiting.ovulation(pair[0]), clutches[pair]
        if visiting.counts(pair):
            stays = [(visit.start, visit.end) for visit in calendar.of(*pair)]
            served = these_visits(days, stays, settings.visits)
            goes = visiting.goes(pair, starts[pair], served)
            days, clutch = served.ovulation, replace(clutch, goes=goes)
        found[pair] = clutch
        dates[pair] = clutch_dates(days, settings.dates)
    listed = [
        visit for visit in calendar.visits if not starts[visit.female, visit.male].provisional
    ]
    return LaidOut(calendar=replace(calendar, visits=tuple(listed)), clutches=found, dates=dates)
