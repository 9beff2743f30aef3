"""Each limit on the plan: kept, broken, at its edge, and against a checker that shares no code."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from brumal.planner import limits as package
from brumal.planner.limits.every import KINDS, keeps_limits, limits_of, more_of_each, must_id
from brumal.planner.limits.limit import Limit
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import PairRow, Problem
from small_seasons import is_allowed, random_problem

AK, AL, BK, BL, CK, CL = range(6)
NAMES = {"K": "Kestrel (K)", "L": "Lark (L)", "": ""}
Plan = tuple[int, ...]


def season(figures: dict[int, dict[str, float]] | None = None, **changes: object) -> Problem:
    """Females A, B and C, each with males K and L, numbered as above; no limit is set."""
    usual = {"value": 100.0, "young": 5.0, "eggs": 8.0, "box_eggs": 8.0, "spend": 20.0}
    pairs = tuple(
        Candidate(dam=dam, sire=sire, **{**usual, **(figures or {}).get(place, {})})
        for place, (dam, sire) in enumerate(itertools.product("ABC", "KL"))
    )
    return replace(Problem(candidates=pairs, male_limits={"K": 3, "L": 3}), **changes)


def only(problem: Problem) -> Limit:
    (limit,) = limits_of(problem)
    return limit


def stands(limit: Limit, *, below: Plan, edge: Plan, past: Plan) -> None:
    """Hold a limit against a plan within it, one at its edge and one past it."""
    assert limit.is_kept(below)
    assert limit.taken(below) < limit.most
    assert limit.is_kept(edge)
    assert limit.taken(edge) == pytest.approx(limit.most, abs=1e-12)
    assert not limit.is_kept(past)
    assert limit.is_kept(())
    assert limit.setting not in {each.setting for each in limits_of(limit.without())}
    for plan in (below, edge, past):
        assert keeps_limits(limit.problem, plan) is (plan != past)
        assert keeps_limits(limit.problem, plan, {limit.id})


def told(limit: Limit, plan: Plan = ()) -> tuple[str, ...]:
    words = (limit.said, limit.named, limit.full)
    return tuple(limit.tell(each, NAMES.__getitem__, plan) for each in words)


def test_pairings_of_a_male() -> None:
    limit = only(season(male_limits={"K": 2, "L": 3}))
    stands(limit, below=(AK, BL, CL), edge=(AK, BK, CL), past=(AK, BK, CK))
    assert (limit.id, limit.setting, limit.owner) == (*["pairings_per_male[K]"] * 2, "K")
    assert limit.holds_back((AK, BK, CL))
    assert not limit.holds_back((AK, CL))
    assert told(limit, (AK, BK)) == (
        "Kestrel (K) serves at most 2",
        "2 pairings of Kestrel (K)",
        "all 2 pairings of Kestrel (K) are taken",
    )
    assert limit.enough(2.9999999) == "3"


def test_a_clutch_of_uncertain_sire_is_a_pairing_of_each() -> None:
    unsure = {("A", "L"): {"K": 0.3, "L": 0.7}}
    limit = only(season(male_limits={"K": 2, "L": 3}, sires=unsure))
    stands(limit, below=(AL, BL, CL), edge=(AL, BK, CL), past=(AL, BK, CK))
    fact = replace(limit.problem, male_limits={"K": 0, "L": 3}, facts=frozenset(unsure))
    assert only(fact).is_kept((AL, BL))
    assert not only(fact).is_kept((AL, BK))


def test_tubs_for_the_young_expected() -> None:
    limit = only(season(tubs=10))
    stands(limit, below=(AK,), edge=(AK, BK), past=(AK, BK, CL))
    assert limit.holds_back((AK, BK))
    assert not limit.holds_back((AK,))
    assert told(limit, (AK, BK)) == (
        "the season has 10 hatchling tubs",
        "10 hatchling tubs",
        "10.0 of 10 hatchling tubs are taken",
    )
    assert (limit.enough(15.0), limit.enough(0.3)) == ("15 tubs", "1 tub")
    weekly = only(season(tubs=5, in_tub=0.5))
    stands(weekly, below=(AK,), edge=(AK, BK), past=(AK, BK, CL))


def test_boxes_that_small_clutches_share() -> None:
    small = {place: {"box_eggs": 6.0} for place in (AL, BL, CL)}
    limit = only(season(small, boxes=2))
    stands(limit, below=(AL, BL), edge=(AL, BL, CK), past=(AK, BK, CL))
    stands(limit, below=(AL,), edge=(AK, BK), past=(AK, BK, CK))
    assert limit.holds_back((AK, BL))
    assert not limit.holds_back((AL,))
    assert told(limit) == (
        "the season has 2 incubator boxes",
        "2 incubator boxes",
        "all 2 incubator boxes are taken",
    )
    assert (limit.enough(5.0), limit.enough(4.0)) == ("3 boxes", "2 boxes")


def test_money_before_sales_every_animal_paid_once() -> None:
    """A pairing takes 20; K costs 30 once, A 10; L is sold, which takes no money before sales."""
    costs = {"use_costs": {"K": 30.0, "A": 10.0, "L": 5.0}, "paid": frozenset("KA")}
    limit = only(season(spend=80.0, **costs))
    stands(limit, below=(AL, BL), edge=(AK, BK), past=(AK, BK, CL))
    assert [limit.taken(plan) for plan in ((BL,), (AL, BL), (BK, CK))] == [20, 50, 70]
    assert limit.holds_back((AL, BL))
    assert told(limit) == (
        "at most 80.00 may be spent before sales",
        "80.00 to spend before sales",
        "no more than 80.00 may be spent before sales",
    )
    assert limit.enough(100.0) == "100.00"


def test_females_that_rest() -> None:
    limit = only(season(most_pairs=2))
    stands(limit, below=(AK,), edge=(AK, BL), past=(AK, BL, CK))
    assert limit.holds_back((AK, BL))
    assert not limit.holds_back((AK,))
    assert told(limit) == (
        "at most 2 females are paired, so that enough rest",
        "at most 2 females paired",
        "no more than 2 females may be paired",
    )
    assert limit.enough(3.0) == "3"


def test_mean_kinship_of_young_held_back() -> None:
    held = {AK: {"kept": 1, "kin": 0.125}, BL: {"kept": 1, "kin": 0.25}, CL: {"kept": 2}}
    limit = only(season(held, max_kin=0.1875))
    stands(limit, below=(AK,), edge=(AK, BL), past=(BL,))
    assert limit.is_kept((BL, CL))
    assert limit.holds_back(())
    assert not limit.holds_back((AK, CL))
    assert told(limit)[0] == "young held back have a mean kinship of at most 0.1875"
    assert limit.enough(0.1) == ""


def test_a_sires_share_of_young_held_back() -> None:
    held = {AK: {"kept": 1.0}, BL: {"kept": 1.0}, CL: {"kept": 3.0}}
    of_k, of_l = limits_of(season(held, sire_share=0.5))
    assert (of_k.owner, of_l.owner, of_k.setting, of_l.setting) == ("K", "L", *["sire_share"] * 2)
    assert of_k.is_kept((AK, BL)) and of_l.is_kept((AK, BL))
    assert of_k.taken((AK, BL)) == of_l.taken((AK, BL)) == 0
    assert not of_k.is_kept((AK,)) and of_l.is_kept((AK,))
    assert of_k.is_kept((AK, CL)) and not of_l.is_kept((AK, CL))
    assert of_k.is_kept(()) and of_l.is_kept(())
    assert limits_of(of_k.without()) == ()
    assert told(of_k) == (
        "Kestrel (K) sires at most 50% of young held back",
        "at most 50% of young held back from one sire",
        "no more than 50% of young held back may be of Kestrel (K)",
    )


def test_every_kind_is_walked_and_what_is_not_set_has_no_limit() -> None:
    (folder,) = package.__path__
    modules = {path.stem for path in Path(folder).glob("*.py")} - {"__init__", "every", "limit"}
    assert {kind.__name__.rpartition(".")[2] for kind in KINDS} == modules
    assert len(KINDS) == len(modules)
    assert limits_of(season()) == ()


def test_what_a_plan_must_do_is_asked_beside_the_limits() -> None:
    problem = season(must=(("A", "K"),), must_breed=("B",))
    assert keeps_limits(problem, (AK, BL))
    assert not keeps_limits(problem, (AL, BL))
    assert not keeps_limits(problem, (AK, CL))
    assert keeps_limits(problem, (AL, BL), {must_id(("A", "K"))})
    assert not keeps_limits(season(), (AK, AL))
    row = PairRow(coefficients={("A", "K"): 1.0, ("B", "K"): 1.0, ("Z", "K"): 1.0}, at_least=2.0)
    assert keeps_limits(season(more=(row,)), (AK, BK))
    assert not keeps_limits(season(more=(row,)), (AK, BL))


def test_a_little_more_of_each_thing() -> None:
    problem = season(boxes=2, tubs=10, spend=80.0, most_pairs=1, male_limits={"K": 1, "L": 0})
    more = list(more_of_each(problem))
    assert [(each.step, each.words, each.owner) for each in more] == [
        (1, "one more female for {owner}", "K"),
        (1, "one more female for {owner}", "L"),
        (1, "1 hatchling tub more", ""),
        (5, "5 hatchling tubs more", ""),
        (1, "1 incubator box more", ""),
        (100, "100 more to spend before sales", ""),
        (1, "one female fewer that must rest", ""),
    ]
    assert [differing(problem, each.problem) for each in more] == [
        {"male_limits": {"K": 2, "L": 0}},
        {"male_limits": {"K": 1, "L": 1}},
        {"tubs": 11},
        {"tubs": 15},
        {"boxes": 3},
        {"spend": 180.0},
        {"most_pairs": 2},
    ]
    assert [each.owner for each in more_of_each(season())] == ["K", "L"]


def differing(one: Problem, other: Problem) -> dict[str, object]:
    both = (
        (field.name, getattr(one, field.name), getattr(other, field.name)) for field in fields(one)
    )
    return {name: now for name, before, now in both if now != before}


def alone(problem: Problem) -> Iterator[tuple[str, Problem]]:
    """Yield the season with each of its limits as the only one."""
    free = {sire: len(problem.candidates) for sire in problem.male_limits}
    nothing = {
        "boxes": None,
        "tubs": None,
        "spend": None,
        "most_pairs": None,
        "sire_share": None,
        "max_kin": None,
    }
    bare = replace(problem, male_limits=free, must=(), chances=(), **nothing)
    yield "males", replace(bare, male_limits=problem.male_limits)
    for field in nothing:
        if getattr(problem, field) is not None:
            yield field, replace(bare, **{field: getattr(problem, field)})


def plans(problem: Problem) -> Iterator[Plan]:
    """Yield every plan in which a female meets one male at most."""
    by_dam: dict[str, list[int | None]] = {}
    for place, candidate in enumerate(problem.candidates):
        by_dam.setdefault(candidate.dam, [None]).append(place)
    for choice in itertools.product(*by_dam.values()):
        yield tuple(sorted(place for place in choice if place is not None))


def allowed(problem: Problem, plan: Plan) -> bool:
    return is_allowed(problem, tuple(problem.candidates[place] for place in plan))


def swapped(problem: Problem, plan: Plan, new: int) -> Plan:
    dam = problem.candidates[new].dam
    return (*(place for place in plan if problem.candidates[place].dam != dam), new)


def test_limits_are_kept_and_hold_back_as_the_checker_reckons() -> None:
    """``small_seasons`` counts boxes, money, kinship and the rest from the keeper's words."""
    seen: dict[str, list[bool]] = {}
    held: dict[str, list[bool]] = {}
    for seed in range(60):
        for kind, problem in alone(random_problem(seed, 3, 3)):
            rows = limits_of(problem)
            for plan in plans(problem):
                fits = allowed(problem, plan)
                seen.setdefault(kind, []).append(fits)
                assert all(row.is_kept(plan) for row in rows) == fits, (seed, kind, plan)
                assert keeps_limits(problem, plan) == fits
                if not fits:
                    continue
                others = set(range(len(problem.candidates))) - set(plan)
                back = not all(allowed(problem, swapped(problem, plan, new)) for new in others)
                held.setdefault(kind, []).append(back)
                # A fee that the dam's own pair alone pays is not taken back in an exchange.
                told = any(row.holds_back(plan) for row in rows)
                assert told == back or (kind == "spend" and told), (seed, kind, plan)
    for counts in (seen, held):
        assert counts.keys() == {
            "males",
            "boxes",
            "tubs",
            "spend",
            "most_pairs",
            "sire_share",
            "max_kin",
        }
        for kind, found in counts.items():
            assert min(found.count(True), found.count(False)) >= 5, kind


@pytest.mark.parametrize("seed", range(150))
def test_facts_alone_pass_no_limit(seed: int) -> None:
    """Whatever a season limits, what has happened in it fits, so that there is a plan."""
    problem, rng = random_problem(seed), np.random.default_rng([seed, 3])
    first = {pair.dam: n for n, pair in enumerate(problem.candidates) if rng.random() < 0.5}
    facts = tuple(problem.candidates[n].pair for n in sorted(first.values()))
    season = replace(
        problem, must=facts, made=frozenset(facts), facts=frozenset(facts), must_breed=(), more=()
    )
    assert keeps_limits(season, sorted(first.values()))
