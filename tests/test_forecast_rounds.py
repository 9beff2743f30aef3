"""The males' rounds, checked by code that knows nothing of how they are laid out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from brumal.forecast.rounds import Calendar, RoundPair, rounds_for, visits_capacity
from brumal.records.setting_types import WEEKDAYS
from brumal.records.settings import SeasonDates, Visits

WINTER = SeasonDates(name="Test", pair_from=date(2026, 12, 1), pair_to=date(2027, 3, 31))


def breaches(
    calendar: Calendar, pairs: list[RoundPair], season: SeasonDates, visits: Visits
) -> list[str]:
    """Return everything wrong with a calendar, going through its days one by one."""
    return [
        *misplaced(calendar, pairs, season, visits),
        *unseasonable(calendar, pairs, visits),
        *unrested(calendar, visits),
        *miscounted(calendar, pairs, visits),
    ]


def misplaced(
    calendar: Calendar, pairs: list[RoundPair], season: SeasonDates, visits: Visits
) -> list[str]:
    wrong = []
    wanted = {(pair.dam, pair.sire) for pair in pairs}
    seen: set[tuple[date, str]] = set()
    for visit in calendar.visits:
        stay = [
            visit.start + timedelta(days=at) for at in range((visit.end - visit.start).days + 1)
        ]
        if (visit.female, visit.male) not in wanted or len(stay) != visits.days:
            wrong.append(f"{visit} is no pair of the plan or has the wrong length")
        if not season.pair_from <= visit.start <= visit.end <= season.pair_to:
            wrong.append(f"{visit} leaves the window")
        places = {(day, animal) for day in stay for animal in (visit.male, visit.female)}
        wrong += [f"{animal} is in two places on {day}" for day, animal in sorted(seen & places)]
        seen |= places
    return wrong


def unseasonable(calendar: Calendar, pairs: list[RoundPair], visits: Visits) -> list[str]:
    """Visits before a pair may meet, after her window, or begun on another weekday."""
    wrong = []
    spans = {(pair.dam, pair.sire): (pair.start, pair.until) for pair in pairs}
    for visit in calendar.visits:
        start, until = spans.get((visit.female, visit.male), (None, None))
        if (start and visit.start < start) or (until and visit.end > until):
            wrong.append(f"{visit} is outside {start} to {until}")
        if visit.start.strftime("%A") not in visits.weekdays:
            wrong.append(f"{visit} begins on a {visit.start:%A}")
    return wrong


def unrested(calendar: Calendar, visits: Visits) -> list[str]:
    wrong = []
    for rest, who in ((visits.male_rest_days, "male"), (visits.female_rest_days, "female")):
        last: dict[str, date] = {}
        for visit in sorted(calendar.visits, key=lambda each: each.start):
            animal = getattr(visit, who)
            if animal in last and (visit.start - last[animal]).days - 1 < rest:
                wrong.append(f"{animal} has too little rest before {visit.start}")
            last[animal] = visit.end
    return wrong


def miscounted(calendar: Calendar, pairs: list[RoundPair], visits: Visits) -> list[str]:
    wrong = []
    for dam, sire in {(pair.dam, pair.sire) for pair in pairs}:
        made = [v for v in calendar.visits if (v.female, v.male) == (dam, sire)]
        numbers = [visit.number for visit in sorted(made, key=lambda each: each.start)]
        most = visits.wanted or 1_000
        if numbers != list(range(1, len(made) + 1)) or len(made) > most:
            wrong.append(f"visits of {dam} are numbered {numbers}")
        short = [s.visits for s in calendar.short if (s.dam, s.sire) == (dam, sire)]
        if short != ([len(made)] if len(made) < min(visits.least, most) else []):
            wrong.append(f"{dam} has {len(made)} visits but is reported as {short}")
    return wrong


def random_rules(rng: np.random.Generator) -> tuple[SeasonDates, Visits]:
    season = SeasonDates(
        name="Test",
        pair_from=date(2026, 12, 1),
        pair_to=date(2026, 12, 1) + timedelta(days=int(rng.integers(20, 130))),
    )
    wanted = int(rng.integers(1, 6))
    weekdays = rng.choice(WEEKDAYS, int(rng.integers(3, 8)), replace=False).tolist()
    visits = Visits(
        weekdays=tuple(weekdays) if rng.random() < 0.5 else WEEKDAYS,
        days=int(rng.integers(1, 7)),
        male_rest_days=int(rng.integers(0, 8)),
        female_rest_days=int(rng.integers(0, 25)),
        wanted=wanted if rng.random() < 0.5 else None,
        least=int(rng.integers(1, wanted + 1)),
    )
    return season, visits


def random_pairs(
    rng: np.random.Generator, season: SeasonDates, visits: Visits
) -> tuple[list[RoundPair], bool]:
    """Pairs of up to four males; say whether all may be visited as long as the window."""
    capacity = visits_capacity(season, visits)
    free = rng.random() < 0.5
    pairs = []
    for sire in range(int(rng.integers(1, 5))):
        for at in range(int(rng.integers(0, capacity + 1))):
            start = until = None
            if not free:
                start = season.pair_from + timedelta(days=int(rng.integers(0, 40)))
                until = start + timedelta(days=int(rng.integers(0, 90)))
            dam = f"F{sire}-{at}"
            need = float(rng.normal())
            pairs.append(RoundPair(dam=dam, sire=f"M{sire}", need=need, start=start, until=until))
    return pairs, free


def random_seasons(seed: int, count: int) -> None:
    """Check the calendars of many random seasons."""
    rng = np.random.default_rng(seed)
    fitted = full = 0
    for _ in range(count):
        season, visits = random_rules(rng)
        pairs, free = random_pairs(rng, season, visits)
        calendar = rounds_for(pairs, season, visits)
        assert breaches(calendar, pairs, season, visits) == []
        alone = rounds_for([RoundPair(dam="F", sire="M")], season, visits)
        if free and not alone.short:
            assert all(each.visits for each in calendar.short)
        fitted += len(pairs)
        full += bool(calendar.visits)
    assert fitted > 2 * count
    assert full > count / 2


def test_random_plans_keep_every_rule() -> None:
    random_seasons(500, 40)


@pytest.mark.slow
def test_500_random_plans_keep_every_rule() -> None:
    random_seasons(501, 500)


def test_plans_past_the_capacity_are_told_not_bent() -> None:
    rng = np.random.default_rng(501)
    short = 0
    for _ in range(60):
        season, visits = random_rules(rng)
        span = replace(
            season,
            pair_to=min(season.pair_to, season.pair_from + timedelta(days=visits.serve_days - 1)),
        )
        capacity = visits_capacity(season, visits)
        pairs = [RoundPair(dam=f"F{at:02d}", sire="M1") for at in range(capacity + 1)]
        calendar = rounds_for(pairs, span, visits)
        assert breaches(calendar, pairs, span, visits) == []
        short += bool(calendar.short)
    assert short == 60


def test_a_female_with_two_sires_meets_one_at_a_time() -> None:
    rng = np.random.default_rng(502)
    for _ in range(100):
        season, visits = random_rules(rng)
        pairs = [RoundPair(dam=f"F{at}", sire=f"M{sire}") for at in range(3) for sire in range(3)]
        assert breaches(rounds_for(pairs, season, visits), pairs, season, visits) == []


def test_capacity_by_hand() -> None:
    """60 days hold 9 visits of 3 days with 4 of rest between: they begin on days 0, 7, ... 56."""
    assert visits_capacity(WINTER, Visits(least=1)) == 9
    assert visits_capacity(WINTER, Visits()) == 4
    # Two females by turns, each 17 days apart: the eighth visit would end on day 60.
    assert visits_capacity(WINTER, Visits(least=4)) == 1
    # From a day on the season has no more than two weeks left: one visit each.
    assert visits_capacity(WINTER, Visits(), date(2027, 3, 18)) == 2
    assert visits_capacity(WINTER, Visits(), date(2027, 4, 2)) == 0
    # Visits that begin on Saturdays alone: every week one.
    assert visits_capacity(WINTER, Visits(weekdays=("Saturday",))) == 4
    # Five days of rest make it every other Saturday.
    assert visits_capacity(WINTER, Visits(weekdays=("Saturday",), male_rest_days=5)) == 2


def test_a_window_shorter_than_a_visit_is_one_visit() -> None:
    two_days = SeasonDates(name="Test", pair_from=date(2026, 12, 1), pair_to=date(2026, 12, 2))
    assert visits_capacity(two_days, Visits(days=3)) == 1
    (visit,) = rounds_for([RoundPair(dam="A", sire="M")], two_days, Visits(days=3)).visits
    assert (visit.start, visit.end) == (two_days.pair_from, two_days.pair_to)


def test_females_take_turns_in_order_of_need() -> None:
    pairs = [RoundPair(dam="A", sire="M", need=1.0), RoundPair(dam="B", sire="M", need=2.0)]
    calendar = rounds_for(pairs, WINTER, Visits(wanted=2, female_rest_days=7))
    assert [visit.female for visit in calendar.visits] == ["B", "A", "B", "A"]
    assert calendar.of("A", "M")[0].start == date(2026, 12, 8)
    assert calendar.of("A", "N") == ()


def test_a_female_still_open_comes_before_anothers_surplus_visit() -> None:
    pairs = [
        RoundPair(dam="A", sire="M", need=2.0),
        RoundPair(dam="B", sire="M", need=1.0, start=date(2026, 12, 20)),
    ]
    calendar = rounds_for(pairs, WINTER, Visits(female_rest_days=4))
    after = [v.female for v in calendar.visits if v.start >= date(2026, 12, 20)]
    assert after[:4] == ["B", "A", "B", "A"]


def test_visits_end_with_her_window() -> None:
    pairs = [RoundPair(dam="A", sire="M", until=date(2027, 1, 31))]
    assert max(v.end for v in rounds_for(pairs, WINTER, Visits()).visits) <= date(2027, 1, 31)


def test_order_of_pairs_changes_nothing() -> None:
    pairs = [RoundPair(dam=f"F{at}", sire=f"M{at % 2}", need=at % 3) for at in range(7)]
    assert rounds_for(pairs, WINTER, Visits()) == rounds_for(pairs[::-1], WINTER, Visits())


def test_short_pairs_say_so_in_words() -> None:
    week = SeasonDates(name="Test", pair_from=date(2026, 12, 1), pair_to=date(2026, 12, 5))
    pairs = [RoundPair(dam="A", sire="M"), RoundPair(dam="B", sire="M")]
    (short,) = rounds_for(pairs, week, Visits(least=1)).short
    assert short.text == "M can visit B 0 times in the pairing window; 1 asked for."


@pytest.mark.parametrize("males", [1, 3])
def test_no_pairs_no_visits(males: int) -> None:
    assert rounds_for([], WINTER, Visits()).visits == ()
