"""Workers: forked or spawned they give the same answers, and one that dies is told of."""

from __future__ import annotations

import os
import signal
import time

import pytest

from brumal.insight.compare import parallel
from brumal.insight.compare.columns import Answer
from brumal.insight.compare.parallel import Bench, Question
from brumal.planner.solver.answer import SolveOptions
from brumal.records.folder import SeasonRecords
from brumal.records.overlays import overlays_of
from brumal.records.variant import variant_of
from what_if_seasons import season


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> SeasonRecords:
    return season(tmp_path_factory.mktemp("season"))


def questions(records: SeasonRecords) -> list[Question]:
    found = []
    for name in ("boxes", "cheap", "sell", "sit"):
        variant = variant_of(records, overlays_of(records), [name])
        assert variant.records is not None
        found.append(Question(name=name, records=variant.records, whole=False))
    return found


def test_forked_and_spawned_workers_answer_alike(records: SeasonRecords) -> None:
    answers = []
    for forks in (True, False):
        bench = Bench(base=records, options=SolveOptions(), workers=2, _may_fork=forks)
        with bench:
            answers.append(bench.ask(questions(records)))
    assert answers[0] == answers[1]
    assert all(isinstance(each, Answer) for each in answers[0])


def test_a_worker_that_dies_is_told_and_the_next_round_is_answered(
    records: SeasonRecords, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not Bench(base=records, options=SolveOptions())._may_fork:
        pytest.skip("only a forked worker can be made to die here")
    monkeypatch.setattr(parallel, "_reply", lambda *_: os._exit(1))
    with Bench(base=records, options=SolveOptions(), workers=2) as bench:
        replies = bench.ask(questions(records))
        told = {str(fault) for reply in replies if isinstance(reply, tuple) for fault in reply}
        assert len(told) == 1
        assert "found a worker that ended without an answer" in told.pop()
        monkeypatch.undo()
        assert all(isinstance(each, Answer) for each in bench.ask(questions(records)))


def test_workers_are_ended_when_nobody_waits_for_them(
    records: SeasonRecords, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not Bench(base=records, options=SolveOptions())._may_fork:
        pytest.skip("only a forked worker can be made to sleep here")
    monkeypatch.setattr(parallel, "_reply", lambda *_: time.sleep(600))

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGALRM, interrupt)
    start = time.monotonic()
    try:
        with (
            pytest.raises(KeyboardInterrupt),
            Bench(base=records, options=SolveOptions(), workers=2) as bench,
        ):
            signal.setitimer(signal.ITIMER_REAL, 5.0)
            bench.ask(questions(records))
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    assert time.monotonic() - start < 300


def test_progress_counts_every_answer(records: SeasonRecords) -> None:
    told: list[tuple[int, int]] = []
    asked = questions(records)
    with Bench(
        base=records,
        options=SolveOptions(),
        workers=2,
        told=lambda done, total, _: told.append((done, total)),
    ) as bench:
        bench.ask(asked)
    assert told == [(number, len(asked)) for number in range(1, len(asked) + 1)]
