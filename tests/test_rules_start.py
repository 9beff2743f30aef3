"""From which day an animal may be paired, and that the promised day holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.records.animals import Animal, Clutch, Event, EventKind, Result, Weighing
from brumal.records.folder import SeasonRecords
from brumal.rules.start import SEASON_OVER, Meetings, Start, start_of, starts_of
from brumal.rules.table import judge_animal, may_breed, rule_context
from records_by_hand import PAIR_FROM, female, male, records, weighed

LAST = date(2026, 11, 14)
PAIR_TO = date(2027, 3, 31)
GROWN = {"hatched": date(2022, 7, 1), "condition": 3.0}


def start(animal: Animal, season: SeasonRecords) -> Start:
    return start_of(animal, rule_context(season))


def test_an_animal_that_fails_nothing_starts_on_the_first_day() -> None:
    her = female(weight_g=1800.0, weighed=LAST, **GROWN)
    season = records([her])
    assert start(her, season) == Start(
        animal="F1",
        day=PAIR_FROM,
        verdicts=judge_animal(her, rule_context(season)),
        first=judge_animal(her, rule_context(season)),
    )
    later = replace(season, as_of=date(2027, 1, 5))
    assert start(her, later).day == date(2027, 1, 5)


@pytest.mark.parametrize(
    ("columns", "day", "held"),
    [
        ({"hatched": date(2024, 7, 15)}, date(2027, 1, 15), "age"),
        ({"arrived": date(2026, 10, 20)}, date(2027, 1, 18), "quarantine"),
        (
            {"hatched": date(2024, 7, 15), "arrived": date(2026, 10, 20)},
            date(2027, 1, 18),
            "quarantine",
        ),
        ({"arrived": date(2027, 1, 20)}, None, "quarantine"),
        ({"condition": 1.5}, None, "condition"),
    ],
)
def test_the_day_is_that_of_the_last_rule(
    columns: dict[str, object], day: date | None, held: str
) -> None:
    her = female(weight_g=1800.0, weighed=LAST, **{**GROWN, **columns})
    found = start(her, records([her]))
    assert (found.day, found.held_by, found.provisional) == (day, held, False)


def test_a_clearance_dated_ahead_lets_her_start_on_its_day() -> None:
    her = female(weight_g=1800.0, weighed=LAST, vet_cleared=date(2027, 1, 9), **GROWN)
    trouble = Clutch(dam="F1", laid=date(2024, 5, 1), eggs=5, trouble="egg binding")
    found = start(her, records([her], clutches=[trouble]))
    assert (found.day, found.held_by) == (date(2027, 1, 9), "laying-trouble")


def test_a_weighing_dated_ahead_acts_from_its_own_day() -> None:
    her = female(weight_g=1600.0, weighed=date(2027, 1, 10), **GROWN)
    season = records([her], [Weighing(animal="F1", date=LAST, grams=1400.0)])
    found = start(her, season)
    assert (found.day, found.provisional) == (date(2027, 1, 10), False)
    assert not may_breed(found.first)


def test_an_event_dated_ahead_acts_from_its_own_day() -> None:
    him = male(weight_g=900.0, weighed=LAST, **GROWN)
    ill = Event(kind=EventKind.ILL, date=date(2026, 9, 1), animal="M1", row=2)
    well = Event(kind=EventKind.CLEARED, date=date(2027, 2, 1), animal="M1", about="illness", row=3)
    found = start(him, replace(records([him]), events=(ill, well)))
    assert (found.day, found.held_by) == (date(2027, 2, 1), "illness")
    test = Event(
        kind=EventKind.TESTED,
        date=date(2027, 1, 2),
        animal="M1",
        about="illness",
        result=Result.POSITIVE,
        row=2,
    )
    assert start(him, replace(records([him]), events=(test,))).day == PAIR_FROM


def test_rest_counts_whole_seasons_and_ends_on_no_day_of_one() -> None:
    her = female(weight_g=1800.0, weighed=LAST, last_laid=date(2026, 1, 20), **GROWN)
    season = records([her], sections={"rules": {"rest_seasons": 1}})
    # A year after her laying lies in the season, but no season of rest.
    assert start(her, season).day is None


def test_a_season_that_is_over_has_no_day() -> None:
    her = female(weight_g=1800.0, weighed=LAST, **GROWN)
    found = start(her, replace(records([her]), as_of=date(2027, 5, 1)))
    assert (found.day, found.held_by) == (None, SEASON_OVER)
    assert found.verdicts[-1].text == (
        "Pairing ended on 2027-03-31; the season is seen from 2027-05-01."
    )


def test_two_animals_meet_on_the_later_day_with_the_chance_of_both() -> None:
    her, him = female(**GROWN), male(arrived=date(2026, 10, 20), **GROWN)
    scales = [
        *weighed("F1", *range(1130, 1481, 50), last=LAST, every=10),
        *weighed("M1", 900, last=LAST),
    ]
    context = rule_context(records([her, him], scales))
    starts = starts_of([her, him], context)
    assert starts["F1"].provisional
    assert starts["F1"].day is not None
    assert starts["F1"].day < date(2027, 1, 18)
    found = Meetings({"F1": her, "M1": him}, starts, context).of("F1", "M1")
    assert found is not None
    assert (found.day, found.chance) == (date(2027, 1, 18), starts["F1"].chance)


def with_a_late_male(grams: Sequence[float], *events: Event) -> Meetings:
    """A female fit on the first day, and a male who may be met from 18 January on."""
    her, him = female(**GROWN), male(arrived=date(2026, 10, 20), **GROWN)
    scales = [*weighed("F1", *grams, last=LAST, every=30), *weighed("M1", 900, last=LAST)]
    context = rule_context(replace(records([her, him], scales), events=events))
    starts = starts_of([her, him], context)
    assert (starts["F1"].day, starts["M1"].day) == (PAIR_FROM, date(2027, 1, 18))
    return Meetings({"F1": her, "M1": him}, starts, context)


def test_both_must_still_be_fit_on_the_day_they_first_meet() -> None:
    meetings = with_a_late_male((1900, 1800, 1700, 1600))
    assert meetings.of("F1", "M1") is None
    (bar,) = meetings.bars("F1", "M1")
    assert bar.rule == "weight"
    assert "on 2027-01-18" in bar.text


def test_what_is_dated_ahead_moves_the_day_they_first_meet() -> None:
    ill = Event(kind=EventKind.ILL, date=date(2027, 1, 5), animal="F1", row=2)
    well = Event(kind=EventKind.CLEARED, date=date(2027, 2, 3), animal="F1", about="illness", row=3)
    found = with_a_late_male((1800, 1800, 1800), ill, well).of("F1", "M1")
    assert found is not None
    assert (found.day, found.provisional) == (date(2027, 2, 3), False)
    assert with_a_late_male((1800, 1800, 1800), ill).of("F1", "M1") is None


def test_an_old_weighing_does_not_undo_a_fall() -> None:
    her = female(**GROWN)
    scales = weighed("F1", 1900, 1800, 1700, 1600, last=LAST, every=30)
    context = rule_context(records([her], scales))
    fit = {
        day: may_breed(judge_animal(her, context.at(day)))
        for day in (PAIR_FROM + timedelta(days=ahead) for ahead in range(121))
    }
    assert fit[PAIR_FROM]
    fallen = min(day for day, may in fit.items() if not may)
    assert not any(may for day, may in fit.items() if day > fallen)


@st.composite
def gaining(draw: st.DrawFn) -> tuple[Animal, SeasonRecords]:
    """Draw a female near her limit, weighed every so many days, perhaps young or newly come."""
    count, every = draw(st.integers(3, 8)), draw(st.integers(8, 28))
    gain = draw(st.floats(-1, 6))
    last = draw(st.floats(1200, 1520))
    scales = [
        round(last - gain * every * (count - 1 - at) + draw(st.floats(-15, 15)))
        for at in range(count)
    ]
    her = female(
        hatched=draw(st.sampled_from([date(2022, 7, 1), date(2024, 7, 20), date(2024, 8, 31)])),
        condition=3.0,
        arrived=draw(st.sampled_from([None, date(2026, 10, 1), date(2026, 11, 10)])),
    )
    chance = draw(st.sampled_from([0.5, 0.8, 0.95]))
    season = records(
        [her],
        weighed("F1", *scales, last=LAST, every=every),
        sections={"rules": {"start_chance": chance}},
    )
    return her, season


def seen_on(season: SeasonRecords, day: date, *more: Weighing) -> SeasonRecords:
    """Return the season as it is run on a day, pairing begun on it, with weighings of then."""
    dates = replace(season.settings.season, pair_from=day)
    return replace(
        season,
        settings=replace(season.settings, season=dates),
        weighings=(*season.weighings, *more),
        as_of=day,
    )


@given(gaining())
def test_the_promised_day_holds(drawn: tuple[Animal, SeasonRecords]) -> None:
    her, season = drawn
    found = start(her, season)
    if found.day is None:
        return
    assert PAIR_FROM <= found.day <= PAIR_TO
    again = start(her, seen_on(season, found.day))
    assert (again.day, again.provisional) == (found.day, found.provisional)
    assert again.chance == found.chance
    if found.provisional:
        assert found.weigh_on == found.day
        assert found.asked_g is not None
        assert season.settings.rules.start_chance <= found.chance <= 1
        scales = Weighing(animal="F1", date=found.day, grams=found.asked_g)
        there = start(her, seen_on(season, found.day, scales))
        assert (there.day, there.provisional, there.chance) == (found.day, False, 1.0)


@given(gaining())
def test_no_day_before_the_start_would_do(drawn: tuple[Animal, SeasonRecords]) -> None:
    """Walking from rule to rule finds the same day as trying every day."""
    her, season = drawn
    context = rule_context(season)
    days = (PAIR_FROM + timedelta(days=ahead) for ahead in range((PAIR_TO - PAIR_FROM).days + 1))
    first = next((d for d in days if may_breed(judge_animal(her, context.at(d)))), None)
    assert start(her, season).day == first


def test_a_day_reached_to_the_gram_counts() -> None:
    """228 g at 4.56 g a day take 50 days, though the quotient of the two floats is a hair more."""
    her = female(hatched=date(2022, 7, 1), condition=3.0)
    season = records(
        [her],
        [
            Weighing(animal="F1", date=day, grams=grams)
            for day, grams in (
                (date(2026, 9, 25), 1044),
                (date(2026, 10, 20), 1154),
                (date(2026, 11, 14), 1272),
            )
        ],
        sections={"rules": {"start_chance": 0.5}},
    )
    assert start(her, season).day == date(2027, 1, 3)
