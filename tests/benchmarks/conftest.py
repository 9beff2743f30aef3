"""What timed ratios share: seasons, built once a run, and one table of all figures at the end."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from benchmarks.big_seasons import possible_season

Season = Callable[[int, int, int], Path]
Tell = Callable[[str, str], None]
_FIGURES: list[tuple[str, str]] = []


@pytest.fixture(scope="session")
def season_of(tmp_path_factory: pytest.TempPathFactory) -> Season:
    """Return what builds the season of so many females and males with a seed, or gives it again."""
    built: dict[tuple[int, int, int], Path] = {}

    def season_of(females: int, males: int, seed: int) -> Path:
        key = (females, males, seed)
        if key not in built:
            folder = tmp_path_factory.mktemp("season") / "season"
            more = {"ancestors": 1000} if females == 500 else {}
            built[key] = possible_season(folder, females, males, seed=seed, **more)
        return built[key]

    return season_of


@pytest.fixture(scope="session")
def tell() -> Tell:
    """Return what prints a figure now, and again in the table at the end."""

    def tell(what: str, figure: str) -> None:
        print(f"\n{what}: {figure}")
        _FIGURES.append((what, figure))

    return tell


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print all figures told."""
    if _FIGURES:
        terminalreporter.section("figures")
    width = max((len(what) for what, _ in _FIGURES), default=0)
    for what, figure in _FIGURES:
        terminalreporter.write_line(f"{what:{width}}  {figure}")
