"""Rules that guard health, in the words of a keeper who asks a vet."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from barred_seasons import SEASON, barred_season, write
from brumal.forecast.clutch import clutch_for
from brumal.pipeline import Prepared, prepare
from brumal.records.animals import Animal, Event, EventKind, Result, Status, Weighing
from brumal.records.folder import SeasonRecords
from brumal.records.overlays import overlays_of
from brumal.records.read import read_season
from brumal.records.variant import variant_of
from brumal.rules.table import judge_animal, rule_context
from brumal.rules.verdict import RuleVerdict
from records_by_hand import PAIR_FROM, female, male, records, weighed

LAST = date(2026, 11, 14)


def event(kind: str, on: str, animal: str = "F1", **cells: object) -> Event:
    return Event(kind=EventKind(kind), date=date.fromisoformat(on), animal=animal, **cells)  # type: ignore[arg-type]


def said(season: SeasonRecords, rule: str, animal: int = 0) -> RuleVerdict | None:
    verdicts = judge_animal(season.animals[animal], rule_context(season))
    return next((each for each in verdicts if each.rule == rule), None)


def passes(verdict: RuleVerdict | None) -> bool:
    return verdict is None or verdict.passed


def with_events(animal: Animal, *events: Event, **sections: object) -> SeasonRecords:
    return replace(records([animal], sections=sections), events=events)


def test_an_illness_that_a_vet_cleared_is_no_caution_any_more() -> None:
    """Nothing of it is open: it says nothing of what to look at before she is paired."""
    well = event("cleared", "2026-09-01", about="illness")
    verdict = said(with_events(female(), event("ill", "2026-08-01"), well), "illness")
    assert verdict is not None
    assert verdict.passed
    assert not verdict.caution


@pytest.mark.parametrize(
    ("events", "passed"),
    [
        ([event("ill", "2026-08-01")], False),
        ([event("ill", "2026-08-01"), event("cleared", "2026-09-01", about="illness")], True),
        ([event("ill", "2026-08-01"), event("cleared", "2026-07-01", about="illness")], False),
        ([event("ill", "2026-08-01"), event("cleared", "2026-09-01", about="laying")], False),
        # A test says nothing of an animal that is ill: that is for the vet.
        (
            [
                event("ill", "2026-08-01"),
                event("tested", "2026-09-01", about="illness", result=Result.NEGATIVE),
            ],
            False,
        ),
        ([event("tested", "2026-08-01", about="illness", result=Result.POSITIVE)], False),
        ([event("tested", "2026-08-01", about="illness", result=Result.UNCLEAR)], False),
        ([event("tested", "2026-08-01", about="illness")], False),
        ([event("tested", "2026-08-01", about="illness", result=Result.NEGATIVE)], True),
        (
            [
                event("tested", "2026-08-01", about="illness", result=Result.UNCLEAR),
                event("tested", "2026-09-01", about="illness", result=Result.NEGATIVE),
            ],
            True,
        ),
        (
            [
                event("tested", "2026-08-01", about="wasting", result=Result.POSITIVE),
                event("tested", "2026-09-01", about="illness", result=Result.NEGATIVE),
            ],
            False,
        ),
        ([event("tested", "2026-08-01", about="Clown", result=Result.POSITIVE)], True),
    ],
)
def test_illness_and_tests(events: list[Event], passed: bool) -> None:
    assert passes(said(with_events(female(), *events), "illness")) is passed


def test_illness_says_what_is_wanting() -> None:
    verdict = said(with_events(female(name="Iris"), event("ill", "2026-08-01")), "illness")
    assert verdict is not None
    assert verdict.text == (
        "Iris was ill on 2026-08-01; no vet's clearance since then is on record."
    )
    assert "A licensed vet decides" in verdict.remedy


def scales(*grams: float, last: date = LAST, every: int = 60) -> list[Weighing]:
    return weighed("F1", *grams, last=last, every=every)


@pytest.mark.parametrize(
    ("grams", "passed"),
    [
        ((1000, 900, 801), True),
        ((1000, 900, 800), False),  # a fifth in 120 days
        ((1000, 820, 760, 880), False),  # 12 % still missing
        ((1000, 820, 760, 900), True),  # back at nine tenths
        ((700, 800, 900, 1000), True),
    ],
)
@pytest.mark.parametrize("make", [female, male])
def test_wasting(grams: tuple[float, ...], passed: bool, make: type[Animal]) -> None:
    animal = make("F1")
    assert passes(said(records([animal], scales(*grams)), "wasting")) is passed


def test_a_loss_over_more_than_six_months_is_not_wasting() -> None:
    assert passes(said(records([male("F1")], scales(1000, 790, every=190)), "wasting"))


def test_a_laying_explains_a_loss() -> None:
    her = female(last_laid=date(2026, 9, 20))
    assert passes(said(records([her], scales(2000, 1900, 1300)), "wasting"))
    assert not passes(said(records([female()], scales(2000, 1900, 1300)), "wasting"))


@pytest.mark.parametrize(
    ("on", "about", "grams", "passed"),
    [
        ("2026-11-14", "wasting", (1000, 900, 780), True),
        ("2026-11-14", "illness", (1000, 900, 780), False),
        ("2026-08-01", "wasting", (1000, 900, 780), False),  # cleared at 1,000 g, lost since
        ("2026-07-01", "wasting", (1000, 780, 620), False),  # a fifth more since the clearance
    ],
)
def test_only_a_vet_ends_wasting(
    on: str, about: str, grams: tuple[float, ...], passed: bool
) -> None:
    season = records([male("F1")], scales(*grams))
    season = replace(season, events=(event("cleared", on, about=about),))
    assert passes(said(season, "wasting")) is passed


@pytest.mark.parametrize(
    ("animal", "offers", "passed"),
    [
        (male(), {}, True),  # a table that keeps no arrivals
        (male(blank=frozenset({"arrived"})), {}, False),
        (male(status=Status.LOAN), {}, False),
        (male(status=Status.LOAN, arrived=date(2026, 8, 1)), {}, True),
        (male(status=Status.LOAN, arrived=date(2026, 10, 1)), {}, False),
        (male(), {"borrow": {"M1": 20}}, False),
        (male(), {"buy": {"M1": 200}}, False),
        (male(arrived=date(2026, 8, 1)), {"buy": {"M1": 200}}, True),
        (male(), {"sell": {"M1": 200}}, True),
    ],
)
def test_who_needs_a_day_of_arrival(
    animal: Animal, offers: dict[str, object], passed: bool
) -> None:
    season = records([animal], sections={"offers": offers} if offers else {})
    assert passes(said(season, "quarantine")) is passed


def test_what_shows_that_an_animal_has_been_here() -> None:
    him = male(blank=frozenset({"arrived"}))
    assert passes(said(records([him], weighed("M1", 800, last=date(2026, 9, 2))), "quarantine"))
    late = records([him], weighed("M1", 800, last=date(2026, 9, 3)))
    assert not passes(said(late, "quarantine"))
    dam = female("D1")
    bred = replace(him, dam="D1")
    assert passes(said(records([bred, dam]), "quarantine"))
    outside = replace(dam, status=Status.OUTSIDE)
    assert not passes(said(records([bred, outside]), "quarantine"))


def test_a_negative_test_may_be_asked_for() -> None:
    rules = {"quarantine_test": True}
    him = male(arrived=date(2026, 6, 1))
    negative = event("tested", "2026-07-01", "M1", about="illness", result=Result.NEGATIVE)
    early = replace(negative, date=date(2026, 5, 1))
    assert not passes(said(with_events(him, rules=rules), "quarantine"))
    assert not passes(said(with_events(him, early, rules=rules), "quarantine"))
    assert passes(said(with_events(him, negative, rules=rules), "quarantine"))
    assert passes(said(with_events(him), "quarantine"))


def test_a_loan_that_comes_back_is_a_new_arrival(tmp_path: Path) -> None:
    tables = barred_season()
    tables["events"].append(["2026-10-30", "M1", "arrived", "", "", "", "back from a loan"])
    found = {v.rule for v in verdicts(prepare(write(tmp_path / "s", tables)), "M1") if not v.passed}
    assert found == {"quarantine"}


def test_an_animal_that_a_what_if_adds_needs_its_arrival(tmp_path: Path) -> None:
    folder = write(tmp_path / "s", barred_season())
    (folder / "what-if").mkdir()
    row = "sex: male, morph: Clown, hatched: 2020-07-01, weight_g: 900, weighed: 2026-11-08"
    for name, more in (("no-day", ""), ("day", ", arrived: 2026-07-01")):
        text = f"animals: {{M9: {{{row}, condition: 3{more}}}}}\n"
        (folder / "what-if" / f"{name}.yaml").write_text(text, encoding="utf-8")
    season, _ = read_season(folder)
    assert season is not None
    for name, passed in (("no-day", False), ("day", True)):
        variant = variant_of(season, overlays_of(season), [name])
        assert variant.records is not None
        at = [animal.id for animal in variant.records.animals].index("M9")
        assert passes(said(variant.records, "quarantine", at)) is passed


def verdicts(prepared: Prepared, animal: str) -> tuple[RuleVerdict, ...]:
    return judge_animal(prepared.animals[animal], prepared.rules)


@pytest.mark.parametrize(
    ("accepted", "cleared", "passed"),
    [("", "", False), ("Desert", "", False), ("", "Desert", False), ("Desert", "Desert", True)],
)
def test_a_desert_female_needs_a_vet_and_her_keepers_word(
    tmp_path: Path, accepted: str, cleared: str, passed: bool
) -> None:
    tables = barred_season()
    if cleared:
        tables["events"].append(["2026-10-30", "desert", "cleared", "", cleared, "", ""])
    season = f"{SEASON}rules: {{accept_welfare: [{accepted}]}}\n"
    prepared = prepare(write(tmp_path / "s", tables, season))
    (verdict,) = [each for each in verdicts(prepared, "desert") if each.rule == "own-welfare"]
    assert verdict.passed is passed
    assert "which can kill them" in verdict.text


@pytest.mark.parametrize(("accepted", "passed"), [("", False), ("Spider", True)])
def test_an_animal_whose_every_pair_welfare_bars_is_not_ready(
    tmp_path: Path, accepted: str, passed: bool
) -> None:
    season = f"{SEASON}rules: {{accept_welfare: [{accepted}]}}\n"
    prepared = prepare(write(tmp_path / "s", barred_season(), season))
    told = [each for each in verdicts(prepared, "spider") if each.rule == "own-harm"]
    assert all(each.passed for each in told) is passed
    assert passed or "One copy does the harm" in told[0].text


def test_a_clearance_is_of_one_genotype(tmp_path: Path) -> None:
    tables = barred_season()
    tables["events"].append(["2026-10-30", "desert", "cleared", "", "Caramel Albino", "", ""])
    season = f"{SEASON}rules: {{accept_welfare: [Desert]}}\n"
    prepared = prepare(write(tmp_path / "s", tables, season))
    assert not all(each.passed for each in verdicts(prepared, "desert"))


def test_forecasts_follow_the_note(tmp_path: Path) -> None:
    """No fertile egg of a Desert female, half the usual of a visual Caramel Albino (the notes)."""
    tables = barred_season()
    for row in tables["animals"]:
        row[6] = "Caramel Albino" if row[0] == "F2" else row[6]
    prepared = prepare(write(tmp_path / "s", tables))
    sire = prepared.animals["M1"]
    usual, none, half = (
        clutch_for(prepared.forecasts, prepared.animals[dam], sire)
        for dam in ("F1", "desert", "F2")
    )
    assert none.fertile == 0
    assert none.expected_young == 0
    assert half.fertile == pytest.approx(usual.fertile / 2)


def test_the_weight_of_one_that_laid_needs_its_day() -> None:
    her = female(weight_g=1900.0, last_laid=date(2025, 4, 1))
    assert not passes(said(records([her]), "weight"))
    assert passes(said(records([replace(her, weighed=LAST)]), "weight"))
    assert passes(said(records([female(weight_g=1900.0)]), "weight"))


@pytest.mark.parametrize(
    ("column", "rule"),
    [("status", "status"), ("morph", "look"), ("condition", "condition"), ("hatched", "age")],
)
def test_an_empty_cell_bars_and_a_column_that_is_not_there_does_not(column: str, rule: str) -> None:
    her = female(weight_g=1900.0, weighed=LAST)
    assert passes(said(records([her]), rule))
    assert not passes(said(records([replace(her, blank=frozenset({column}))]), rule))


def test_an_age_is_shown_by_time_on_record() -> None:
    her = female(weight_g=1900.0, weighed=LAST, blank=frozenset({"hatched"}))
    long_here = replace(her, arrived=date(2024, 5, 31))
    assert passes(said(records([long_here]), "age"))
    assert not passes(said(records([replace(her, arrived=date(2024, 6, 2))]), "age"))
    assert date(2026, 12, 1) == PAIR_FROM  # 30 months after 2024-06-01
