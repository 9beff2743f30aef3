"""Weight against a limit: when a projection counts, and what is said of old and missing ones."""

from __future__ import annotations

from datetime import date

import pytest
from scipy.stats import norm

from brumal.forecast.trend import carry, fit_trend
from brumal.records.animals import Animal, Weighing
from brumal.rules.standing import WeightCheck, stand
from brumal.rules.table import rule_context
from records_by_hand import female, records, weighed

LAST = date(2026, 11, 14)


def standing(animal: Animal, limit: float, weighings: list[Weighing] | None = None) -> WeightCheck:
    return stand(animal, limit, rule_context(records([animal], weighings or [])))


@pytest.mark.parametrize(("grams", "met"), [(1499.9, False), (1500.0, True), (1500.1, True)])
def test_a_weight_alone_counts_as_it_is(grams: float, met: bool) -> None:
    found = standing(female(weight_g=grams, weighed=LAST), 1500)
    assert (found.met, found.caution) == (met, False)


def test_undated_weight_counts_as_it_is() -> None:
    found = standing(female(weight_g=1600.0), 1500)
    assert found.met
    assert found.says == "F1 weighs 1,600 g (date of weighing not recorded)"


def test_near_the_limit_a_projection_alone_does_not_lift_her() -> None:
    found = standing(female(name="Frost"), 1500, weighed("F1", 1420, 1440, 1460, 1480, last=LAST))
    assert not found.met
    assert found.missing_g == 20
    assert found.remedy == (
        "At her present gain of 0.7 g a day she may reach it about 2026-12-14, with a chance under "
        "80%: weigh her then."
    )
    assert "ready" not in found.figures


def test_grams_still_to_come_lift_her_with_the_chance_asked_for() -> None:
    scales = weighed("F1", *range(1140, 1491, 50), last=LAST, every=10)
    found = standing(female(name="Frost"), 1500, scales)
    assert (found.met, found.caution) == (True, True)
    # SciPy's normal law of one more weighing about the line, as carried to the day.
    coming = carry(fit_trend([(each.date, each.grams) for each in scales]), date(2026, 12, 1))
    chance = norm.sf(1500, loc=coming.grams, scale=coming.sd)
    assert found.figures["chance"] == pytest.approx(chance)
    assert found.beside == (
        "At her present gain of 5.0 g a day she weighs 1,500 g or more on 2026-12-01 with a chance "
        f"of {int(100 * chance)}%: weigh her on that day; no visit before she does."
    )
    most = norm.isf(0.8, loc=coming.grams, scale=coming.sd)
    assert standing(female(), most - 0.01, scales).met
    assert not standing(female(), most + 0.01, scales).met


def test_a_female_losing_weight_passes_with_caution_then_fails() -> None:
    mild = standing(female(), 1500, weighed("F1", 1600, 1570, 1540, 1510, last=LAST))
    assert (mild.met, mild.caution) == (True, True)
    assert "present loss of 1.0 g a day" in mild.beside
    steep = standing(female(), 1500, weighed("F1", 2160, 1940, 1720, 1505, last=LAST))
    assert not steep.met
    assert steep.missing_g > 0
    assert steep.remedy.startswith("She is not gaining (loss of 7.3 g a day)")


@pytest.mark.parametrize(
    ("scales", "said"),
    [
        ((2400, 2200, 1950, 1560), "At her present loss of 4.8 g a day she should weigh 1,438 g"),
        ((1760, 1740, 1720, 1505), "she falls from there to 1,485 g on 2026-12-01; weigh her"),
    ],
)
def test_a_fall_at_the_end_is_cautioned(scales: tuple[int, ...], said: str) -> None:
    """The line through all weighings stays over the limit, the loss since the last does not."""
    days = (date(2026, 6, 1), date(2026, 8, 5), date(2026, 10, 1), date(2026, 11, 10))
    own = [Weighing(animal="F1", date=d, grams=g) for d, g in zip(days, scales, strict=True)]
    found = standing(female(name="Pebble"), 1500, own)
    assert (found.met, found.caution) == (True, True)
    assert said in found.beside


def test_a_fast_loss_far_over_the_limit_is_cautioned() -> None:
    scales = weighed("F1", 2400, 2280, 2160, 2040, last=LAST)
    found = standing(female(name="Pebble"), 1200, scales)
    assert (found.met, found.caution) == (True, True)
    assert found.beside == (
        "She loses 6% of her weight in a month: look for the cause, with a vet, before pairing."
    )
    slow = weighed("F1", 2130, 2100, 2070, 2040, last=LAST)
    assert not standing(female(name="Pebble"), 1200, slow).caution


def test_a_gain_too_slow_to_be_sure_says_when_to_weigh() -> None:
    found = standing(female(), 1500, weighed("F1", 1390, 1425, 1460, 1495, last=LAST))
    assert not found.met
    day = found.figures["ready"]
    assert found.remedy == (
        f"At her present gain of 1.2 g a day she is there by {day} with a chance of 80%; weigh "
        "her then."
    )
    assert "2026-12-20" < str(day) < "2027-01-20"


def test_an_old_weighing_is_taken_as_it_is_and_said_to_be_old() -> None:
    scales = weighed("F1", 1480, 1490, 1500, 1510, last=date(2026, 8, 1))
    found = standing(female(), 1500, scales)
    assert (found.met, found.caution) == (True, True)
    assert found.beside == (
        "That weighing is 122 days old on 2026-12-01 and is taken as it is; weigh her again."
    )
    assert "expected_g" not in found.figures


def test_no_weighing_fails() -> None:
    found = standing(female(name="Frost"), 1500)
    assert not found.met
    assert found.says == "Frost has no weighing on record"
    assert found.remedy == "Weigh her and enter the weight."


def test_a_weighing_from_before_the_last_laying_fails() -> None:
    her = female(name="Frost", last_laid=date(2026, 4, 20))
    found = standing(her, 1500, weighed("F1", 2100, last=date(2026, 4, 10)))
    assert not found.met
    assert found.says == "Frost has not been weighed since she laid on 2026-04-20"


def test_too_few_weighings_say_so() -> None:
    found = standing(female(), 1500, weighed("F1", 1400, 1450, last=LAST))
    assert found.remedy.startswith("Too few recent weighings")


def test_a_fall_at_the_end_is_not_lifted_by_the_line() -> None:
    steady = [1440, 1455, 1470, 1485, 1500, 1515, 1530]
    for last, met in ((1545, True), (1495, False), (1420, False), (1245, False)):
        found = standing(female(), 1500, weighed("F1", *steady, last, last=LAST))
        assert found.met == met, last
        assert not found.caution
    # From 1,420 g, not from the line, which is long past 1,500 g.
    fallen = standing(female(), 1500, weighed("F1", *steady, 1420, last=LAST))
    assert fallen.missing_g == 80
    assert str(fallen.figures["ready"]) > "2026-12-01"
