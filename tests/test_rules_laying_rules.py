"""Rules on past layings: recovery, seasons in a row, rest, trouble."""

from __future__ import annotations

from datetime import date

import pytest

from brumal.records.animals import Clutch, Weighing
from brumal.rules.laying_rules import seasons_ago, seasons_in_a_row
from records_by_hand import PAIR_FROM, female, male, verdict_on, weighed

LAID = date(2026, 4, 20)


def scales(before: float, *after: float) -> list[Weighing]:
    return [
        Weighing(animal="F1", date=date(2026, 4, 10), grams=before),
        *weighed("F1", *after, last=date(2026, 11, 14)),
    ]


@pytest.mark.parametrize(("now", "passed"), [(1799.0, False), (1800.0, True), (2000.0, True)])
def test_recovered_at_nine_tenths_of_the_weight_before_laying(now: float, passed: bool) -> None:
    verdict = verdict_on(female(last_laid=LAID), "recovered", scales(2000, now))
    assert verdict is not None
    assert verdict.passed is passed


def test_a_share_met_exactly_does_not_fail_by_rounding() -> None:
    assert 0.81 * 2200 > 1782
    rules = {"recovered_share": 0.81}
    verdict = verdict_on(female(last_laid=LAID), "recovered", scales(2200, 1782), rules=rules)
    assert verdict is not None
    assert verdict.passed


def test_recovered_in_words() -> None:
    her = female(name="Frost", last_laid=LAID)
    verdict = verdict_on(her, "recovered", scales(2200, 1600, 1680, 1760, 1840))
    assert verdict is not None
    assert verdict.text == (
        "Frost weighs 1,840 g on 2026-11-14; before laying on 2026-04-20 she weighed 2,200 g "
        "(2026-04-10), and 90% of that, 1,980 g, is asked for: 140 g missing."
    )
    assert verdict.remedy == ("At her present gain of 2.7 g a day she reaches it about 2027-01-06.")
    assert verdict.figures["missing"] == pytest.approx(140 / 2200 * 100)


def test_recovered_follows_the_keepers_share_and_the_clutches_table() -> None:
    clutch = Clutch(dam="F1", laid=LAID, eggs=6)
    strict = verdict_on(female(), "recovered", scales(2000, 1700), [clutch])
    loose = verdict_on(
        female(), "recovered", scales(2000, 1700), [clutch], rules={"recovered_share": 0.85}
    )
    assert strict is not None
    assert loose is not None
    assert (strict.passed, loose.passed) == (False, True)


def test_recovered_asks_only_of_females_that_laid_last_season() -> None:
    assert verdict_on(female(weight_g=1600.0), "recovered") is None
    assert verdict_on(female(last_laid=date(2025, 4, 20)), "recovered") is None
    assert verdict_on(male(), "recovered") is None
    skipped = Clutch(dam="F1", laid=LAID, eggs=0)
    assert verdict_on(female(), "recovered", clutches=[skipped]) is None


def test_recovered_without_a_weight_before_laying_is_not_known() -> None:
    her = female(name="Frost", last_laid=LAID, weight_g=1800.0, weighed=date(2026, 11, 1))
    verdict = verdict_on(her, "recovered")
    assert verdict is not None
    assert (verdict.passed, verdict.caution) == (False, False)
    assert "Enter a weighing from before that laying" in verdict.remedy


def test_a_clutch_without_its_day_may_be_last_seasons() -> None:
    undated = Clutch(dam="F1", eggs=6)
    verdict = verdict_on(female(), "laying-day", clutches=[undated])
    assert verdict is not None
    assert not verdict.passed
    assert verdict_on(female(), "laying-day", clutches=[Clutch(dam="F1", eggs=0)]) is None


def test_seasons_count_back_from_the_first_day_of_pairing() -> None:
    assert seasons_ago(date(2026, 4, 20), PAIR_FROM) == 0
    assert seasons_ago(date(2025, 12, 2), PAIR_FROM) == 0
    assert seasons_ago(date(2025, 4, 20), PAIR_FROM) == 1
    spring = [date(year, 4, 20) for year in (2021, 2023, 2024, 2025, 2026)]
    assert seasons_in_a_row(spring, PAIR_FROM) == [2023, 2024, 2025, 2026]
    assert seasons_in_a_row(spring[:-1], PAIR_FROM) == []


def clutches(*years: int) -> list[Clutch]:
    return [Clutch(dam="F1", laid=date(year, 4, 20), eggs=6) for year in years]


@pytest.mark.parametrize(
    ("years", "passed"), [((2026,), True), ((2025, 2026), False), ((2024, 2025), None)]
)
def test_seasons_in_a_row(years: tuple[int, ...], passed: bool | None) -> None:
    rules = {"max_seasons_in_a_row": 2}
    verdict = verdict_on(female(name="Ivy"), "in-a-row", clutches=clutches(*years), rules=rules)
    assert (None if verdict is None else verdict.passed) is passed
    if passed is False:
        assert verdict is not None
        assert verdict.text == (
            "Ivy has laid in 2 seasons in a row (2025, 2026); 2 is the most without a rest year."
        )


@pytest.mark.parametrize(("last", "passed"), [(2026, False), (2025, True), (2024, True)])
def test_rest_after_a_laying(last: int, passed: bool) -> None:
    verdict = verdict_on(female(), "rest", clutches=clutches(last), rules={"rest_seasons": 1})
    assert verdict is not None
    assert verdict.passed is passed


def test_rest_and_seasons_in_a_row_are_off_unless_set() -> None:
    history = clutches(2022, 2023, 2024, 2025, 2026)
    assert verdict_on(female(), "in-a-row", clutches=history) is None
    assert verdict_on(female(), "rest", clutches=history) is None


@pytest.mark.parametrize(
    ("cleared", "passed"),
    [(None, False), (date(2025, 4, 19), False), (date(2025, 4, 20), True), (LAID, True)],
)
def test_trouble_at_laying_needs_a_vets_word_since(cleared: date | None, passed: bool) -> None:
    trouble = Clutch(dam="F1", laid=date(2025, 4, 20), eggs=4, trouble="egg binding")
    her = female(name="Ivy", vet_cleared=cleared)
    verdict = verdict_on(her, "laying-trouble", clutches=[trouble])
    assert verdict is not None
    assert (verdict.passed, verdict.caution) == (passed, passed)
    if not passed:
        assert verdict.text == (
            "Ivy had trouble at laying on 2025-04-20 (egg binding); no vet's clearance since then "
            "is on record."
        )
        assert "licensed vet" in verdict.remedy


def test_no_trouble_no_question() -> None:
    assert verdict_on(female(), "laying-trouble", clutches=clutches(2026)) is None
