"""``docs/rules.md`` says what the rules do."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

from brumal.records.settings import ClutchPrior, RuleLimits, StageDays, Visits
from brumal.rules.defaults import ALL_DEFAULTS, written
from brumal.rules.page import main, rules_page
from brumal.rules.table import ANIMAL_RULES, PAIR_RULES

PAGE = Path(__file__).parents[1] / "docs" / "rules.md"


def test_the_page_is_current() -> None:
    assert PAGE.read_text(encoding="utf-8") == rules_page(), (
        "run `python -m brumal.rules.page docs/rules.md`"
    )


def test_every_rule_and_every_default_stands_in_it_with_its_source() -> None:
    page = rules_page()
    for rule in (*ANIMAL_RULES, *PAIR_RULES):
        assert f"| `{rule.id}` | {rule.title} |" in page
        assert rule.because in page
    sections = {"rules": RuleLimits, "clutch": ClutchPrior, "dates": StageDays, "visits": Visits}
    wanted = {f"{name}.{f.name}" for name, kind in sections.items() for f in fields(kind)}
    assert wanted <= {default.key for default in ALL_DEFAULTS}
    assert {key for rule in ANIMAL_RULES for key in rule.keys} <= wanted
    for default in ALL_DEFAULTS:
        assert f"| `{default.key}` | {default.value} |" in page
        assert default.source


def test_defaults_are_written_as_a_keeper_would() -> None:
    assert written((2.0, 4.0)) == "[2, 4]"
    assert written(None) == written(()) == written({}) == "off"
    assert (written(0.0625), written(1500.0), written(90)) == ("0.0625", "1500", "90")


def test_the_page_can_be_written(tmp_path: Path) -> None:
    main([str(tmp_path / "rules.md")])
    assert (tmp_path / "rules.md").read_text(encoding="utf-8") == rules_page()
