"""What visits of a pair serve: ordinary ones to price it by, and those of a plan's own calendar.

Pairs are priced as if each female got an ordinary schedule of visits from the first day on which
the two may meet, so that a plan stays a sum over its pairs. A plan is laid out afterwards, and what
its real visits serve is counted again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from brumal.forecast.clutch import ClutchForecast, ClutchForecasts, clutch_for
from brumal.forecast.dates import ClutchDates, DayChances, window
from brumal.forecast.given import (
    GOES,
    MAY_LAY,
    clutch_given,
    dates_given,
    given_signs,
    overdue_since,
    signs_of,
    stays_made,
)
from brumal.forecast.occupancy import ExpectedClutch
from brumal.forecast.rounds import Calendar, RoundPair, rounds_for
from brumal.forecast.service import Served, Stay, cycles, ordinary_visits, these_visits
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.records.animals import Animal, EventKind
from brumal.records.season_state import MAY_MEET, FemaleState
from brumal.rules.start import PairStart


@dataclass(slots=True)
class Visiting:
    """The service of ordinary visits for pairs of a season, each female and first day once.

    ``forecasts`` may differ from those of the season, in a question about one female's eggs.
    """

    prepared: Prepared
    forecasts: ClutchForecasts
    _served: dict[tuple[str, date], Served] = field(default_factory=dict)
    _cycling: dict[str, tuple[float, DayChances]] = field(default_factory=dict)

    @staticmethod
    def of(prepared: Prepared) -> Visiting:
        """Return that of a season as it is."""
        return Visiting(prepared, prepared.forecasts)

    @property
    def seen(self) -> date | None:
        """Return the day from which the season is seen."""
        return self.prepared.records.as_of

    def her(self, dam: str) -> FemaleState | None:
        """Return how far a female has come this season."""
        return self.prepared.records.state.females.get(dam)

    def cycling(self, dam: str) -> tuple[float, DayChances]:
        """Return the chance that a female cycles, and the days of her ovulation, by all signs."""
        if dam not in self._cycling:
            settings = self.prepared.records.settings
            days, her = self.prepared.ovulations.of(dam).days, self.her(dam)
            signs = signs_of(her, self.seen, settings.season.pair_from) if her else ()
            chance = cycles(self.forecasts.dams[dam].goes_on, settings.visits)
            self._cycling[dam] = given_signs(chance, days, signs, settings.dates)
        return self._cycling[dam]

    def ovulation(self, dam: str) -> DayChances:
        """Return the chances of each day of a female's ovulation."""
        return self.cycling(dam)[1]

    def served_days(self, dam: str, first: date | None) -> DayChances:
        """Return the days of an ovulation that ordinary visits from a day on serve, else of any."""
        return self.ovulation(dam) if first is None else self.ordinary(dam, first).ovulation

    def dates(self, dam: str, ovulation: DayChances) -> ClutchDates:
        """Return the dates of a female's clutch from those of her ovulation."""
        stages = self.prepared.records.settings.dates
        return dates_given(ovulation, self.her(dam), self.seen, stages)

    def foreseen(self, dam: str) -> ClutchDates:
        """Return the dates of her clutch as her signs foretold them, whatever has not come since.

        They do not move while she, or her clutch, is overdue.
        """
        stages = self.prepared.records.settings.dates
        return dates_given(self.ovulation(dam), self.her(dam), None, stages)

    def overdue(self, dam: str) -> date | None:
        """Return the day from which she, or her clutch, is overdue; ``None`` where nothing is."""
        her, stages = self.her(dam), self.prepared.records.settings.dates
        if dam not in self.forecasts.dams:
            return None
        return overdue_since(self.ovulation(dam), her, self.seen, stages)

    def made(self, dam: str) -> tuple[Stay, ...]:
        """Return the visits that a female has had."""
        her = self.her(dam)
        return stays_made(her, self.prepared.records.settings.visits) if her else ()

    def counts(self, pair: Pair) -> bool:
        """Say whether visits bear on the chance that the female goes.

        They do not where that chance is stated, once she has ovulated, or where visits have been
        made of which no days are written down.
        """
        her = self.her(pair[0])
        if self.forecasts.dams[pair[0]].goes_on.stated or (her and her.stage in GOES):
            return False
        return pair not in self.prepared.records.already_paired or bool(self.made(pair[0]))

    def last_day(self, dam: str) -> date:
        """Return the day until which a female is visited: her window or pairing is over."""
        pair_to = self.prepared.records.settings.season.pair_to
        return min(pair_to, window(self.ovulation(dam)).late)

    def ordinary(self, dam: str, first: date) -> Served:
        """Return what ordinary visits from a day on serve."""
        first = max(first, self.seen or first)
        if (dam, first) not in self._served:
            visits = self.prepared.records.settings.visits
            self._served[dam, first] = ordinary_visits(
                self.ovulation(dam), first, self.last_day(dam), visits, self.made(dam)
            )
        return self._served[dam, first]

    def served_so_far(self, dam: str) -> Served:
        """Return what the visits serve that a female has had."""
        visits = self.prepared.records.settings.visits
        return these_visits(self.ovulation(dam), self.made(dam), visits)

    def goes(self, pair: Pair, start: PairStart, served: Served | None = None) -> float:
        """Return the chance that the female goes with ordinary visits, or with those ``served``."""
        her = self.her(pair[0])
        if her is not None and her.stage in GOES:
            # Past the longest span that is known nothing tells her chance: no egg is counted.
            late = her.stage in MAY_LAY and self.overdue(pair[0]) is not None
            return 0.0 if late else GOES[her.stage]
        if not self.counts(pair):
            return self.forecasts.dams[pair[0]].goes * start.chance
        share = (served or self.ordinary(pair[0], start.day)).share
        return self.cycling(pair[0])[0] * share * start.chance

    def clutch(
        self, dam: Animal, sire: Animal, start: PairStart, served: Served | None = None
    ) -> ClutchForecast:
        """Return the forecast of a pair with ordinary visits, or of the clutch that was laid.

        With ``served`` the visits are those.
        """
        goes = self.goes((dam.id, sire.id), start, served)
        forecast = clutch_for(self.forecasts, dam, sire, goes)
        her = self.her(dam.id)
        return clutch_given(forecast, her.clutch if her else None)


