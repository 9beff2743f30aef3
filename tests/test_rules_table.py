"""The table of rules: what applies by default, soft rules, faults of their settings."""

from __future__ import annotations

from datetime import date

import pytest

from brumal.records.animals import Animal, Clutch, Status
from brumal.rules.table import (
    ANIMAL_RULES,
    PAIR_RULES,
    judge_animal,
    may_breed,
    rule_context,
    rule_setting_faults,
)
from records_by_hand import female, records, verdict_on

LAST = date(2026, 11, 14)


def test_a_fit_animal_may_breed_and_each_rule_speaks_once() -> None:
    her = female(weight_g=1700.0, weighed=LAST, hatched=date(2022, 7, 1), condition=3.0)
    verdicts = judge_animal(her, rule_context(records([her])))
    assert may_breed(verdicts)
    assert not any(verdict.caution for verdict in verdicts)
    assert [verdict.rule for verdict in verdicts] == ["status", "sex", "weight", "age", "condition"]
    assert all(verdict.subject == ("F1",) for verdict in verdicts)


def test_ids_are_unique_and_every_rule_tells_its_source() -> None:
    ids = [rule.id for rule in (*ANIMAL_RULES, *PAIR_RULES)]
    assert len(set(ids)) == len(ids)
    assert all(rule.because and rule.title for rule in (*ANIMAL_RULES, *PAIR_RULES))


def test_every_verdict_bears_the_id_of_its_rule() -> None:
    her = female(last_laid=date(2026, 4, 1), arrived=LAST)
    found = {verdict.rule for verdict in judge_animal(her, rule_context(records([her])))}
    assert found <= {rule.id for rule in ANIMAL_RULES}


def test_animals_outside_are_judged_by_status_alone() -> None:
    outside = Animal(id="X", status=Status.OUTSIDE)
    (verdict,) = judge_animal(outside, rule_context(records([outside])))
    assert (verdict.rule, verdict.passed) == ("status", False)


SPRINGS = [
    Clutch(dam="F1", laid=date(year, 4, 20), eggs=6, row=year) for year in (2024, 2025, 2026)
]


def test_a_soft_rule_passes_at_a_price() -> None:
    rules = {"soft": {"in-a-row": 20}, "max_seasons_in_a_row": 2}
    verdict = verdict_on(female(), "in-a-row", clutches=SPRINGS, rules=rules)
    assert verdict is not None
    assert (verdict.passed, verdict.caution, verdict.penalty) == (True, True, 40.0)
    assert verdict.text.endswith("The rule is soft: breeding all the same is counted as 40 EUR.")


def test_a_soft_rule_that_is_met_costs_nothing() -> None:
    rules = {"soft": {"in-a-row": 20}, "max_seasons_in_a_row": 4}
    verdict = verdict_on(female(), "in-a-row", clutches=SPRINGS, rules=rules)
    assert verdict is not None
    assert (verdict.passed, verdict.penalty) == (True, 0.0)


def test_only_preferences_may_be_softened() -> None:
    assert {rule.id for rule in ANIMAL_RULES if rule.unit} == {"in-a-row", "rest"}


@pytest.mark.parametrize(
    "rule", [r.id for r in (*ANIMAL_RULES, *PAIR_RULES) if not getattr(r, "unit", "")]
)
def test_a_rule_that_guards_animals_cannot_be_bought_off(rule: str) -> None:
    (fault,) = rule_setting_faults(records([female()], sections={"rules": {"soft": {rule: 1}}}))
    assert str(fault) == (
        f"season.yaml, rules.soft.{rule}: found '{rule}'; expected one of in-a-row, rest. This "
        "rule guards the animals and always bars: no price buys it off. Only preferences may be "
        "softened (in-a-row, rest)."
    )


def test_a_misspelt_rule_is_told() -> None:
    (fault,) = rule_setting_faults(records([female()], sections={"rules": {"soft": {"rst": 1}}}))
    assert "Did you mean 'rest'?" in str(fault)
