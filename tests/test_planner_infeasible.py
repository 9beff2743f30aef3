"""Impossible seasons name the planted culprits, and nothing that can stay."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from brumal.planner.infeasible import infeasible_set
from brumal.planner.limits.every import limits_of, must_id
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import ChanceWish, Problem
from brumal.planner.solver.answer import Verdict
from brumal.planner.solver.solve import solve
from brumal.planner.wishes.chances import chance_id
from long_forms import thinned
from small_seasons import brute_force, random_problem


def pair(dam: str, sire: str, eggs: float = 8, none: float | None = None) -> Candidate:
    counted = {} if none is None else {0: np.array([none])}
    return Candidate(
        dam=dam, sire=sire, value=100.0, young=5.0, eggs=eggs, box_eggs=eggs, none=counted
    )


def season(**changes: object) -> Problem:
    """Two females and two males, room for everything unless ``changes`` say otherwise."""
    pairs = tuple(pair(dam, sire) for dam in ("A", "B") for sire in ("K", "L"))
    plain = Problem(candidates=pairs, male_limits={"K": 2, "L": 2}, boxes=4, tubs=40)
    return replace(plain, **changes)


def named(problem: Problem) -> tuple[set[str], dict[str, str]]:
    assert solve(problem).verdict is Verdict.IMPOSSIBLE
    found = infeasible_set(problem, "highs")
    assert found.exact
    return {s.id for s in found.statements}, {s.id: s.loosen for s in found.statements}


def everything(problem: Problem) -> set[str]:
    """Return the names of all that the keeper said: settings, chance wishes, pairs to be made."""
    limits = {limit.setting for limit in limits_of(problem)}
    return limits | {*map(chance_id, problem.chances)} | {*map(must_id, problem.must)}


def rows(problem: Problem, said: set[str]) -> set[str]:
    """Return the ids of the rows that settings put on a plan, each other name as it is."""
    limits = limits_of(problem)
    own = {limit.id for limit in limits if limit.setting in said}
    return own | said - {limit.setting for limit in limits}


def test_two_wishes_for_one_male_of_limit_one() -> None:
    ids, loosen = named(season(must=(("A", "K"), ("B", "K")), male_limits={"K": 1, "L": 2}))
    assert ids == {"must_pair[A x K]", "must_pair[B x K]", "pairings_per_male[K]"}
    assert loosen["pairings_per_male[K]"] == "2 would be enough"


def test_two_sires_wished_for_one_female() -> None:
    ids, _ = named(season(must=(("A", "K"), ("A", "L"))))
    assert ids == {"must_pair[A x K]", "must_pair[A x L]"}


def test_too_few_boxes_for_the_pairs_that_must_stand() -> None:
    ids, loosen = named(season(must=(("A", "K"), ("B", "L")), boxes=1))
    assert ids == {"must_pair[A x K]", "must_pair[B x L]", "boxes"}
    assert loosen["boxes"] == "2 boxes would be enough"


def test_small_clutches_share_the_box_so_one_is_enough() -> None:
    pairs = tuple(pair(dam, "K", eggs=6) for dam in ("A", "B"))
    problem = season(candidates=pairs, must=(("A", "K"), ("B", "K")), boxes=1)
    assert solve(problem).verdict is Verdict.PROVEN


def test_too_few_tubs() -> None:
    ids, loosen = named(season(must=(("A", "K"), ("B", "L")), tubs=9))
    assert ids == {"must_pair[A x K]", "must_pair[B x L]", "tubs"}
    assert loosen["tubs"] == "10 tubs would be enough"


def test_a_chance_that_cannot_be_had_says_the_best_there_is() -> None:
    pairs = (pair("A", "K", none=0.5), pair("B", "K", none=0.5), pair("B", "L"))
    wish = ChanceWish(id="1: Clown", words="one Clown", at_least=0.9)
    ids, loosen = named(season(candidates=pairs, chances=(wish,)))
    assert ids == {"chance[1: Clown]"}
    assert loosen["chance[1: Clown]"] == "the best chance that can be had is 75.0%"


def test_a_chance_against_boxes() -> None:
    pairs = (pair("A", "K", none=0.5), pair("B", "K", none=0.5))
    wish = ChanceWish(id="1: Clown", words="one Clown", at_least=0.7)
    ids, loosen = named(season(candidates=pairs, chances=(wish,), boxes=1))
    assert ids == {"chance[1: Clown]", "boxes"}
    assert loosen["boxes"] == "2 boxes would be enough"
    assert loosen["chance[1: Clown]"] == "the best chance that can be had is 50.0%"


@pytest.mark.parametrize("seed", thinned(range(400), 4))
def test_any_one_statement_of_the_set_can_go(seed: int) -> None:
    problem = random_problem(seed)
    if brute_force(problem) is not None:
        return
    found = infeasible_set(problem, "highs")
    assert found.exact and not found.of_pair
    kept = {said.id for said in found.statements}
    others = everything(problem) - kept
    assert kept and kept <= everything(problem)
    assert brute_force(without(problem, others)) is None
    assert solve(problem, omit=rows(problem, others)).verdict is Verdict.IMPOSSIBLE
    for said in kept:
        assert brute_force(without(problem, others | {said})) is not None
        omit = rows(problem, others | {said})
        assert solve(problem, omit=omit).verdict is not Verdict.IMPOSSIBLE


def without(problem: Problem, gone: set[str]) -> Problem:
    """Return the season as the keeper would state it without some of what was said."""
    males = {
        sire: 99 if f"pairings_per_male[{sire}]" in gone else limit
        for sire, limit in problem.male_limits.items()
    }
    limits = {
        field: None
        for said, field in (
            ("boxes", "boxes"),
            ("tubs", "tubs"),
            ("spend", "spend"),
            ("resting", "most_pairs"),
            ("max_kept_kinship", "max_kin"),
            ("sire_share", "sire_share"),
        )
        if said in gone
    }
    return replace(
        problem,
        male_limits=males,
        chances=tuple(
            replace(wish, at_least=0.0) if f"chance[{wish.id}]" in gone else wish
            for wish in problem.chances
        ),
        must=tuple(two for two in problem.must if f"must_pair[{two[0]} x {two[1]}]" not in gone),
        **limits,
    )


def test_the_share_of_a_sire_is_one_thing_the_keeper_said() -> None:
    """Both rows of it stand in the way: a pair of K alone is all of K's, one of L all of L's."""
    held = tuple(replace(c, kept=1.0) for c in season().candidates)
    problem = season(candidates=held, must=(("A", "K"),), boxes=1, sire_share=0.6)
    ids, loosen = named(problem)
    assert ids == {"must_pair[A x K]", "boxes", "sire_share"}
    assert loosen["sire_share"] == "raise the limit"
    assert loosen["boxes"] == "2 boxes would be enough"
    (words,) = [
        s.words for s in infeasible_set(problem, "highs").statements if s.id == "sire_share"
    ]
    assert words == "at most 60% of young held back from one sire"
