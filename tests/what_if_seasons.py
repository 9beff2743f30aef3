"""An invented season for tests of what-ifs, as files and with changes written in by hand."""

from __future__ import annotations

import re
from pathlib import Path

from brumal.pipeline import prepare
from brumal.planner.plan import Plan
from brumal.planner.solver.answer import EXACT, SolveOptions
from brumal.records.folder import SeasonRecords
from brumal.records.read import read_season
from solved_seasons import best_plan

FILES = {
    "animals.csv": """id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,\
max_pairings,expected_eggs,arrived
F1,Thaw,female,2020-07-10,,,Clown,1900,2026-11-15,3,breeder,,6,2024-03-02
F2,Dew,female,2021-07-05,,M2,het Clown,1650,2026-11-15,3,breeder,,7,2024-03-02
F3,Hoarfrost,female,2021-08-01,,M1,Pastel het Clown,1600,2026-11-15,3,breeder,,6,2024-03-02
F4,Ember,female,2021-06-20,,,Clown,1450,2026-11-15,3,breeder,,6,2024-03-02
F5,Moss,female,2021-07-22,,,Mojave,1700,2026-11-15,3,breeder,,8,2024-03-02
F6,Fern,female,2020-07-02,,,66% het Clown,1800,2026-11-15,3,breeder,,5,2024-03-02
M1,Hail,male,2019-06-30,,,Pastel Clown,900,2026-11-15,3,breeder,1,,2024-03-02
M2,Dusk,male,2019-08-12,,,Mojave 66% het Clown,950,2026-11-15,3,breeder,2,,2024-03-02
M3,Loam,male,2019-08-20,,,Clown,980,2026-11-15,3,outside,1,,
""",
    "weights.csv": """animal,date,grams
F2,2026-10-01,1600
F2,2026-11-16,1655
""",
    "season.yaml": """season: {name: What if, pair_from: 2026-12-01, pair_to: 2027-03-31}
currency: EUR
assume: {goes: 0.8, fertile: 0.8, hatched: 0.75}
limits: {boxes: 2, weekly: false, tubs: 10, max_F: 0.0625}
values:
  base: 20
  wanted:
    - {morph: Clown, value: 120, need: 3, value_after: 60}
    - {morph: Pastel Clown, value: 200}
    - {morph: Super Mojave, value: 120, chance: 0.1}
  extra: {visual: {Pastel: 10, Mojave: 20}, het: {Clown: 10}}
costs: {pairing: 5, egg: 1, hatchling: 10}
""",
}

OVERLAYS = {
    "boxes": "limits: {boxes: 3}",
    "buy": "animals:\n  M9: {sex: male, morph: Super Mojave Clown, hatched: 2020-07-01, "
    "weight_g: 900, weighed: 2026-11-15, condition: 3, max_pairings: 2, "
    "arrived: 2026-08-20, paid: 100}\n",
    "borrow": "animals: {M3: {status: loan, arrived: 2026-08-20, paid: 40}}",
    "cheap": "values: {wanted: {Clown: {value: 80}}}",
    "drop": "values: {wanted: {Super Mojave: drop}}",
    "heavy": "animals: {F4: {weight_g: +60}, F2: {weight_g: 1300}}",
    "morph": "animals: {M2: {morph: Mojave het Clown}}",
    "sell": "animals: {M1: {status: outside, received: 150}}",
    "kin": "limits: {max_F: 0.25}",
    "sit": "locks: {sit_out: [F1]}",
    "bad": "risk: {weight: 0.5, seasons: 200}",
    "rule": "rules: {female_weight_g: 1400}",
    "chain": "extends: [boxes, cheap]\nlocks: {sit_out: [F2]}",
}
"""Every kind of change, by name."""

BY_HAND = {
    "boxes": ("season.yaml", "boxes: 2", "boxes: 3"),
    "buy": (
        "animals.csv",
        r"\Z",
        "M9,,male,2020-07-01,,,Super Mojave Clown,900,2026-11-15,3,breeder,2,,2026-08-20\n",
    ),
    "borrow": ("animals.csv", "3,outside,1,,", "3,loan,1,,2026-08-20"),
    "cheap": ("season.yaml", "Clown, value: 120", "Clown, value: 80"),
    "drop": ("season.yaml", r"    - {morph: Super Mojave.*\n", ""),
    "heavy": ("animals.csv", "1450", "1510"),
    "morph": ("animals.csv", "Mojave 66% het Clown", "Mojave het Clown"),
    "sell": ("animals.csv", "3,breeder,1,", "3,outside,1,"),
    "kin": ("season.yaml", "max_F: 0.0625", "max_F: 0.25"),
    "sit": ("season.yaml", "costs:", "locks: {sit_out: [F1]}\ncosts:"),
    "bad": ("season.yaml", "costs:", "risk: {weight: 0.5, seasons: 200}\ncosts:"),
    "rule": ("season.yaml", "costs:", "rules: {female_weight_g: 1400}\ncosts:"),
    "chain": ("season.yaml", "costs:", "locks: {sit_out: [F2]}\ncosts:"),
}
"""The same changes as a pattern to look for in a file and what to write there."""

EXTENDS = {"chain": ("boxes", "cheap")}
MORE_BY_HAND = {"heavy": ("weights.csv", "F2,2026-11-16,1655", "F2,2026-11-16,1300")}


def write_season(folder: Path, what_if: dict[str, str] | None = None) -> Path:
    """Write the season with overlays (all of them unless told otherwise)."""
    (folder / "what-if").mkdir(parents=True, exist_ok=True)
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    for name, text in (OVERLAYS if what_if is None else what_if).items():
        (folder / "what-if" / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder


def season(folder: Path, what_if: dict[str, str] | None = None) -> SeasonRecords:
    """Return the season's records."""
    records, _ = read_season(write_season(folder, what_if))
    assert records is not None
    return records


def by_hand(folder: Path, *names: str, options: SolveOptions = EXACT) -> Plan:
    """Write the season with changes put in by hand, and plan it from its files alone."""
    write_season(folder, {})
    for name in (each for last in names for each in (*EXTENDS.get(last, ()), last)):
        for where in (BY_HAND, MORE_BY_HAND):
            if name in where:
                file, old, new = where[name]
                put(folder / file, old, new)
    return best_plan(prepare(folder), options)


def put(path: Path, old: str, new: str) -> None:
    """Put ``new`` in the place of the one match of ``old``."""
    text, count = re.subn(old, new, path.read_text(encoding="utf-8"))
    assert count == 1, (path.name, old)
    path.write_text(text, encoding="utf-8")
