"""Rules on the animal itself: one that passes, one that fails, one at the limit, word for word."""

from __future__ import annotations

from datetime import date

import pytest

from brumal.records.animals import Animal, Clutch, Status
from records_by_hand import female, male, verdict_on, weighed

LAST = date(2026, 11, 14)


@pytest.mark.parametrize(
    ("status", "passed"),
    [
        (Status.BREEDER, True),
        (Status.LOAN, True),
        (Status.HOLDBACK, False),
        (Status.RETIRED, False),
        (Status.OUTSIDE, False),
    ],
)
def test_status(status: Status, passed: bool) -> None:
    verdict = verdict_on(female(status=status), "status")
    assert verdict is not None
    assert verdict.passed is passed


def test_sex_must_be_known() -> None:
    verdict = verdict_on(Animal(id="X", name="Wren"), "sex")
    assert verdict is not None
    assert not verdict.passed
    assert verdict.text == "The sex of Wren is not recorded."
    known = verdict_on(female(), "sex")
    assert known is not None
    assert known.passed
    assert verdict_on(Animal(id="X"), "weight") is None
    assert verdict_on(Animal(id="X"), "age") is None


def test_weight_says_what_is_missing_and_when() -> None:
    scales = weighed("F1", 1164, 1236, 1308, 1380, last=LAST)
    verdict = verdict_on(female(name="Frost"), "weight", scales)
    assert verdict is not None
    assert not verdict.passed
    assert verdict.text == (
        "Frost weighs 1,380 g on 2026-11-14; 1,500 g is the least for a first clutch: 120 g "
        "missing."
    )
    assert verdict.remedy == (
        "At her present gain of 2.4 g a day she is there by 2027-01-31 with a chance of 80%; "
        "weigh her then."
    )
    assert verdict.figures["missing"] == 120


@pytest.mark.parametrize(
    ("animal", "rules", "passed"),
    [
        (female(weight_g=1500.0), {}, True),
        (female(weight_g=1499.0), {}, False),
        (female(weight_g=1450.0), {"female_weight_g": 1400}, True),
        (
            female(weight_g=1450.0, weighed=date(2026, 11, 1), last_laid=date(2020, 5, 1)),
            {"female_weight_g": 1400},
            True,
        ),
        (
            female(weight_g=1450.0, weighed=date(2026, 11, 1), last_laid=date(2020, 5, 1)),
            {"female_weight_g": 1400, "proven_female_weight_g": 1500},
            False,
        ),
        (
            female(weight_g=1450.0, weighed=date(2026, 11, 1), last_laid=date(2020, 5, 1)),
            {"proven_female_weight_g": 1400},
            True,
        ),
        (male(weight_g=500.0), {}, True),
        (male(weight_g=499.0), {}, False),
        (male(weight_g=450.0), {"male_weight_g": 450}, True),
    ],
)
def test_weight_limits_by_sex_and_first_clutch(
    animal: Animal, rules: dict[str, float], passed: bool
) -> None:
    verdict = verdict_on(animal, "weight", rules=rules)
    assert verdict is not None
    assert verdict.passed is passed


def test_a_dam_of_the_animals_table_counts_as_one_that_has_laid() -> None:
    clutch = Clutch(dam="F1", laid=date(2024, 5, 1), eggs=6)
    verdict = verdict_on(female(weight_g=1600.0), "weight", clutches=[clutch])
    assert verdict is not None
    assert "the least for a female that has laid" in verdict.text


@pytest.mark.parametrize(
    ("animal", "passed"),
    [
        (female(hatched=date(2024, 6, 1)), True),
        (female(hatched=date(2024, 6, 2)), False),
        (male(hatched=date(2025, 12, 1)), True),
        (male(hatched=date(2025, 12, 2)), False),
    ],
)
def test_age_on_the_first_day_of_pairing(animal: Animal, passed: bool) -> None:
    verdict = verdict_on(animal, "age")
    assert verdict is not None
    assert verdict.passed is passed


