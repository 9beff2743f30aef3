"""Rules on past layings: recovery, seasons in a row, rest, trouble."""

from __future__ import annotations

from datetime import date

import pytest

from brumal.records.animals import Clutch, Weighing
from records_by_hand import female, male, verdict_on, weighed

LAID = date(2026, 4, 20)


def scales(before: float, *after: float) -> list[Weighing]:
    """Return her last weight before the eggs of the spring, and those of the autumn."""
    return [
        Weighing(animal="F1", date=date(2026, 1, 9), grams=before),
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
        "Frost weighs 1,840 g on 2026-11-14; before the eggs of 2026-04-20 she weighed 2,200 g "
        "(2026-01-09), and 90% of that, 1,980 g, is asked for: 140 g missing."
    )
    assert verdict.remedy == (
        "At her present gain of 2.7 g a day she is there by 2027-02-10 with a chance of 80%; "
        "weigh her then."
    )
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


def test_a_clutch_without_its_day_may_be_last_seasons() -> None:
    undated = Clutch(dam="F1", eggs=6)
    verdict = verdict_on(female(), "laying-day", clutches=[undated])
    assert verdict is not None
    assert not verdict.passed
    assert verdict_on(female(), "laying-day", clutches=[Clutch(dam="F1", eggs=0)]) is None


def gravid(grams: float, day: date = date(2026, 4, 14)) -> Weighing:
    return Weighing(animal="F1", date=day, grams=grams)


def test_a_female_weighed_six_days_before_laying_is_not_held_to_her_eggs() -> None:
    """A vet's borderline folder: 1,900 g in winter, 2,300 g with eggs, 1,750 g now."""
    careful = [*scales(1900, 1750), gravid(2300)]
    verdict = verdict_on(female(name="Frost", last_laid=LAID), "recovered", careful)
    assert verdict is not None
    assert verdict.passed
    assert "she weighed 1,900 g (2026-01-09)" in verdict.text


@pytest.mark.parametrize(("now", "passed"), [(1600.0, False), (1710.0, True), (2200.0, True)])
def test_weighing_her_while_gravid_changes_nothing(now: float, passed: bool) -> None:
    for more in ([], [gravid(2300)], [gravid(2100, date(2026, 2, 1)), gravid(2350)]):
        verdict = verdict_on(female(last_laid=LAID), "recovered", [*scales(1900, now), *more])
        assert verdict is not None
        assert verdict.passed is passed


def test_deleting_the_weights_before_the_eggs_never_lets_her_pass() -> None:
    """Thin after her eggs: 1,600 of 1,900 g. Rows go one after the other; she stays barred."""
    now = weighed("F1", 1600, last=date(2026, 11, 14))
    winter = Weighing(animal="F1", date=date(2026, 1, 9), grams=1900)
    for rows in ([winter, gravid(2300), *now], [gravid(2300), *now], now):
        verdict = verdict_on(female(last_laid=LAID), "recovered", rows)
        assert verdict is not None
        assert not verdict.passed


def test_what_she_gained_after_her_last_weighing_is_not_known_and_counts_in_full() -> None:
    """Deleting the weighings of the winter must not lower what is asked for."""
    summer = Weighing(animal="F1", date=date(2025, 9, 12), grams=1700)
    now = weighed("F1", 1600, last=date(2026, 11, 14))
    verdict = verdict_on(female(name="Frost", last_laid=LAID), "recovered", [summer, *now])
    assert verdict is not None
    assert not verdict.passed
    # The eggs grew from 2026-01-09 on, 119 days later, each at 5 g.
    assert (
        "she weighed 1,700 g (2025-09-12) and may have gained 595 g more until the eggs grew, "
        "which no later weighing tells: 2,295 g, and 90% of that, 2,066 g, is asked for"
    ) in verdict.text


