"""The house stands as drawn: stages import only from stages before them, modules stay small."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "src" / "brumal"
STAGES = (
    "records",
    "genetics",
    "pedigree",
    "forecast",
    "rules",
    "pipeline",
    "planner",
    "insight",
    "report",
    "commands",
    "cli",
)
MODULES = sorted(HOUSE.rglob("*.py"))


def stage_of(path: Path) -> str | None:
    name = path.relative_to(HOUSE).parts[0].removesuffix(".py")
    return name if name in STAGES else None


def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.add(node.module)
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(HOUSE)))
def test_a_stage_imports_only_from_stages_before_it(path: Path) -> None:
    stage = stage_of(path)
    if stage is None:
        return
    for name in imports(path):
        parts = name.split(".")
        if parts[0] == "brumal" and len(parts) > 1 and parts[1] in STAGES:
            assert STAGES.index(parts[1]) <= STAGES.index(stage), f"{path.name} imports {name}"


def knowing(package: str) -> set[str]:
    return {
        str(path.relative_to(HOUSE))
        for path in MODULES
        if package in {name.split(".")[0] for name in imports(path)}
    }


def test_only_the_model_knows_how_a_season_is_modelled() -> None:
    assert knowing("pulp") == {"planner/model.py"}


def test_the_solver_is_known_to_the_model_and_to_what_keeps_it_warm() -> None:
    assert knowing("highspy") == {"planner/model.py", "planner/warm.py"}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(HOUSE)))
def test_a_module_is_read_in_one_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 420
