"""Faults in parents: each one's wording, and no fault where nothing is wrong."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given

from brumal.pedigree.graph import build_pedigree
from brumal.records.ages import months_old
from brumal.records.animals import Animal, Sex
from brumal.records.faults import Severity
from pedigrees_for_tests import herds


def told(*animals: Animal) -> list[tuple[str, Severity]]:
    return [(str(fault), fault.severity) for fault in build_pedigree(animals)[1]]


def test_a_sire_that_is_female() -> None:
    assert told(
        Animal(id="F1", sex=Sex.FEMALE, row=2), Animal(id="Y", sire="F1", row=3)
    ) == [
        (
            "animals.csv, row 3, sire: found 'F1', recorded as female (row 2); expected a male as "
            "sire. Swap dam and sire, or correct the sex of 'F1'.",
            Severity.ERROR,
        )
    ]  # fmt: skip


def test_a_dam_that_is_male() -> None:
    [(text, severity)] = told(Animal(id="M1", sex=Sex.MALE), Animal(id="Y", dam="M1"))
    assert text.startswith(
        "animals.csv, dam: found 'M1', recorded as male; expected a female as dam"
    )
    assert severity is Severity.ERROR


def test_an_ancestor_that_is_dam_of_one_and_sire_of_another() -> None:
    assert told(Animal(id="Y", dam="X", row=2), Animal(id="Z", sire="X", row=3)) == [
        (
            "animals.csv, row 3, sire: found 'X' as a sire; it is the dam of 'Y' (row 2); "
            "expected one sex for each animal. Correct the parents, or record the sex of 'X'.",
            Severity.ERROR,
        )
    ]


def test_one_animal_as_both_parents() -> None:
    assert told(Animal(id="X", row=2), Animal(id="Y", dam="X", sire="X", row=3)) == [
        (
            "animals.csv, row 3, sire: found 'X' as both dam and sire of 'Y'; "
            "expected two parents; leave the one that is not known empty",
            Severity.ERROR,
        )
    ]


def test_a_parent_no_older_than_its_young() -> None:
    day = date(2022, 7, 1)
    assert told(
        Animal(id="F1", sex=Sex.FEMALE, hatched=day, row=2),
        Animal(id="Y", dam="F1", hatched=day, row=3),
    ) == [
        (
            "animals.csv, row 3, dam: found 'F1', hatched 2022-07-01, no older than its young 'Y', "
            "hatched 2022-07-01; expected a parent that hatched before its young. Correct one of "
            "the two dates, or the parent.",
            Severity.ERROR,
        )
    ]


@pytest.mark.parametrize(
    ("role", "sex", "least"), [("dam", Sex.FEMALE, 18), ("sire", Sex.MALE, 12)]
)
def test_a_parent_immature_at_the_hatching_is_a_warning(role: str, sex: Sex, least: int) -> None:
    born = date(2020, 7, 1)
    for months in (least - 1, least):
        year, month = divmod(born.month - 1 + months, 12)
        young = Animal(
            id="Y", hatched=date(born.year + year, month + 1, 1), row=3, **{role: "P"}
        )  # fmt: skip
        faults = told(Animal(id="P", sex=sex, hatched=born, row=2), young)
        if months == least:
            assert faults == []
        else:
            assert faults == [
                (
                    f"animals.csv, row 3, {role}: found 'P', {months} months old when 'Y' hatched; "
                    f"expected a {role} of {least} months or more by then (common practice, no "
                    "source). Look at the two dates and the parent once more.",
                    Severity.WARNING,
                )
            ]


def test_all_faults_come_at_once_in_the_order_of_the_file() -> None:
    faults = told(
        Animal(id="Y", dam="M", sire="F", row=2),
        Animal(id="M", sex=Sex.MALE, row=3),
        Animal(id="F", sex=Sex.FEMALE, row=4),
        Animal(id="Z", sire="F", row=5),
    )
    assert [text.split(":")[0] for text, _ in faults] == [
        "animals.csv, row 2, dam",
        "animals.csv, row 2, sire",
        "animals.csv, row 5, sire",
    ]


@pytest.mark.parametrize(
    ("later", "months"),
    [
        (date(2020, 2, 28), 0),
        (date(2020, 2, 29), 1),
        (date(2020, 3, 1), 1),
        (date(2021, 1, 31), 12),
        (date(2020, 1, 30), -1),
    ],
)
def test_months_are_whole_calendar_months(later: date, months: int) -> None:
    assert months_old(date(2020, 1, 31), later) == months


@given(herds())
def test_sound_pedigrees_have_no_faults(animals: list[Animal]) -> None:
    assert build_pedigree(animals)[1] == ()