def test_age_in_words() -> None:
    verdict = verdict_on(female(name="Frost", hatched=date(2024, 8, 12)), "age")
    assert verdict is not None
    assert verdict.text == (
        "Frost is 27 months old on 2026-12-01 (hatched 2024-08-12); 30 months is the least for a "
        "female: 2.4 months short."
    )
    assert verdict.remedy == "She is old enough on 2027-02-12."
    assert verdict.figures["ready"] == "2027-02-12"


@pytest.mark.parametrize(
    ("animal", "passed"),
    [
        (female(weight_g=1600.0), True),
        (female(weight_g=1400.0), False),
        (female(weight_g=1400.0, last_laid=date(2024, 5, 1)), True),
        (male(weight_g=600.0), True),
        (male(), False),
    ],
)
def test_unknown_age_passes_grown_animals_with_a_caution(animal: Animal, passed: bool) -> None:
    verdict = verdict_on(animal, "age")
    assert verdict is not None
    assert (verdict.passed, verdict.caution) == (passed, passed)


PROVEN = {"last_laid": date(2024, 5, 1)}


@pytest.mark.parametrize(
    ("score", "passed"), [(2.4, False), (2.5, True), (3.0, True), (4.0, True), (4.1, False)]
)
def test_condition_at_both_ends(score: float, passed: bool) -> None:
    for animal in (female(condition=score, **PROVEN), male(condition=score)):
        verdict = verdict_on(animal, "condition")
        assert verdict is not None
        assert (verdict.passed, verdict.caution) == (passed, False)


@pytest.mark.parametrize(
    ("score", "passed"), [(2.5, False), (2.9, False), (3.0, True), (4.0, True), (4.1, False)]
)
def test_a_first_clutch_asks_for_more_condition(score: float, passed: bool) -> None:
    verdict = verdict_on(female(condition=score), "condition")
    assert verdict is not None
    assert verdict.passed is passed
    loose = {"first_clutch_condition": [2, 5]}
    eased = verdict_on(female(condition=score), "condition", rules=loose)
    assert eased is not None
    assert eased.passed


def test_condition_in_words() -> None:
    verdict = verdict_on(female(name="Floe", condition=1.0, **PROVEN), "condition")
    assert verdict is not None
    assert verdict.text == (
        "Floe has body condition 1; 2.5 to 4 is fit to breed (1 thin, 3 ideal, 5 obese): too thin."
    )
    assert verdict.remedy == (
        "Have a vet look for the cause; she may be planned for once her condition is within these "
        "bounds."
    )
    assert verdict.figures["missing"] == 1.5
    heavy = verdict_on(female(condition=5.0), "condition")
    assert heavy is not None
    assert "3 to 4 is asked for a first clutch" in heavy.text
    assert heavy.text.endswith("too heavy.")


def test_unknown_condition_passes_with_a_caution_that_many_share() -> None:
    verdict = verdict_on(female(), "condition")
    assert verdict is not None
    assert (verdict.passed, verdict.caution) == (True, True)
    assert verdict.shared.startswith("No body condition is recorded.")
    assert verdict.detail == "3 to 4 asked for"


@pytest.mark.parametrize(
    ("arrived", "passed"), [(date(2026, 9, 2), True), (date(2026, 9, 3), False)]
)
def test_quarantine(arrived: date, passed: bool) -> None:
    verdict = verdict_on(female(name="Iris", arrived=arrived), "quarantine")
    assert verdict is not None
    assert verdict.passed is passed
    if not passed:
        assert verdict.text == (
            "Iris arrived on 2026-09-03; quarantine lasts 90 days: 1 of them left on 2026-12-01."
        )
        assert verdict.remedy == "It ends on 2026-12-02."


def test_quarantine_asks_nothing_of_residents() -> None:
    assert verdict_on(female(), "quarantine") is None
