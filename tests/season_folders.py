"""Small season folders for tests, written file by file."""

from __future__ import annotations

from pathlib import Path

from brumal.records.faults import Fault, Severity
from brumal.records.read import read_season

ANIMALS = """id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,last_laid
F01,Frost,female,2021-06-10,,,Clown,1820,2026-11-01,3,breeder,2025-04-02
F02,Rime,female,2022-07-01,F01,M01,het Clown,1640,2026-11-01,3,breeder,
M01,Sleet,male,2020-07-01,,,Pastel,900,2026-11-01,3,breeder,
"""
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
"""


def season_folder(folder: Path, **files: str) -> Path:
    """Write a season folder; files are given by stem, those left out are plain and right."""
    texts = {"animals": ANIMALS, "season": SEASON, **files}
    for stem, text in texts.items():
        suffix = ".yaml" if stem in ("season", "genes") else ".csv"
        (folder / f"{stem}{suffix}").write_text(text, encoding="utf-8")
    return folder


def faults_in(folder: Path, **files: str) -> tuple[Fault, ...]:
    """Return the faults of a season folder with these files."""
    return read_season(season_folder(folder, **files))[1]


def told(faults: tuple[Fault, ...], severity: Severity | None = None) -> list[str]:
    """Return faults as text, those of one severity where asked."""
    return [str(fault) for fault in faults if severity in (None, fault.severity)]
