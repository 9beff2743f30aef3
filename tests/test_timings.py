"""Where the time goes: parts are told apart, nested ones counted once."""

from __future__ import annotations

import pytest

from brumal import timings
from brumal.timings import START, Spent, Timings, table, timed, timing


class Clock:
    """A clock that moves only when told to."""

    now = 100.0

    def perf_counter(self) -> float:
        return self.now

    def process_time(self) -> float:
        return self.now / 2


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(timings, "time", clock)
    return clock


def test_an_inner_part_is_not_counted_for_the_outer_one(clock: Clock) -> None:
    with timing("rest") as found:
        clock.now += 1
        with timed("outer"):
            clock.now += 10
            with timed("inner"):
                clock.now += 100
            clock.now += 20
        clock.now += 2
    assert found.parts == {
        START: Spent(0.0, 50.0),
        "rest": Spent(3.0, 1.5),
        "outer": Spent(30.0, 15.0),
        "inner": Spent(100.0, 50.0),
    }


def test_parts_of_one_name_add_up_and_survive_errors(clock: Clock) -> None:
    @timed("work")
    def work(fails: bool) -> int:
        clock.now += 4
        if fails:
            raise ValueError("no")
        return 7

    with timing("rest") as found:
        assert work(False) == 7
        with pytest.raises(ValueError, match="no"):
            work(True)
    assert found.parts["work"] == Spent(8.0, 4.0)


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
