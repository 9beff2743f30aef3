"""What routes cost, in multiples of the frozen yardstick.

Two recessives and two incomplete dominants over four seasons from the demo's collection.
"""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from benchmarks.yardstick import yardstick
from brumal.genetics.wishes import wish_of
from brumal.pipeline import prepare
from brumal.routes.find import Asked, find_routes
from brumal.routes.framing import start_of
from brumal.routes.genes import target_genes

MOST = 5.0
DEMO = Path(__file__).parents[2] / "scenarios" / "demo"


@pytest.mark.benchmark
def test_routes_of_four_genes_over_four_seasons() -> None:
    prepared = prepare(DEMO)
    wish, problems = wish_of("Pastel Enchi Clown Piebald", prepared.catalogue)
    assert wish is not None, problems
    before = yardstick()
    begun = time.perf_counter()
    start = start_of(prepared, target_genes(wish, prepared.catalogue))
    routes = find_routes(start, Asked(seasons=4, keep=3))
    seconds = time.perf_counter() - begun
    stick = (before + yardstick()) / 2
    assert routes
    print(
        f"\nroutes: {seconds / stick:.2f} yardsticks ({stick:.2f} s); {len(routes)} routes, the "
        f"likeliest {routes[0].final:.4f}"
    )
    assert seconds / stick <= MOST
