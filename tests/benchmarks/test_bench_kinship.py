"""Kinship against sgkit, warm, on the same matrices in the same run.

Both ways are timed turn about and the best of several rounds counts, so that other work on the
machine weighs on both. Building the pedigree from records is timed apart: sgkit starts from arrays
of places. "Collection" is a herd in clutches, whose rows stand in any order, as in a keeper's
table; "random" has no full siblings, and rows from the oldest to the youngest: sgkit's best case.
"""

from __future__ import annotations

import math
import time
import tracemalloc
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import xarray as xr

from brumal.pedigree.graph import Pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.records.animals import Animal
from pedigrees_for_tests import random_animals, sound

pytestmark = pytest.mark.benchmark

ROUNDS = 7
SIZES = (1000, 5000, 10_000)


def drawn(kind: str, count: int) -> list[Animal]:
    rng = np.random.default_rng(count)
    if kind == "random":
        return random_animals(count, count // 20, rng, window=count // 8, unknown=0.05)
    herd = random_animals(
        count, count // 20, rng, window=count // 4, unknown=0.05, clutch=(4, 8)
    )  # fmt: skip
    return herd if kind == "collection, sorted" else [herd[at] for at in rng.permutation(count)]


def for_sgkit(animals: list[Animal]) -> xr.Dataset:
    places = {one.id: at for at, one in enumerate(animals)}
    parents = [[places.get(p or "", -1) for p in (one.dam, one.sire)] for one in animals]
    return xr.Dataset({"parent": (["samples", "parents"], np.array(parents))})


def by_sgkit(data: xr.Dataset) -> np.ndarray:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import sgkit

        result = sgkit.pedigree_kinship(data, method="diploid", allow_half_founders=True)
    return np.asarray(result["stat_pedigree_kinship"].values)


@pytest.fixture(scope="module", autouse=True)
def warm() -> None:
    by_sgkit(for_sgkit(drawn("random", 100)))
    kinship_block(sound(drawn("random", 100)))


def best_of(*ways: Callable[[], Any]) -> list[float]:
    """Return the best time of each way in seconds, timed turn about."""
    best = [math.inf] * len(ways)
    for _ in range(ROUNDS):
        for at, way in enumerate(ways):
            start = time.perf_counter()
            way()
            best[at] = min(best[at], time.perf_counter() - start)
    return best


def peak(way: Callable[[], Any]) -> int:
    """Return the most bytes held at once."""
    tracemalloc.start()
    way()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most


def assert_equal(pedigree: Pedigree, animals: list[Animal], data: xr.Dataset) -> None:
    names = [one.id for one in animals]
    assert np.abs(kinship_block(pedigree, names).matrix - by_sgkit(data)).max() < 1e-14


@pytest.mark.parametrize("kind", ["collection", "collection, sorted", "random"])
def test_whole_matrix(kind: str) -> None:
    times = {}
    for count in SIZES:
        animals = drawn(kind, count)
        start = time.perf_counter()
        pedigree = sound(animals)
        built = time.perf_counter() - start
        data = for_sgkit(animals)
        if count < 10_000:
            assert_equal(pedigree, animals, data)
        ours, theirs = best_of(lambda p=pedigree: kinship_block(p), lambda d=data: by_sgkit(d))
        times[count] = ours, theirs
        held = peak(lambda p=pedigree: kinship_block(p)) / (8 * count**2)
        print(
            f"\n{kind}, {count:>6} animals: {ours * 1e3:7.1f} ms, sgkit {theirs * 1e3:7.1f} ms, "
            f"ratio {ours / theirs:.2f}; memory {held:.2f} of the matrix; "
            f"pedigree from records {built * 1e3:.0f} ms"
        )
    for at, who in enumerate(("brumal", "sgkit")):
        growth = math.log(times[10_000][at] / times[1000][at], 10)
        print(f"{kind}, growth from 1,000 to 10,000, {who}: n^{growth:.2f}")
    if kind == "collection":
        ours, theirs = times[5000]
        assert ours <= theirs / 3


@pytest.mark.parametrize("kind", ["collection", "random"])
def test_block_of_600_among_10000(kind: str) -> None:
    animals = drawn(kind, 10_000)
    pedigree = sound(animals)
    youngest = sorted(one.id for one in animals)[-600:]
    kept = set(youngest)
    for one in sorted(animals, key=lambda animal: animal.id, reverse=True):
        if one.id in kept:
            kept |= {parent for parent in (one.dam, one.sire) if parent}
    forebears = [one for one in animals if one.id in kept]
    whole, cut = for_sgkit(animals), for_sgkit(forebears)
    ours, theirs, theirs_cut = best_of(
        lambda: kinship_block(pedigree, youngest), lambda: by_sgkit(whole), lambda: by_sgkit(cut)
    )
    places = {one.id: at for at, one in enumerate(forebears)}
    rows = [places[name] for name in youngest]
    found = kinship_block(pedigree, youngest).matrix
    assert np.abs(found - by_sgkit(cut)[np.ix_(rows, rows)]).max() < 1e-14
    held = peak(lambda: kinship_block(pedigree, youngest)) / 2**20
    print(
        f"\n{kind}, 600 of 10,000 ({len(forebears)} with their ancestors): {ours * 1e3:.0f} ms, "
        f"{held:.0f} MB; sgkit whole {theirs * 1e3:.0f} ms (ratio {ours / theirs:.2f}), its own "
        f"ancestors only {theirs_cut * 1e3:.0f} ms (ratio {ours / theirs_cut:.2f})"
    )
