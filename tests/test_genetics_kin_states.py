"""States of kin against a sum over every genotype of every animal."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.evidence.infer import Inferred, infer
from brumal.genetics.evidence.kin_states import KinStates, kin_states
from brumal.genetics.genotypes import ClaimKind
from brumal.records.animals import Animal, Sex
from genes_for_tests import SHOP, claim, morph
from looped_kin import Joint, kin, summed


@settings(max_examples=60, deadline=None)
@given(kin(), st.data())
def test_states_make_the_others_independent(
    drawn: tuple[str, Inferred, Joint], data: st.DataObject
) -> None:
    """Law of total probability: the joint of all is the mean over states of products."""
    name, found, expected = drawn
    for part, held in enumerate(found.groups[name].parts):
        names = [found.collection.kin.ids[number] for number in held.numbers]
        own = tuple(data.draw(st.lists(st.sampled_from(names), unique=True, max_size=2)))
        rest = [each for each in names if each not in own]
        others = tuple(data.draw(st.lists(st.sampled_from(rest), unique=True))) if rest else ()
        if not own and len(others) < 2:
            continue
        states = kin_states(found, name, part, own, others)
        assert states is not None
        assert set(own) <= set(states.followed)
        assert states.weights.sum() == pytest.approx(1.0)
        animals = sorted({*own, *others})
        table = {key: value for key, value in joint_of(states, animals).items() if value > 1e-13}
        places = tuple(int(animal[1:]) for animal in animals)
        assert table == pytest.approx(
            {key: value for key, value in summed(expected, places).items() if value > 1e-13},
            abs=1e-11,
        )


def joint_of(states: KinStates, animals: list[str]) -> Joint:
    """Return the joint chances of animals that are independent given the state."""
    table: Joint = {}
    found = [states.given[animal] for animal in animals]
    for state, weight in enumerate(states.weights.tolist()):
        for index in itertools.product(*(range(len(carried)) for carried, _ in found)):
            chance = math.prod(
                float(chances[state, at]) for at, (_, chances) in zip(index, found, strict=True)
            )
            key = tuple(carried[at] for at, (carried, _) in zip(index, found, strict=True))
            table[key] = table.get(key, 0.0) + weight * chance
    return table


def litter(founders: dict[str, float], sisters: int = 12) -> Inferred:
    animals = [Animal(id="D", sex=Sex.FEMALE), Animal(id="S", sex=Sex.MALE)]
    animals += [Animal(id=f"Y{n:02}", sex=Sex.FEMALE, dam="D", sire="S") for n in range(sisters)]
    said = {
        name: morph(claim(SHOP, "Clown", ClaimKind.POSSIBLE_HET, chance=chance))
        for name, chance in founders.items()
    }
    return infer(animals, said, [], SHOP)


SISTERS = tuple(f"Y{n:02}" for n in range(12))


def test_sisters_are_told_by_their_uncertain_dam() -> None:
    states = kin_states(litter({"D": 0.5}), "clown", 0, (), SISTERS)
    assert states is not None
    assert states.followed == ("D",)
    assert states.weights.tolist() == pytest.approx([0.5, 0.5])
    # Mendel: half of a het's young are het, none of a wild one's.
    carried, chances = states.given["Y03"]
    het = [at for at, pair in enumerate(carried) if "Clown" in pair[0] + pair[1]]
    assert sorted(chances[:, het].sum(axis=1).tolist()) == pytest.approx([0.0, 0.5])


def test_sisters_of_two_uncertain_parents_need_both() -> None:
    states = kin_states(litter({"D": 0.5, "S": 0.5}), "clown", 0, (), SISTERS)
    assert states is not None
    assert states.followed == ("D", "S")
    assert states.weights.size == 4


def test_a_daughter_stands_for_herself_where_that_is_least() -> None:
    # Two kin of whom one is followed anyway need nobody else.
    states = kin_states(litter({"D": 0.5}), "clown", 0, ("Y00",), ("Y01",))
    assert states is not None
    assert states.followed == ("Y00",)
    assert states.given["Y00"][1].tolist() == np.eye(2).tolist()


def test_what_was_asked_is_kept() -> None:
    found = litter({"D": 0.5}, 3)
    asked = (found, "clown", 0, (), ("Y00", "Y01"))
    assert kin_states(*asked) is kin_states(*asked)


def test_too_many_together_are_not_followed() -> None:
    found = litter({"D": 0.5, "S": 0.5}, 18)
    everyone = tuple(f"Y{n:02}" for n in range(18))
    assert kin_states(found, "clown", 0, everyone, ()) is None