def test_lean_after_an_earlier_clutch_is_not_what_she_is_held_to() -> None:
    earlier = Clutch(dam="F1", laid=date(2025, 4, 20), eggs=6)
    lean = Weighing(animal="F1", date=date(2025, 5, 10), grams=1300)
    rows = [lean, *scales(1900, 1600)]
    verdict = verdict_on(female(last_laid=LAID), "recovered", rows, [earlier])
    assert verdict is not None
    assert not verdict.passed


def test_recovered_without_a_weight_before_laying_is_not_known_and_bars() -> None:
    her = female(name="Frost", last_laid=LAID, vet_cleared=date(2026, 9, 1))
    verdict = verdict_on(her, "recovered", weighed("F1", 1800, last=date(2026, 11, 1)))
    assert verdict is not None
    assert not verdict.passed
    assert not verdict.caution
    assert "no weighing before it is on record" in verdict.text
    assert "Enter a weighing from before that laying" in verdict.remedy
    assert "missing" not in verdict.figures


def clutches(*years: int) -> list[Clutch]:
    return [Clutch(dam="F1", laid=date(year, 4, 20), eggs=6) for year in years]


@pytest.mark.parametrize(
    ("years", "passed"), [((2026,), True), ((2025, 2026), False), ((2024, 2025), None)]
)
def test_a_second_year_running_is_a_caution_and_a_third_is_barred(
    years: tuple[int, ...], passed: bool | None
) -> None:
    verdict = verdict_on(female(name="Ivy"), "in-a-row", clutches=clutches(*years))
    assert (None if verdict is None else (verdict.passed, verdict.caution)) == (
        None if passed is None else (passed, passed)
    )
    if passed is False:
        assert verdict is not None
        assert verdict.text == (
            "Ivy laid in 2 seasons in a row (2026 laid, 2025 laid); 2 in a row is the most without "
            "a rest year."
        )
    if passed:
        assert verdict is not None
        assert verdict.text == (
            "Ivy laid last season (2026 laid); 2 in a row is the most without a rest year."
        )
        assert verdict.shared.startswith("A second year of breeding in a row.")
        assert verdict.detail == "2026 laid"


def test_a_season_paired_without_a_clutch_ends_the_run() -> None:
    rows = [*clutches(2024, 2026), Clutch(dam="F1", laid=date(2025, 5, 1), eggs=0)]
    verdict = verdict_on(female(), "in-a-row", clutches=rows)
    assert verdict is not None
    assert verdict.passed
    assert verdict.detail == "2026 laid, 2025 paired without a clutch, 2024 laid"


def test_a_clutch_without_a_day_is_not_taken_for_a_year_of_rest() -> None:
    rows = [*clutches(2026), Clutch(dam="F1", eggs=7)]
    verdict = verdict_on(female(name="Ivy"), "in-a-row", clutches=rows)
    assert verdict is not None
    assert not verdict.passed
    assert "if the clutches whose day is not recorded are of these seasons" in verdict.text
    assert verdict.remedy.endswith("Enter the days of laying, as near as they are known.")


def test_a_year_of_rest_has_a_price_where_the_keeper_wants_one() -> None:
    rules = {"max_seasons_in_a_row": 1, "soft": {"in-a-row": 150}}
    for years, price in (((2025,), None), ((2026,), 150.0), ((2025, 2026), 300.0)):
        verdict = verdict_on(female(), "in-a-row", clutches=clutches(*years), rules=rules)
        assert (None if verdict is None else verdict.penalty) == price
        assert verdict is None or verdict.passed


@pytest.mark.parametrize(("last", "passed"), [(2026, False), (2025, True), (2024, True)])
def test_rest_after_a_laying(last: int, passed: bool) -> None:
    verdict = verdict_on(female(), "rest", clutches=clutches(last), rules={"rest_seasons": 1})
    assert verdict is not None
    assert verdict.passed is passed


def test_rest_is_off_unless_set_and_seasons_in_a_row_can_be_put_off() -> None:
    history = clutches(2022, 2023, 2024, 2025, 2026)
    off = {"max_seasons_in_a_row": 0}
    assert verdict_on(female(), "in-a-row", clutches=history, rules=off) is None
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
