"""Invented season folders of any size: pedigree, morphs that breed true, weights, wishes, limits.

Genes are dropped down an invented pedigree, so that every morph written agrees with its parents;
some hets are left out of the notation, as keepers leave them, so that genotypes stay uncertain.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import yaml

from brumal.pipeline import prepare
from brumal.planner.season import solve_season
from brumal.planner.solver.answer import SolveOptions, Verdict

RECESSIVE = ("Clown", "Piebald", "Albino", "Desert Ghost", "Ghost")
ONE_COPY = ("Pastel", "Enchi", "Mojave", "Yellow Belly", "Orange Dream", "Fire", "Leopard")
GENES = tuple(gene for two in zip(ONE_COPY, (*RECESSIVE, "", ""), strict=True) for gene in two)
SEASON_FROM = date(2026, 12, 1)
WEIGHED = (date(2026, 8, 16), date(2026, 9, 13), date(2026, 10, 11), date(2026, 11, 8))


@dataclass(slots=True)
class _Snake:
    id: str
    female: bool
    hatched: date
    dam: _Snake | None
    sire: _Snake | None
    copies: dict[str, tuple[int, int]]
    inside: bool
    laid: list[date] = field(default_factory=list)


def big_season(
    folder: Path,
    females: int = 200,
    males: int = 40,
    *,
    ancestors: int | None = None,
    loci: int = 12,
    wishes: int = 20,
    seed: int = 1,
) -> Path:
    """Write a season folder and return it: the same bytes for the same figures.

    ``ancestors`` are animals outside the collection (left out: one and a half for each animal in
    it), ``loci`` at most 12, ``wishes`` wanted entries: some with a need, a holdback or a chance.
    """
    rng = np.random.default_rng([seed, females, males])
    genes = [gene for gene in GENES if gene][:loci]
    outside = ancestors if ancestors is not None else round(1.5 * (females + males))
    snakes = _collection(rng, genes, outside, females, males)
    inside = [snake for snake in snakes if snake.inside]
    clutches = _clutches(rng, inside)
    folder.mkdir(parents=True, exist_ok=True)
    _table(folder / "animals.csv", [_animal(rng, snake, genes) for snake in snakes])
    _table(folder / "weights.csv", [row for snake in inside for row in _weights(rng, snake)])
    _table(folder / "clutches.csv", clutches)
    season = _season(rng, genes, females, wishes)
    text = yaml.safe_dump(season, sort_keys=False, allow_unicode=True)
    (folder / "season.yaml").write_text(text, encoding="utf-8")
    return folder


def _collection(
    rng: np.random.Generator, genes: Sequence[str], outside: int, females: int, males: int
) -> list[_Snake]:
    """Return ancestors, then the collection, parents before their young."""
    sexes = [bool(n % 3) for n in range(outside)]
    sexes += [bool(female) for female in rng.permutation([1] * females + [0] * males)]
    counts = {True: 0, False: 0}
    snakes: list[_Snake] = []
    for number, female in enumerate(sexes):
        inside = number >= outside
        if inside:
            counts[female] += 1
        name = f"{'F' if female else 'M'}{counts[female]:04d}" if inside else f"A{number:04d}"
        share = (number - outside) / (females + males) if inside else number / max(outside, 1)
        first, years = (2015, 9) if inside else (2004, 10)
        hatched = date(first, 6, 1) + timedelta(days=int(share * 365 * years + rng.integers(0, 60)))
        dam, sire = _parents(rng, snakes, hatched)
        copies = {gene: _inherited(rng, gene, dam, sire) for gene in genes}
        snakes.append(_Snake(name, female, hatched, dam, sire, copies, inside))
    return snakes


def _parents(
    rng: np.random.Generator, snakes: Sequence[_Snake], hatched: date
) -> tuple[_Snake | None, _Snake | None]:
    """Choose parents of the right age, the last hundreds only; one in four is a founder."""
    old = hatched - timedelta(days=3 * 365)
    grown = [snake for snake in snakes if snake.hatched <= old][-240:]
    dams = [snake for snake in grown if snake.female]
    sires = [snake for snake in grown if not snake.female][-30:]
    if not dams or not sires or rng.random() < 0.25:
        return None, None
    dam, sire = dams[rng.integers(len(dams))], sires[rng.integers(len(sires))]
    return (None if rng.random() < 0.1 else dam), sire


def _inherited(
    rng: np.random.Generator, gene: str, dam: _Snake | None, sire: _Snake | None
) -> tuple[int, int]:
    carried = 0.1 if gene in RECESSIVE else 0.09
    if dam is None and sire is None:
        return int(rng.random() < carried), int(rng.random() < carried)

    def gamete(parent: _Snake | None) -> int:
        # The unknown parent of a half-known animal is wild type, which its young can never refute.
        return 0 if parent is None else parent.copies[gene][int(rng.integers(2))]

    return gamete(dam), gamete(sire)


def _morph(rng: np.random.Generator, snake: _Snake, genes: Sequence[str]) -> str:
    words: list[str] = []
    hets: list[str] = []
    for gene in genes:
        copies = sum(snake.copies[gene])
        if gene in RECESSIVE:
            known = (snake.dam is None and snake.sire is None) or rng.random() < 0.85
            words += [gene] if copies == 2 else []
            hets += [f"het {gene}"] if copies == 1 and known else []
        elif copies:
            words.append(gene if copies == 1 else f"Super {gene}")
    return " ".join([*words, *hets]) or "Normal"


def _animal(rng: np.random.Generator, snake: _Snake, genes: Sequence[str]) -> Mapping[str, object]:
    condition = (2.5, 3, 3, 3.5, 4, 1.5)[rng.choice(6, p=(0.15, 0.4, 0.2, 0.15, 0.07, 0.03))]
    return {
        "id": snake.id,
        "sex": "female" if snake.female else "male",
        "hatched": snake.hatched,
        "dam": snake.dam.id if snake.dam else "",
        "sire": snake.sire.id if snake.sire else "",
        "morph": _morph(rng, snake, genes),
        "condition": condition if snake.inside else "",
        "status": "breeder" if snake.inside else "outside",
        "last_laid": snake.laid[-1] if snake.laid else "",
    }


def _clutches(rng: np.random.Generator, inside: Sequence[_Snake]) -> list[Mapping[str, object]]:
    sires = [snake for snake in inside if not snake.female]
    rows = []
    for snake in inside:
        for year in (2025, 2026):
            grown = snake.hatched <= date(year - 3, 3, 1)
            if not snake.female or not grown or rng.random() > 0.45:
                continue
            laid = date(year, 4, 1) + timedelta(days=int(rng.integers(0, 50)))
            snake.laid.append(laid)
            eggs = int(rng.integers(4, 11))
            slugs = int(rng.binomial(eggs, 0.08))
            rows.append(
                {
                    "dam": snake.id,
                    "sire": sires[rng.integers(len(sires))].id,
                    "laid": laid,
                    "eggs": eggs,
                    "slugs": slugs,
                    "hatched": int(rng.binomial(eggs - slugs, 0.92)),
                }
            )
    return rows


def _weights(rng: np.random.Generator, snake: _Snake) -> Iterable[Mapping[str, object]]:
    years = (SEASON_FROM - snake.hatched).days / 365
    grown = 2000.0 if snake.female else 1100.0
    level = grown * min(1.0, 0.3 + 0.2 * years) * float(rng.normal(1.0, 0.13))
    for laid in snake.laid:
        before = laid - timedelta(days=120)
        yield {"animal": snake.id, "date": before, "grams": round(level * 1.02)}
        yield {"animal": snake.id, "date": laid + timedelta(days=3), "grams": round(level * 0.66)}
    gain = float(rng.normal(0.8, 0.4))
    for day in WEIGHED:
        weight = level + gain * (day - WEIGHED[-1]).days + float(rng.normal(0, 12))
        yield {"animal": snake.id, "date": day, "grams": round(weight)}


def _season(
    rng: np.random.Generator, genes: Sequence[str], females: int, wishes: int
) -> Mapping[str, object]:
    return {
        "season": {"name": "Invented", "pair_from": SEASON_FROM, "pair_to": date(2027, 3, 31)},
        "currency": "EUR",
        "limits": {
            "boxes": max(1, round(0.25 * females)),
            "tubs": max(6, round(1.25 * females)),
            "pairings_per_male": 4,
            "max_F": 0.0625,
        },
        "values": {
            "base": 30,
            "wanted": _wanted(rng, genes, females, wishes),
            "extra": {
                "visual": {gene: int(rng.integers(5, 40)) for gene in genes if gene in ONE_COPY},
                "het": {gene: int(rng.integers(10, 60)) for gene in genes if gene in RECESSIVE},
            },
        },
        "costs": {"pairing": 5, "egg": 2, "hatchling": 14},
    }


def _wanted(
    rng: np.random.Generator, genes: Sequence[str], females: int, wishes: int
) -> list[Mapping[str, object]]:
    """Return the price list: single genes and pairs of genes; every third has a wish on top."""
    single = [[gene] for gene in genes]
    double = [[a, b] for a in genes if a in ONE_COPY for b in genes if b in RECESSIVE]
    named = [*single, *(double[n] for n in rng.permutation(len(double)))][:wishes]
    wanted: list[Mapping[str, object]] = []
    for number, both in enumerate(named):
        value = 60 * len(both) + 120 * sum(gene in RECESSIVE for gene in both)
        entry: dict[str, object] = {
            "morph": " ".join(both),
            "value": value + int(rng.integers(0, 80)),
        }
        if number % 3 == 0:
            need = max(1, females // 40)
            entry |= {"need": need, "value_after": value // 2}
        elif number % 6 == 1:
            entry["keep"] = {"count": 2, "sex": "female", "extra": 120}
        elif number % 6 == 4:
            entry["chance"] = 0.5
        wanted.append(entry)
    return wanted


def _table(path: Path, rows: Sequence[Mapping[str, object]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]) if rows else ["id"], lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def possible_season(folder: Path, females: int, males: int, **options: int) -> Path:
    """Write a season that asks for no chance that cannot be had, and tell which were taken out."""
    big_season(folder, females, males, **options)
    path = folder / "season.yaml"
    settings = yaml.safe_load(path.read_text(encoding="utf-8"))
    wanted = settings["values"]["wanted"]
    any_plan = SolveOptions(gap=1e12, work=0)
    while solve_season(prepare(folder), any_plan).solution.verdict is Verdict.IMPOSSIBLE:
        last = max(place for place, entry in enumerate(wanted) if "chance" in entry)
        chance = wanted[last].pop("chance")
        print(f"{females} x {males}: {wanted[last]['morph']} cannot be had with {chance:.0%}")
        path.write_text(yaml.safe_dump(settings, sort_keys=False), encoding="utf-8")
    return folder
