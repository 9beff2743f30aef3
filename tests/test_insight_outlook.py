"""The plan carried through the year, against the plan and the forecasts it stands on."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from itertools import pairwise
from math import prod

import pytest

from brumal.forecast.dates import DayChances, Window, clutch_dates, window
from brumal.forecast.rounds import RoundPair, Visit, rounds_for
from brumal.insight.simulate.diary import ClutchOutlook, Task, TaskKind, Watched, diary
from brumal.pedigree.kinship import kinship_block
from brumal.records.settings import Checks, SeasonDates, Settings
from season_outputs import demo

DAY = date(2026, 12, 1)
SEASON = SeasonDates(name="x", pair_from=DAY, pair_to=date(2027, 1, 31))


def span(first: int, last: int) -> Window:
    return Window(
        early=DAY + timedelta(first),
        middle=DAY + timedelta((first + last) // 2),
        late=DAY + timedelta(last),
    )


def clutch(dam: str, sire: str, *starts: int) -> ClutchOutlook:
    visits = tuple(
        Visit(
            male=sire,
            female=dam,
            start=DAY + timedelta(at),
            end=DAY + timedelta(at + 2),
            number=number,
        )
        for number, at in enumerate(starts, start=1)
    )
    return ClutchOutlook(
        dam=dam,
        sire=sire,
        visits=visits,
        ovulation=span(40, 60),
        shed=span(61, 81),
        laying=span(85, 105),
        hatching=span(143, 163),
    )


def of_kind(tasks: tuple[Task, ...], kind: TaskKind) -> list[Task]:
    return [task for task in tasks if task.kind is kind]


def test_the_diary_of_two_pairs_of_one_male() -> None:
    pairs = [clutch("F1", "M1", 0, 17), clutch("F2", "M1", 7)]
    checks = Checks(weigh_every_days=30, look_over_days=10, eggs_every_days=20)
    tasks = diary(pairs, [Watched(animal="F9")], Settings(season=SEASON, checks=checks))
    assert [(task.start - DAY).days for task in of_kind(tasks, TaskKind.VISIT)] == [0, 7, 17]
    before = of_kind(tasks, TaskKind.BEFORE_PAIRING)
    assert [(task.animals, (task.start - DAY).days) for task in before] == [
        (("F1", "M1"), -1),
        (("F2", "M1"), 6),
    ]
    (after,) = of_kind(tasks, TaskKind.AFTER_ROUNDS)
    assert (after.subject, (after.start - DAY).days) == ("M1", 19 + 7)
    # Females are weighed until they may have ovulated (day 40), the others to the window's end.
    weighed = of_kind(tasks, TaskKind.WEIGH)
    assert [((task.start - DAY).days, task.animals) for task in weighed] == [
        (0, ("F1", "F2", "M1", "F9")),
        (30, ("F1", "F2", "M1", "F9")),
        (60, ("M1", "F9")),
    ]
    laid = of_kind(tasks, TaskKind.AFTER_LAYING)
    # Ten days after her own laying: whichever day of the window that is.
    assert {((t.start - DAY).days, (t.end - DAY).days) for t in laid} == {(85 + 10, 105 + 10)}
    assert {task.wait for task in laid} == {(10, 10)}
    (shed, _) = of_kind(tasks, TaskKind.SHED)
    assert ((shed.start - DAY).days, (shed.end - DAY).days, shed.wait) == (61, 81, (26, 33))
    eggs = of_kind(tasks, TaskKind.EGGS)
    assert [(task.start - DAY).days for task in eggs] == [65, 85, 105, 125, 145]
    assert [len(task.animals) for task in eggs] == [0, 2, 2, 2, 2]
    (young, _) = of_kind(tasks, TaskKind.FIRST_SHED)
    assert ((young.start - DAY).days, (young.end - DAY).days) == (143 + 7, 163 + 14)


def test_a_promised_weight_is_asked_for_on_its_day_and_no_day_gone_by_stands() -> None:
    promised = Watched(animal="F9", weigh_on=DAY + timedelta(9), grams=1500)
    settings = Settings(season=SEASON, checks=Checks(weigh_every_days=7))
    tasks = diary([clutch("F1", "M1", 20)], [promised], settings, DAY + timedelta(8))
    (asked,) = of_kind(tasks, TaskKind.WEIGH_FIRST)
    assert (asked.subject, asked.start, asked.grams) == ("F9", promised.weigh_on, 1500)
    weighed = of_kind(tasks, TaskKind.WEIGH)
    assert [((task.start - DAY).days, task.number) for task in weighed[:2]] == [(14, 3), (21, 4)]
    assert all("F9" in task.animals for task in weighed)


def test_entries_are_named_apart_whatever_their_dates() -> None:
    tasks = demo()[2].tasks
    named = Counter((task.kind, task.subject, task.number) for task in tasks)
    assert set(named.values()) == {1}
    assert all(one.start <= other.start for one, other in pairwise(tasks))


def test_the_demo_pairs_have_visits_and_windows_in_order() -> None:
    prepared, plan, outlook = demo()
    season = prepared.records.settings.season
    assert [(c.dam, c.sire) for c in outlook.clutches] == [(p.dam, p.sire) for p in plan.pairs]
    assert not outlook.short
    starts = {pair.dam: pair.start for pair in plan.pairs if pair.start is not None}
    for clutch, pair in zip(outlook.clutches, plan.pairs, strict=True):
        # No visit is set down before a weight that it waits for is recorded.
        assert bool(clutch.visits) != pair.provisional
        assert all(starts[pair.dam] <= v.start <= v.end <= season.pair_to for v in clutch.visits)
        met = clutch.visits[0].start if clutch.visits else starts[pair.dam]
        assert met < clutch.ovulation.early < clutch.laying.early < clutch.hatching.early
        # Ovulation is her own: the middle of her laying window is about seven weeks after it.
        days = (clutch.laying.middle - clutch.ovulation.middle).days
        assert 49 <= days <= 54
        assert all(visit.end <= clutch.ovulation.late for visit in clutch.visits)


def test_eggs_of_a_week_are_what_each_clutch_should_have_in_it() -> None:
    """A sum over pairs and days of ovulation: served by the visits, laid, and not yet hatched."""
    prepared, plan, outlook = demo()
    settings = prepared.records.settings
    until = {clutch.dam: prepared.ovulations.of(clutch.dam).days for clutch in outlook.clutches}
    rounds = [
        RoundPair(
            dam=pair.dam,
            sire=pair.sire,
            need=pair.value,
            start=pair.start,
            until=min(window(until[pair.dam]).late, settings.season.pair_to),
        )
        for pair in plan.pairs
    ]
    # Those that wait for a weight have their time in the rounds, though it is not listed yet.
    visits = rounds_for(rounds, settings.season, settings.visits).visits
    listed = {visit for clutch in outlook.clutches for visit in clutch.visits}
    waiting = {pair.dam for pair in plan.pairs if pair.provisional}
    assert listed == {visit for visit in visits if visit.female not in waiting}
    for week in outlook.weeks[::9]:
        expected = 0.0
        for pair in plan.pairs:
            hers = prepared.forecasts.dams[pair.dam]
            cycles = min(1.0, hers.goes / (1 - 0.4**3))
            cycles *= prod(prepared.starts[name].chance for name in (pair.dam, pair.sire))
            days = until[pair.dam]
            for at, chance in enumerate(days.chances.tolist()):
                day = days.first + timedelta(at)
                serving = sum(
                    v.female == pair.dam and v.start <= day <= v.end + timedelta(59) for v in visits
                )
                dates = clutch_dates(DayChances.sure(day), settings.dates)
                laid = dates.laying.by(week.monday + timedelta(6))
                gone = dates.hatching.by(week.monday - timedelta(1))
                expected += chance * cycles * (1 - 0.4**serving) * hers.eggs * (laid - gone)
        assert week.eggs.mean == pytest.approx(expected, abs=1e-9)
        assert week.eggs.low <= week.eggs.mean + 1 and week.eggs.mean <= week.eggs.high + 1


def test_refused_pairs_are_those_above_the_cap_the_closest_first() -> None:
    prepared, plan, outlook = demo()
    resting = {rest.id for rest in plan.resting if rest.by == "rule"}
    idle = {male.id for male in plan.males if male.reasons}
    phi = kinship_block(prepared.pedigree).phi
    cap = prepared.records.settings.limits.max_F
    own = [name for name in prepared.kinship.ids if name not in resting | idle]
    over = {
        (dam, sire)
        for dam in own
        for sire in own
        if prepared.animals[dam].sex == "female"
        and prepared.animals[sire].sex == "male"
        and phi(dam, sire) > cap
    }
    assert over <= {(kin.one.id, kin.other.id) for kin in outlook.refused}
    assert outlook.refused_count == len(outlook.refused)
    assert all(kin.phi > cap for kin in outlook.refused)
    assert all(one.phi >= other.phi for one, other in pairwise(outlook.refused))
    assert {(kin.one.id, kin.other.id) for kin in outlook.chosen} == {
        (pair.dam, pair.sire) for pair in plan.pairs if pair.F > 0
    }


def test_weights_shown_are_of_animals_that_wait_for_weight_or_breed_close_to_it() -> None:
    _, plan, outlook = demo()
    paired = {pair.dam for pair in plan.pairs} | {pair.sire for pair in plan.pairs}
    waits = [one for one in outlook.near if one.failed]
    breeds = [one for one in outlook.near if not one.failed]
    assert list(outlook.near) == [*waits, *breeds]
    assert waits and all(
        {"weight", "recovered"} & {verdict.rule for verdict in one.failed} for one in waits
    )
    assert breeds and {one.animal.id for one in breeds} <= paired
    shares = [one.series.last.grams / one.limit_g for one in breeds]  # type: ignore[union-attr,operator]
    assert shares == sorted(shares)


def test_soon_ready_are_barred_now_and_ready_before_pairing_ends() -> None:
    prepared, _, outlook = demo()
    last = prepared.records.settings.season.pair_to
    days = [one.ready_on for one in outlook.soon]
    assert days == sorted(days, key=str)  # type: ignore[type-var]
    assert all(one.failed and one.ready_on and one.ready_on <= last for one in outlook.soon)
    left = [one for one in outlook.animals.values() if one.failed and one not in outlook.soon]
    assert all(one.ready_on is None or one.ready_on > last for one in left)
    assert outlook.soon and left
