"""Whole seasons, from the files to the plan, against a reckoning that shares no code with it.

The reckoning below reads nothing but the keeper's numbers: it walks over gametes gene by gene,
prices every young by the words of ``docs/files.md`` and tries every assignment of sires.
"""

from __future__ import annotations

import itertools
import random
from fractions import Fraction
from pathlib import Path

import pytest
import yaml

from brumal.pipeline import prepare
from brumal.planner.solver.answer import Verdict
from long_forms import thinned
from solved_seasons import best_plan

GENES = {
    "Pastel": "incomplete",
    "Mojave": "incomplete",
    "Clown": "recessive",
    "Piebald": "recessive",
}
FEMALES, MALES = 5, 2


class Invented:
    """One random season in plain Python."""

    def __init__(self, seed: int) -> None:
        draw = random.Random(seed)
        self.genes = {
            name: {gene: draw.choice([0, 0, 1, 2]) for gene in GENES}
            for name in [f"F{i}" for i in range(FEMALES)] + [f"M{i}" for i in range(MALES)]
        }
        self.weight = {f"F{i}": draw.choice([1400, 1500, 1800]) for i in range(FEMALES)}
        self.eggs = {f"F{i}": draw.choice([5, 6, 7]) for i in range(FEMALES)}
        self.limit = {f"M{i}": draw.choice([1, 2, 3]) for i in range(MALES)}
        self.boxes = draw.choice([1, 2, 3, 5])
        self.tubs = draw.choice([8, 15, 40])
        self.assume = {"goes": 0.8, "fertile": 0.9, "hatched": 0.95}
        self.costs = {"pairing": 5, "egg": 1, "hatchling": 12}
        self.base = 30
        self.wanted = [
            {"morph": "Clown", "value": draw.randint(100, 300)},
            {"morph": "Pastel Clown", "value": {"female": 420, "male": 350}},
            {"morph": "Super Pastel", "value": 110},
            {"morph": "Mojave het Piebald", "value": draw.randint(60, 200)},
        ]
        self.extra = {"visual": {"Pastel": 20}, "het": {"Clown": 60, "Piebald": 15}}
        self.never = [["F0", "M0"]] if draw.random() < 0.3 else []
        self.sit_out = ["F1"] if draw.random() < 0.3 else []
        self.must = [["F2", "M1"]] if draw.random() < 0.3 else []

    def write(self, folder: Path) -> None:
        rows = ["id,sex,hatched,morph,weight_g,condition,max_pairings,expected_eggs"]
        for name, copies in self.genes.items():
            words = []
            for gene, count in copies.items():
                recessive = GENES[gene] == "recessive"
                if count == 2:
                    words.append(gene if recessive else f"Super {gene}")
                elif count == 1:
                    words.append(f"het {gene}" if recessive else gene)
            words.sort(key=lambda word: word.startswith("het"))
            female = name.startswith("F")
            rows.append(
                f"{name},{'female' if female else 'male'},2021-06-01,{' '.join(words) or 'Normal'},"
                f"{self.weight[name] if female else 900},3,"
                f"{'' if female else self.limit[name]},{self.eggs[name] if female else ''}"
            )
        (folder / "animals.csv").write_text("\n".join(rows) + "\n")
        season = {
            "season": {"name": "Test", "pair_from": "2026-12-01", "pair_to": "2027-03-31"},
            "assume": self.assume,
            "limits": {"boxes": self.boxes, "weekly": False, "tubs": self.tubs, "max_F": 0.0625},
            "box": {"clutches": 2, "small_clutch": 6},
            "values": {"base": self.base, "wanted": self.wanted, "extra": self.extra},
            "costs": self.costs,
            "locks": {"must_pair": self.must, "never_pair": self.never, "sit_out": self.sit_out},
        }
        (folder / "season.yaml").write_text(yaml.safe_dump(season))

    def young(self, dam: str, sire: str) -> list[tuple[Fraction, dict[str, int], str]]:
        """Every young of a pair: its chance, copies by gene, and sex."""
        found = []
        for sex in ("female", "male"):
            options = []
            for gene in GENES:
                give = []
                for mother, father in itertools.product(range(2), range(2)):
                    copies = (mother < self.genes[dam][gene]) + (father < self.genes[sire][gene])
                    give.append((Fraction(1, 4), gene, copies))
                options.append(give)
            for combination in itertools.product(*options):
                chance = Fraction(1, 2)
                for part, _, _ in combination:
                    chance *= part
                found.append((chance, {gene: copies for _, gene, copies in combination}, sex))
        return found

    def worth(self, copies: dict[str, int], sex: str, white: list[dict[str, int]]) -> float:
        """What one young is worth; ``white`` are the genes of all white young of its parents.

        Two of Mojave make a white snake: its other genes are known only as far as all white young
        have them, and hets are sold by their chance.
        """

        def certain(gene: str, least: int) -> bool:
            hidden = copies["Mojave"] == 2 and gene != "Mojave"
            return all(young[gene] >= least for young in (white if hidden else [copies]))

        least = {gene: 2 if GENES[gene] == "recessive" else 1 for gene in GENES}
        shows = {gene for gene in GENES if certain(gene, least[gene])}
        carries = {g for g, n in copies.items() if n and least[g] == 2 and g not in shows}

        def extras(named: set[str]) -> float:
            visual = sum(v for g, v in self.extra["visual"].items() if g in shows - named)
            return visual + sum(v for g, v in self.extra["het"].items() if g in carries - named)

        asks = {
            "Clown": ({"Clown": 2}, {"Clown"}),
            "Pastel Clown": ({"Pastel": 1, "Clown": 2}, {"Pastel", "Clown"}),
            "Super Pastel": ({"Pastel": 2}, {"Pastel"}),
            "Mojave het Piebald": ({"Mojave": 1, "Piebald": 1}, {"Mojave", "Piebald"}),
        }
        totals = [self.base + extras(set())]
        for entry in self.wanted:
            needs, named = asks[entry["morph"]]
            if all(
                copies[gene] >= wanted
                if gene == "Piebald"  # asked for as a het
                else certain(gene, wanted)
                for gene, wanted in needs.items()
            ):
                value = entry["value"]
                totals.append((value[sex] if isinstance(value, dict) else value) + extras(named))
        return max(totals)

    def value(self, dam: str, sire: str) -> float:
        share = self.assume["goes"]
        hatch = self.eggs[dam] * self.assume["fertile"] * self.assume["hatched"]
        young = self.young(dam, sire)
        white = [copies for _, copies, _ in young if copies["Mojave"] == 2]
        mean = float(sum(p * Fraction(self.worth(c, s, white)) for p, c, s in young))
        return (
            share * hatch * mean
            - self.costs["pairing"]
            - self.costs["egg"] * share * self.eggs[dam]
            - self.costs["hatchling"] * share * hatch
        )

    def best(self) -> float | None:
        females = [f"F{i}" for i in range(FEMALES)]
        values = {(f, m): self.value(f, m) for f in females for m in self.limit}
        best = None
        for choice in itertools.product([None, *self.limit], repeat=FEMALES):
            plan = {f: m for f, m in zip(females, choice, strict=True) if m}
            if not self.allowed(plan):
                continue
            total = sum(values[pair] for pair in plan.items())
            best = total if best is None else max(best, total)
        return best

    def allowed(self, plan: dict[str, str]) -> bool:
        small = sum(self.eggs[f] <= 6 for f in plan)
        boxes = (small + 1) // 2 + sum(self.eggs[f] > 6 for f in plan)
        young = sum(self.eggs[f] * 0.8 * 0.9 * 0.95 for f in plan)
        return (
            all(self.weight[f] >= 1500 and f not in self.sit_out for f in plan)
            and all(list(plan.values()).count(m) <= self.limit[m] for m in self.limit)
            and all(plan.get(f) != m for f, m in self.never)
            and all(plan.get(f) == m for f, m in self.must)
            and boxes <= self.boxes
            and young <= self.tubs + 1e-9
        )


