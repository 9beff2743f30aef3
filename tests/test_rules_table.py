"""The table of rules: what applies by default, soft rules, faults of their settings."""

from __future__ import annotations

from datetime import date

import pytest

from brumal.records.animals import Animal, Status
from brumal.rules.table import (
    ANIMAL_RULES,
    PAIR_RULES,
    judge_animal,
    may_breed,
    rule_context,
    rule_setting_faults,
)
from records_by_hand import female, male, records, verdict_on

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


def test_a_soft_rule_passes_at_a_price() -> None:
    rules = {"soft": {"weight": 0.5, "condition": 30}}
    her = female(weight_g=1460.0, weighed=LAST, condition=1.5)
    weight = verdict_on(her, "weight", rules=rules)
    condition = verdict_on(her, "condition", rules=rules)
    assert weight is not None
    assert condition is not None
    assert (weight.passed, weight.caution, weight.penalty) == (True, True, 20.0)
    assert weight.text.endswith("The rule is soft: breeding all the same is counted as 20 EUR.")
    assert condition.penalty == pytest.approx(45.0)


def test_a_soft_rule_that_is_met_costs_nothing() -> None:
    her = female(weight_g=1500.0, weighed=LAST)
    verdict = verdict_on(her, "weight", rules={"soft": {"weight": 0.5}})
    assert verdict is not None
    assert verdict.penalty == 0


def test_a_shortfall_that_is_not_known_has_no_price() -> None:
    verdict = verdict_on(female(), "weight", rules={"soft": {"weight": 0.5}})
    assert verdict is not None
    assert not verdict.passed


def test_soft_settings_name_rules_that_may_be_softened() -> None:
    herd = [female(), male()]
    soft = {"soft": {"wieght": 1, "laying-trouble": 1, "welfare": 1, "age": 1}}
    faults = rule_setting_faults(records(herd, sections={"rules": soft}))
    told = {fault.found: fault.repair for fault in faults}
    assert set(told) == {"'wieght'", "'laying-trouble'", "'welfare'"}
    assert told["'wieght'"] == "Did you mean 'weight'?"
    assert told["'welfare'"].startswith("This rule guards health")
    assert str(faults[0].where) == "season.yaml, rules.soft.laying-trouble"
