"""One frozen piece of work that timed ratios are told against, whatever the code comes to.

It is the bare model of a season of 500 females and 100 males, stated in PuLP and solved by HiGHS
to a gap of 0.1 %: one binary a pair with a ready worth, the rows of females, males, boxes and tubs.
Its numbers are stored in ``yardstick.npz``, as they were when it was made: they are those of an
invented season (``big_seasons.py``, 1,000 ancestors) and change no more, whatever brumal does.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

NUMBERS = Path(__file__).with_name("yardstick.npz")


def bare_model() -> dict[str, float]:
    """Build and solve the model; return the pairs and the seconds of building and solving."""
    import numpy as np
    import pulp

    ready = np.load(NUMBERS)
    dams, sires = ready["dam"].tolist(), ready["sire"].tolist()
    worth, young, boxes = (ready[name].tolist() for name in ("worth", "young", "boxes"))
    limits, room, tubs = ready["limits"].tolist(), int(ready["room"]), int(ready["tubs"])
    start = time.perf_counter()
    lp = pulp.LpProblem("bare", pulp.LpMaximize)
    pairs = [lp.add_variable(f"x{n}", cat=pulp.LpBinary) for n in range(len(worth))]
    lp.setObjective(pulp.LpAffineExpression(list(zip(pairs, worth, strict=True))))
    by_dam: dict[int, list[tuple[object, float]]] = {}
    by_sire: dict[int, list[tuple[object, float]]] = {}
    for pair, dam, sire in zip(pairs, dams, sires, strict=True):
        by_dam.setdefault(dam, []).append((pair, 1.0))
        by_sire.setdefault(sire, []).append((pair, 1.0))
    for terms in by_dam.values():
        lp.addConstraint(pulp.LpAffineExpression(terms) <= 1)
    for sire, terms in by_sire.items():
        lp.addConstraint(pulp.LpAffineExpression(terms) <= limits[sire])
    lp.addConstraint(pulp.LpAffineExpression(list(zip(pairs, boxes, strict=True))) <= room)
    lp.addConstraint(pulp.LpAffineExpression(list(zip(pairs, young, strict=True))) <= tubs)
    built = time.perf_counter()
    lp.solve(pulp.HiGHS(msg=False, gapRel=0.001, threads=1))
    solved = time.perf_counter()
    return {"pairs": len(pairs), "building": built - start, "solving": solved - built}


def yardstick() -> float:
    """Return the seconds that the frozen work takes in a process of its own, now."""
    done = subprocess.run(
        [sys.executable, __file__], capture_output=True, text=True, check=True
    ).stdout
    told = json.loads(done)
    return float(told["building"] + told["solving"])


if __name__ == "__main__":
    print(json.dumps(bare_model()))
