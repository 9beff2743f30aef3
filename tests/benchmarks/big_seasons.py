"""Invented seasons of any size, written as a keeper's folder: pedigree, morphs, wishes, limits."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import yaml

RECESSIVE = ("Clown", "Piebald", "Albino", "Desert Ghost", "Lavender Albino", "Genetic Stripe")
SHOWING = ("Pastel", "Enchi", "Mojave", "Yellow Belly", "Orange Dream", "Pinstripe")
GENES = (*RECESSIVE, *SHOWING)
"""Twelve loci; every gene stands at a locus of its own."""

WISHES = (
    ("Clown", 250), ("Pastel Clown", 380), ("Enchi Clown", 360), ("Mojave Clown", 370),
    ("Orange Dream Clown", 420), ("Piebald", 260), ("Pastel Piebald", 340),
    ("Mojave Piebald", 360), ("Enchi Piebald", 330), ("Albino", 150), ("Pastel Albino", 210),
    ("Desert Ghost", 240), ("Enchi Desert Ghost", 310), ("Lavender Albino", 260),
    ("Genetic Stripe", 140), ("Super Pastel", 90), ("Super Enchi", 110), ("Super Mojave", 160),
    ("Orange Dream Yellow Belly", 130), ("Pastel Enchi Mojave", 180),
)  # fmt: skip


def write_big_season(folder: Path, females: int, males: int, seed: int, ancestors: int = 2) -> None:
    """Write a season folder; ``ancestors`` times as many outside animals stand behind it."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    herd = _herd(rng, females, males, ancestors * (females + males) * 2 // 3)
    _write_animals(folder, herd)
    _write_season(folder, females, males)


def _herd(rng: np.random.Generator, females: int, males: int, outside: int) -> list[dict]:
    """Founders first, then three generations, the collection last; genes follow Mendel."""
    herd: list[dict] = []
    sizes = [outside // 2, outside // 4, outside - outside // 2 - outside // 4, females + males]
    before: list[dict] = []
    for generation, size in enumerate(sizes):
        last = generation == len(sizes) - 1
        made = []
        for number in range(size):
            female = number < females if last else number % 2 == 0
            dams = [a for a in before if a["female"]]
            sires = [a for a in before if not a["female"]]
            known = generation > 0 and rng.random() < 0.85
            dam = dams[rng.integers(len(dams))] if known else None
            sire = sires[rng.integers(len(sires))] if known and rng.random() < 0.9 else None
            made.append(
                {
                    "id": f"{'F' if female else 'M'}{len(herd) + number:04d}",
                    "female": female,
                    "generation": generation,
                    "dam": dam,
                    "sire": sire,
                    "genes": _genes(rng, dam, sire),
                    "outside": not last,
                    "weight": int(rng.integers(1450, 2800) if female else rng.integers(600, 1300)),
                }
            )
        herd += made
        before = made
    return herd


def _genes(rng: np.random.Generator, dam: dict | None, sire: dict | None) -> dict[str, int]:
    copies = {}
    for gene in GENES:
        passed = 0
        for parent in (dam, sire):
            if parent is None:
                passed += int(rng.random() < (0.12 if gene in RECESSIVE else 0.10))
            else:
                passed += int(rng.random() < parent["genes"][gene] / 2)
        copies[gene] = passed
    return copies


def _morph(animal: dict) -> str:
    words, hets = [], []
    for gene, copies in animal["genes"].items():
        if copies == 2:
            words.append(gene if gene in RECESSIVE else f"Super {gene}")
        elif copies == 1 and gene in RECESSIVE:
            hets.append(f"het {gene}")
        elif copies == 1:
            words.append(gene)
    return " ".join([*words, *hets]) or "Normal"


def _write_animals(folder: Path, herd: list[dict]) -> None:
    with (folder / "animals.csv").open("w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(
            ["id", "sex", "hatched", "dam", "sire", "morph", "weight_g", "condition", "status"]
        )
        for number, animal in enumerate(herd):
            hatched = date(2010 + 4 * animal["generation"], 6, 1) + timedelta(days=number % 60)
            writer.writerow(
                [
                    animal["id"],
                    "female" if animal["female"] else "male",
                    hatched.isoformat(),
                    animal["dam"]["id"] if animal["dam"] else "",
                    animal["sire"]["id"] if animal["sire"] else "",
                    _morph(animal),
                    animal["weight"],
                    3,
                    "outside" if animal["outside"] else "breeder",
                ]
            )


def _write_season(folder: Path, females: int, males: int) -> None:
    season = {
        "season": {"name": "Big", "pair_from": "2026-12-01", "pair_to": "2027-03-31"},
        "limits": {
            "boxes": max(2, females // 3),
            "tubs": max(12, females * 2),
            "pairings_per_male": 4,
        },
        "values": {
            "base": 30,
            "wanted": [
                {"morph": morph, "value": value}
                | ({"need": 3 + number % 6, "value_after": value // 3} if number % 4 == 0 else {})
                | ({"keep": {"count": 2, "sex": "female", "extra": 80}} if number % 7 == 1 else {})
                | ({"chance": 0.8} if number in (4, 10) else {})
                for number, (morph, value) in enumerate(WISHES)
            ],
            "extra": {
                "visual": {gene: 15 for gene in SHOWING},
                "het": {gene: 25 for gene in RECESSIVE},
            },
        },
        "costs": {"pairing": 5, "egg": 1, "hatchling": 12},
    }
    (folder / "season.yaml").write_text(yaml.safe_dump(season, sort_keys=False))
