"""The next best sire of a pair, against a try of every other sire there is."""

from __future__ import annotations

from pathlib import Path

from brumal.planner.second_choice import second_choices
from brumal.planner.solver.worth import is_allowed, value_of
from brumal.report.plan.words import second_line
from solved_seasons import SURE, best_plan, female, male, solved

VALUES = """values:
  base: 30
  wanted:
    - {morph: Clown, value: 250, chance: 0.9}
    - {morph: Pastel, value: 80}
    - {morph: Mojave, value: 70}
    - {morph: Cinnamon, value: 60}
    - {morph: Fire, value: 50}
"""
ANIMALS = [
    female("F1", "het Clown", expected_eggs=8),
    male("M1", "Clown"),
    *[male(f"M{n}", morph) for n, morph in enumerate(("Pastel", "Mojave", "Cinnamon"), start=2)],
    male("M5", "Clown", max_pairings=1),
]


def test_one_that_meets_every_chance_goes_first_however_many_bring_more(tmp_path: Path) -> None:
    """A Clown is hardly worth more than any young: three other sires bring more, none a Clown."""
    text = SURE + VALUES.replace("value: 250", "value: 31")
    season = solved(tmp_path, ANIMALS, text)
    problem = season.problem
    (pair,) = [each.pair for each in season.pairs]
    assert pair[1] in ("M1", "M5")
    found = second_choices(season)[pair]
    allowed = {
        each.sire: value_of(problem, [place])
        for place, each in enumerate(problem.candidates)
        if each.pair != pair and is_allowed(problem, [place])
    }
    assert found.sire == max(allowed, key=allowed.__getitem__)
    assert not found.missed
    assert found.less == max(season.solution.objective - allowed[found.sire], 0.0)


def test_where_no_other_sire_fits_the_plan_says_so(tmp_path: Path) -> None:
    season = solved(tmp_path, ANIMALS[:2], SURE + VALUES)
    assert second_choices(season) == {}
    plan = best_plan(season.prepared)
    told = [second_line(plan, pair) for pair in plan.pairs]
    assert told == ["If he refuses: no other sire fits within all limits."]
