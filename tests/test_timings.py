"""Where the time goes: parts are told apart, nested ones counted once."""

from __future__ import annotations

import time

import pytest

from brumal import timings
from brumal.timings import START, Spent, Timings, table, timed, timing


def busy(seconds: float) -> None:
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        pass


def test_an_inner_part_is_not_counted_for_the_outer_one() -> None:
    with timing("rest") as found, timed("outer"):
        busy(0.01)
        with timed("inner"):
            busy(0.03)
    assert list(found.parts) == [START, "rest", "outer", "inner"]
    assert found.parts["inner"].clock >= 0.03
    assert 0.01 <= found.parts["outer"].clock < found.parts["inner"].clock
    assert found.parts["rest"].clock < 0.01


def test_parts_of_one_name_add_up_and_survive_errors() -> None:
    @timed("work")
    def work(fails: bool) -> int:
        busy(0.01)
        if fails:
            raise ValueError
        return 7

    with timing("rest") as found:
        assert work(False) == 7
        with pytest.raises(ValueError):
            work(True)
    assert found.parts["work"].clock >= 0.02


def test_marks_outside_a_timed_run_do_nothing() -> None:
    with timed("work"):
        pass
    with timing("rest") as found:
        pass
    assert list(found.parts) == [START, "rest"]


def test_the_table_is_plain_and_sums_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timings, "peak_memory", lambda: 123.4)
    spent = {START: Spent(0.0, 0.5), "solving": Spent(2.0, 1.25), "writing": Spent(0.25, 0.25)}
    assert table(Timings(spent)) == (
        "Seconds      clock  computing\n"
        "starting         -       0.50\n"
        "solving       2.00       1.25\n"
        "writing       0.25       0.25\n"
        "in all        2.25       2.00\n"
        "Peak of memory: 123 MB"
    )


def test_memory_is_counted_or_left_out() -> None:
    memory = timings.peak_memory()
    assert memory is None or memory > 1
