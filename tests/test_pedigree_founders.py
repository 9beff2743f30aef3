"""Faults of what the keeper states of founders and pairs, each with its wording."""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter

from brumal.pedigree.founders import founder_facts, kin_faults
from brumal.pedigree.graph import FounderFacts
from brumal.records.animals import Sex
from brumal.records.settings import Kin
from pedigrees_for_tests import pedigree_of

HERD = pedigree_of(
    "Ash:0,0 Fern:0,0 Moss:0,0 Reed:Ash,Fern",
    sexes={"Ash": Sex.MALE, "Fern": Sex.FEMALE, "Moss": Sex.FEMALE, "Reed": Sex.MALE},
)


def told(**kin: object) -> list[str]:
    return [str(fault) for fault in kin_faults(TypeAdapter(Kin).validate_python(kin), HERD)]


def test_sound_statements_have_no_faults() -> None:
    kin = {
        "founder_F": {"Ash": 0.25},
        "founder_kinship": [["Fern", "Ash", 0.125], ["Ash", "Moss", 0.125]],
        "exceptions": [["Fern", "Reed", "to keep the line of Fern"]],
    }
    assert told(**kin) == []
    assert founder_facts(TypeAdapter(Kin).validate_python(kin)) == FounderFacts(
        F={"Ash": 0.25}, kinship={("Ash", "Fern"): 0.125, ("Ash", "Moss"): 0.125}
    )


def test_unknown_ids_name_the_nearest() -> None:
    expected = "expected an animal or ancestor of the pedigree. Did you mean"
    assert told(
        founder_F={"Ashe": 0.1},
        founder_kinship=[["Ash", "Fren", 0.1]],
        exceptions=[["Mos", "Reed", "why"]],
    ) == [
        f"season.yaml, kin.founder_F.Ashe: found 'Ashe'; {expected} 'Ash'?",
        f"season.yaml, kin.founder_kinship[1]: found 'Fren'; {expected} 'Fern'?",
        f"season.yaml, kin.exceptions[1]: found 'Mos'; {expected} 'Moss'?",
    ]


def test_an_animal_with_a_recorded_parent_is_no_founder() -> None:
    assert told(founder_F={"Reed": 0.1}) == [
        "season.yaml, kin.founder_F.Reed: found 'Reed', whose dam Fern and sire Ash stand in the "
        "pedigree; expected a founder: an animal without recorded parents. State it of the "
        "founders behind it; the rest follows from the parents."
    ]


def test_pairs_twice_and_with_themselves() -> None:
    assert told(founder_kinship=[["Ash", "Fern", 0.1], ["Fern", "Ash", 0.2], ["Ash", "Ash", 0]])[
        :2
    ] == [
        "season.yaml, kin.founder_kinship[2]: found 'Fern' and 'Ash' again (first as entry 1); "
        "expected each pair once",
        "season.yaml, kin.founder_kinship[3]: found 'Ash' with itself; expected two founders. "
        "Its own inbreeding stands in kin.founder_F.",
    ]


def test_two_founders_cannot_be_closer_than_their_f_allows() -> None:
    """phi_AB^2 <= phi_AA phi_BB; with F 0 each phi_AA is 1/2, so phi_AB at most 1/2."""
    assert told(founder_kinship=[["Ash", "Fern", 0.5]]) == []
    assert told(founder_kinship=[["Ash", "Fern", 0.6]]) == [
        "season.yaml, kin.founder_kinship: found kinship among Ash, Fern that no pedigree can "
        "give; expected figures that fit together: Ash and Fern at most 0.5, as their F stands. "
        "State the kinship of every two of them, and their F in kin.founder_F."
    ]
    assert told(founder_F={"Ash": 0.5}, founder_kinship=[["Ash", "Fern", 0.6]]) == []


def test_three_founders_must_fit_together() -> None:
    close = [["Ash", "Fern", 0.45], ["Fern", "Moss", 0.45]]
    [text] = told(founder_kinship=close)
    assert "kinship among Ash, Fern, Moss that no pedigree can give" in text
    assert "two animals close to a third are close to each other" in text
    assert told(founder_kinship=[*close, ["Ash", "Moss", 0.4]]) == []


@pytest.mark.parametrize(
    ("exception", "text"),
    [
        (["Reed", "Ash", "why"], "found 'Reed', a male, as dam; expected [dam, sire, written"),
        (["Fern", "Moss", "why"], "found 'Moss', a female, as sire; expected [dam, sire, written"),
    ],
)
def test_exceptions_are_dam_and_sire(exception: list[str], text: str) -> None:
    [fault] = told(exceptions=[exception])
    assert text in fault


def test_an_exception_twice() -> None:
    pair = ["Fern", "Reed", "why"]
    assert told(exceptions=[pair, pair]) == [
        "season.yaml, kin.exceptions[2]: found Fern x Reed again (first as entry 1); "
        "expected each pair once"
    ]
