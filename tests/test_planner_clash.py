"""Impossible seasons name the planted culprits, and nothing that can stay."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from brumal.planner.infeasible import find_clash, statements
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import ChanceWish, Problem
from brumal.planner.solver.solve import Verdict, solve
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
    clash = find_clash(problem, "highs")
    assert clash.exact
    return {s.id for s in clash.statements}, {s.id: s.loosen for s in clash.statements}


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


@pytest.mark.parametrize("seed", range(400))
def test_any_one_of_a_clash_can_go(seed: int) -> None:
    problem = random_problem(seed)
    if brute_force(problem) is not None:
        return
    clash = find_clash(problem, "highs")
    assert clash.statements
    kept = {said.id for said in clash.statements}
    everything = {said.id for said in statements(problem)}
    assert solve(problem, omit=everything - kept).verdict is Verdict.IMPOSSIBLE
    for said in kept:
        assert solve(problem, omit=everything - kept | {said}).verdict is not Verdict.IMPOSSIBLE
