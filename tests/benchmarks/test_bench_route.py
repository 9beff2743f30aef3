"""What routes cost, as a multiple of one plan of the same season, both on one core.

Two recessives and two incomplete dominants over four seasons from the demo's collection.
"""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from brumal.genetics.wishes import wish_of
from brumal.pipeline import prepare
from brumal.planner.season import plan_season
from brumal.routes.find import Asked, find_routes
from brumal.routes.framing import start_of
from brumal.routes.genes import target_genes

DEMO = Path(__file__).parents[2] / "scenarios" / "demo"


@pytest.mark.benchmark
def test_routes_of_four_genes_over_four_seasons() -> None:
    prepared = prepare(DEMO)
    wish, problems = wish_of("Pastel Enchi Clown Piebald", prepared.catalogue)
    assert wish is not None, problems
    begun = time.process_time()
    plan_season(prepared)
    planned = time.process_time()
    start = start_of(prepared, target_genes(wish, prepared.catalogue))
    routes = find_routes(start, Asked(seasons=4, keep=3))
    done = time.process_time()
    assert routes
    print(
        f"\nroutes: {done - planned:.1f} s of one core, {(done - planned) / (planned - begun):.1f} "
        f"times one plan; {len(routes)} routes, the likeliest {routes[0].final:.4f}"
    )
