"""Seasons drawn by a second process are those that would be drawn here."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from brumal.insight.aside import aside_for
from brumal.insight.simulate.seasons import simulate
from brumal.insight.solved import SolvedSeason, solve_season
from brumal.pipeline import prepare

DEMO = Path(__file__).parents[1] / "scenarios" / "demo"


@pytest.fixture(scope="module")
def demo() -> SolvedSeason:
    return solve_season(prepare(DEMO))


@pytest.fixture(autouse=True)
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)


def test_another_process_draws_the_same_seasons(demo: SolvedSeason) -> None:
    before = signal.getsignal(signal.SIGINT)
    with aside_for(demo.prepared, many=0) as aside:
        assert aside.pool is not None
        assert signal.getsignal(signal.SIGINT) is before
        drawn = aside.simulate(demo)()
    assert drawn == simulate(demo)


def test_a_forked_process_draws_the_same_seasons(demo: SolvedSeason) -> None:
    """HiGHS has solved here, but with one thread, which leaves no others behind."""
    with aside_for(demo.prepared, many=0, has_solved=False) as aside:
        drawn = aside.simulate(demo)()
    assert drawn == simulate(demo)


def test_a_process_that_is_lost_is_done_without(demo: SolvedSeason) -> None:
    with aside_for(demo.prepared, many=0) as aside:
        assert aside.pool is not None
        drawn = aside.simulate(demo)
        for process in aside.pool._processes.values():
            process.kill()
        assert drawn() == simulate(demo)
        assert aside.begin(os.getpid)() == os.getpid()


def test_a_small_season_and_a_single_core_need_no_process(
    demo: SolvedSeason, monkeypatch: pytest.MonkeyPatch
) -> None:
    with aside_for(demo.prepared) as aside:
        assert aside.pool is None
        assert aside.simulate(demo)() == simulate(demo)
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with aside_for(demo.prepared, many=0) as aside:
        assert aside.pool is None


def test_other_work_is_done_there_too(demo: SolvedSeason) -> None:
    with aside_for(demo.prepared, many=0) as aside:
        there = aside.begin(os.getpid)
        assert there() != os.getpid()
        assert aside.begin(sorted, (3, 1, 2))() == [1, 2, 3]
