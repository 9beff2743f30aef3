"""The pedigree graph: order, ancestors known by name only, independence of row order."""

from __future__ import annotations

import random

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from brumal.pedigree.graph import FounderFacts, build_pedigree
from brumal.records.animals import Animal, Sex
from pedigrees_for_tests import animals_of, herds, pedigree_of


def test_parents_stand_before_their_young_and_founders_first() -> None:
    pedigree = pedigree_of("7:5,6 5:3,4 6:1,4 3:1,2 4:1,0 1:0,0 2:0,0")
    places = {name: at for at, name in enumerate(pedigree.ids)}
    assert pedigree.ids[:2] == ("1", "2")
    assert all(
        places[parent] < places[young]
        for parent in pedigree.young
        for young in pedigree.young[parent]
    )
    assert pedigree.parents("4") == (None, "1")
    assert dict(zip(pedigree.ids, pedigree.step.tolist(), strict=True)) == {
        "1": 0, "2": 0, "3": 1, "4": 1, "5": 2, "6": 2, "7": 3
    }  # fmt: skip


def test_parents_without_a_row_become_founders() -> None:
    pedigree, faults = build_pedigree([Animal(id="A", dam="Old Dam", sire="Old Sire", row=2)])
    assert faults == ()
    assert pedigree.ids == ("Old Dam", "Old Sire", "A")
    assert pedigree.sexes == {"Old Dam": Sex.FEMALE, "Old Sire": Sex.MALE}
    assert pedigree.label("Old Dam") == "Old Dam"


def test_founder_facts_of_animals_with_parents_are_left_out() -> None:
    facts = FounderFacts(F={"1": 0.1, "3": 0.2}, kinship={("1", "3"): 0.1, ("2", "1"): 0.05})
    pedigree = pedigree_of("1:0,0 2:0,0 3:1,2", facts)
    assert pedigree.founders == FounderFacts(F={"1": 0.1}, kinship={("1", "2"): 0.05})
    assert pedigree.founders.phi("2", "1") == 0.05
    assert pedigree.founders.phi("1", "1") == 0.55


def test_an_id_twice_is_told_with_both_rows_and_the_first_stands() -> None:
    twice = [*animals_of("1:0,0 2:0,0"), Animal(id="1", sire="2", row=4)]
    pedigree, faults = build_pedigree(twice, file="herd.xlsx")
    assert [str(fault) for fault in faults] == [
        "herd.xlsx, row 4, id: found '1' a second time (first in row 2); "
        "expected an id of its own for each animal"
    ]
    assert pedigree.parents("1") == (None, None)


@given(herds(), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(animals: list[Animal], shuffler: random.Random) -> None:
    shuffled = list(animals)
    shuffler.shuffle(shuffled)
    first, second = build_pedigree(animals)[0], build_pedigree(shuffled)[0]
    assert first.ids == second.ids
    assert np.array_equal(first.dams, second.dams)
    assert np.array_equal(first.sires, second.sires)
    assert first.young == second.young


@given(herds())
def test_steps_never_fall_and_parents_stand_in_earlier_ones(animals: list[Animal]) -> None:
    pedigree = build_pedigree(animals)[0]
    assert np.all(np.diff(pedigree.step) >= 0)
    for parents in (pedigree.dams, pedigree.sires):
        known = parents >= 0
        assert np.all(pedigree.step[parents[known]] < pedigree.step[known])
