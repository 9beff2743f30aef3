"""Shared set-up: long checks and timed ratios run only when asked for by marker or by path."""

from __future__ import annotations

import pytest
from hypothesis import settings

# A busy machine is slow, not wrong: time is never a pass or fail.
settings.register_profile("house", deadline=None)
settings.load_profile("house")


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    """Time ratios in one process: helpers beside it would weigh on them."""
    asked = config.getoption("markexpr") or ""
    if "benchmark" in asked and "not benchmark" not in asked:
        config.option.numprocesses = 0


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    asked = config.getoption("markexpr") or ""
    for item in items:
        for marker in ("slow", "benchmark"):
            if marker in item.keywords and marker not in asked:
                item.add_marker(pytest.mark.skip(reason=f"run with `pytest -m {marker}`"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say loudly what was skipped because a program is missing."""
    for report in terminalreporter.getreports("skipped"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else ""
        if "NOT CHECKED" in reason:
            terminalreporter.write_line(f"{report.nodeid}: {reason}", red=True, bold=True)
