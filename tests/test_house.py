"""The house stands as drawn: stages import only from stages before them, modules stay small."""

from __future__ import annotations

import argparse
import ast
import importlib
from pathlib import Path

from brumal.cli import COMMANDS

HOUSE = Path(__file__).parent.parent / "src" / "brumal"
STAGES = (
    "records",
    "genetics",
    "importing",
    "pedigree",
    "forecast",
    "rules",
    "pipeline",
    "routes",
    "planner",
    "insight",
    "report",
    "page",
    "commands",
    "cli",
)
MODULES = {
    str(path.relative_to(HOUSE)): ast.parse(path.read_text(encoding="utf-8"))
    for path in sorted(HOUSE.rglob("*.py"))
}


def stage_of(module: str) -> str | None:
    name = Path(module).parts[0].removesuffix(".py")
    return name if name in STAGES else None


def imports(tree: ast.Module) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.add(node.module)
    return found


def knowing(package: str) -> set[str]:
    return {
        module
        for module, tree in MODULES.items()
        if package in {name.split(".")[0] for name in imports(tree)}
    }


def test_a_stage_imports_only_from_stages_before_it() -> None:
    assert len(MODULES) > 100
    backwards = [
        f"{module} imports {name}"
        for module, tree in MODULES.items()
        for name in sorted(imports(tree))
        for stage in [stage_of(module)]
        for parts in [name.split(".")]
        if stage is not None and parts[0] == "brumal" and len(parts) > 1 and parts[1] in STAGES
        if STAGES.index(parts[1]) > STAGES.index(stage)
    ]
    assert not backwards


def test_only_the_model_knows_how_a_season_is_modelled() -> None:
    assert knowing("pulp") == {"planner/solver/model.py"}


def test_only_one_module_knows_the_solver_that_runs_in_this_process() -> None:
    assert knowing("highspy") == {"planner/solver/highs.py"}


def test_a_module_is_read_in_one_sitting() -> None:
    lines = {
        module: len((HOUSE / module).read_text(encoding="utf-8").splitlines()) for module in MODULES
    }
    assert not {module: count for module, count in lines.items() if count > 400}


def test_the_help_of_every_command_says_what_it_does() -> None:
    parsers = argparse.ArgumentParser().add_subparsers()
    for name in COMMANDS:
        importlib.import_module(f"brumal.commands.{name.replace('import', 'import_')}").add_parser(
            parsers
        )
        parser = parsers.choices[name]
        assert parser.description, name
        assert all(len(line) <= 80 for line in parser.format_help().splitlines())