def still_serves(prepared: Prepared, dam: str) -> str:
    """Say by which males that are gone a female may lay all the same; nothing where by none.

    Their visits may serve her still, and she stands in no pair of theirs.
    """
    records = prepared.records
    her, visits = records.state.females.get(dam), records.settings.visits
    if her is None or her.stage not in MAY_MEET or dam in dict(records.already_paired):
        return ""
    seen = records.as_of or records.settings.season.pair_from
    reach = timedelta(days=visits.days - 1 + visits.serve_days)
    last = {
        event.mate: event.date
        for event in her.meetings
        if event.mate is not None and event.mate not in her.refused
    }
    told = [
        f"{prepared.label(male)}, who has left, was with her on {day} last; that visit may serve "
        f"her until {day + reach}."
        for male, day in sorted(last.items())
        if day + reach >= seen
    ]
    return f"{' '.join(told)} She may lay by him all the same" if told else ""


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
    coming = {pair: _coming(prepared, pair, starts[pair]) for pair in needs if pair not in held}
    rounds = [
        _round(visiting, pair, needs[pair], start)
        for pair, start in coming.items()
        if start is not None
    ]
    calendar = rounds_for(rounds, settings.season, settings.visits, _free(prepared))
    found: dict[Pair, ClutchForecast] = {}
    dates: dict[Pair, ClutchDates] = {}
    for pair in needs:
        days, clutch = visiting.ovulation(pair[0]), clutches[pair]
        if visiting.counts(pair):
            stays = [(visit.start, visit.end) for visit in calendar.of(*pair)]
            stays += visiting.made(pair[0])
            served = these_visits(days, stays, settings.visits)
            goes = visiting.goes(pair, starts[pair], served)
            days, clutch = served.ovulation, replace(clutch, goes=goes)
        found[pair] = clutch
        dates[pair] = visiting.dates(pair[0], days)
    waiting = {pair for pair, start in coming.items() if start is None or start.provisional}
    listed = [visit for visit in calendar.visits if (visit.female, visit.male) not in waiting]
    return LaidOut(calendar=replace(calendar, visits=tuple(listed)), clutches=found, dates=dates)


def _coming(prepared: Prepared, pair: Pair, start: PairStart) -> PairStart | None:
    """Return when a pair may meet next: one that has met waits for its animals as any other."""
    made = pair in prepared.records.already_paired and prepared.starts.keys() >= set(pair)
    return prepared.meetings.of(*pair) if made else start


def _round(visiting: Visiting, pair: Pair, need: float, start: PairStart) -> RoundPair:
    """Return what a pair still needs of visits, those that it has had counted."""
    her = visiting.her(pair[0])
    met = [
        event.date
        for event in (her.meetings if her else ())
        if event.mate == pair[1] and event.kind is EventKind.VISIT
    ]
    return RoundPair(
        dam=pair[0],
        sire=pair[1],
        need=need,
        start=max(start.day, visiting.seen or start.day),
        until=visiting.last_day(pair[0]),
        made=len(met),
        last=max(met, default=None),
    )


def _free(prepared: Prepared) -> dict[tuple[str, str], date]:
    """Return from which day on animals that have met this season may meet again."""
    visits = prepared.records.settings.visits
    found: dict[tuple[str, str], date] = {}
    for dam, her in prepared.records.state.females.items():
        for event in her.meetings:
            if event.kind is not EventKind.VISIT or event.mate is None:
                continue
            end = event.date + timedelta(days=visits.days - 1)
            for kind, name, rest in (
                ("female", dam, visits.female_rest_days),
                ("male", event.mate, visits.male_rest_days),
            ):
                day = end + timedelta(days=rest + 1)
                found[kind, name] = max(day, found.get((kind, name), day))
    return found
