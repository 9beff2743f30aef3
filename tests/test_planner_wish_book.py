"""Laws worked out when asked for: the same as all at once, and no more of them than needed."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest

from brumal.pipeline import prepare
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.wishes.law_book import Entry, WishBook, work_out
from brumal.planner.wishes.laws import Served

DEMO = Path(__file__).parent.parent / "scenarios" / "demo"


def book(log: list[list[int]], pairs: int = 6) -> WishBook:
    def serve(numbers: list[int]) -> Served:
        log.append(list(numbers))
        return Served(
            [{0: np.array([[n]])} for n in numbers], [{1: np.array([n])} for n in numbers]
        )

    return WishBook(pairs, serve)


def entries(made: WishBook, pairs: int = 6) -> list[Candidate]:
    found = []
    for number in range(pairs):
        counts, none = made.entries(number)
        found.append(
            Candidate(
                dam=f"F{number}",
                sire="M",
                value=0,
                young=1,
                eggs=1,
                box_eggs=1,
                counts=counts,
                none=none,
            )
        )
    return found


def test_only_what_is_asked_for_is_worked_out_and_once() -> None:
    log: list[list[int]] = []
    candidates = entries(book(log))
    work_out(candidates[2:4])
    work_out(candidates[1:4])
    assert log == [[2, 3], [1]]
    assert candidates[2].counts[0].tolist() == [[2]]
    assert candidates[3].none[1].tolist() == [3]
    assert log == [[2, 3], [1]]


def test_reading_out_of_turn_works_out_all_that_is_left() -> None:
    log: list[list[int]] = []
    candidates = entries(book(log))
    work_out(candidates[:2])
    assert 0 in candidates[5].counts
    assert len(candidates[4].none) == 1
    assert log == [[0, 1], [2, 3, 4, 5]]


def test_what_is_known_needs_no_book() -> None:
    log: list[list[int]] = []
    made = book(log)
    made.open(range(6))
    assert all(type(candidate.counts) is dict for candidate in entries(made))


def test_a_pair_travels_without_its_book() -> None:
    log: list[list[int]] = []
    counts, _ = book(log).entries(3)
    assert isinstance(counts, Entry)
    copy = pickle.loads(pickle.dumps(counts))
    assert type(copy) is dict
    assert copy[0].tolist() == [[3]]


def test_laws_of_the_demo_are_the_same_by_parts_or_all_at_once() -> None:
    prepared = prepare(DEMO)
    at_once, later = (find_candidates(prepared).open for _ in range(2))
    work_out(at_once)
    assert isinstance(later[0].counts, Entry)
    work_out(later[::3])
    for one, other in zip(at_once, later, strict=True):
        assert (one.pair, one.worth, one.kept, one.means) == (
            other.pair,
            other.worth,
            other.kept,
            other.means,
        )
        assert one.counts.keys() == other.counts.keys() == one.means.keys()
        for term, law in one.counts.items():
            assert other.counts[term] == pytest.approx(law, abs=1e-14)
        for wish, chance in one.none.items():
            assert other.none[wish] == pytest.approx(chance, abs=1e-14)


def test_means_are_the_means_of_the_laws() -> None:
    found = find_candidates(prepare(DEMO))
    states = found.pricing.following.weights
    for candidate in found.open:
        for term, law in candidate.counts.items():
            weights = states.get(candidate.family_of_count(term), np.ones(1))
            assert weights.sum() == pytest.approx(1.0)
            mean = float(weights @ law @ np.arange(law.shape[1]))
            assert candidate.means is not None
            assert candidate.means[term] == pytest.approx(mean, abs=1e-12)