def agrees(seed: int, folder: Path) -> None:
    season = Invented(seed)
    season.write(folder)
    plan = best_plan(prepare(folder))
    best = season.best()
    if best is None:
        assert plan.verdict is Verdict.IMPOSSIBLE
        return
    assert plan.verdict is Verdict.PROVEN
    assert plan.objective == pytest.approx(best, abs=0.02)
    made = {pair.dam: pair.sire for pair in plan.pairs}
    assert season.allowed(made)
    for pair in plan.pairs:
        assert pair.value == pytest.approx(season.value(pair.dam, pair.sire), abs=1e-6)
        assert sum(outcome.chance for outcome in pair.outcomes) == pytest.approx(1.0)
        mean = sum(outcome.chance * outcome.value for outcome in pair.outcomes)
        costs = 5 + 0.8 * season.eggs[pair.dam] + 12 * pair.young
        assert pair.young * mean - costs == pytest.approx(pair.value, abs=1e-6)
    assert plan.objective == pytest.approx(sum(pair.value for pair in plan.pairs), abs=1e-6)


@pytest.mark.parametrize("seed", thinned(range(40), 2))
def test_the_plan_of_a_folder_equals_every_assignment_tried(seed: int, tmp_path: Path) -> None:
    agrees(seed, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(8))
def test_many_folders_equal_every_assignment_tried(block: int, tmp_path: Path) -> None:
    for seed in range(40 + block, 1040, 8):
        agrees(seed, tmp_path)
