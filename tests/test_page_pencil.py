"""Pencil marks: each that stands says the truth of the season under it, and none is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.page.desk import lay
from brumal.page.pencil import (
    Kind,
    Mark,
    from_json,
    load,
    locks_under,
    made,
    name_of,
    overlay_text,
    overlay_tree,
    save,
    to_json,
    without,
)
from brumal.records.overlay import read_overlay
from brumal.records.read import read_season
from brumal.records.settings import Locks
from season_outputs import DEMO

DAMS, SIRES = ("F1", "F2", "F3"), ("M1", "M2")
PAIRS = st.tuples(st.sampled_from(DAMS), st.sampled_from(SIRES))
ANIMALS = st.sampled_from((*DAMS, *SIRES))
LOCK_MARKS = st.one_of(
    st.builds(Mark, st.sampled_from((Kind.WITH, Kind.APART, Kind.LIFT)), PAIRS),
    st.builds(Mark, st.sampled_from((Kind.REST, Kind.FREE)), st.tuples(ANIMALS)),
)
TEXTS = st.text(min_size=1, max_size=12).filter(str.strip)
ANY_MARKS = st.one_of(
    LOCK_MARKS,
    st.builds(Mark, st.just(Kind.SET), st.tuples(TEXTS, TEXTS), TEXTS),
    st.builds(
        Mark,
        st.just(Kind.ANIMAL),
        st.tuples(TEXTS),
        st.just(""),
        st.lists(st.tuples(TEXTS, st.text(max_size=9)), min_size=1, max_size=3).map(tuple),
    ),
)


@st.composite
def season_locks(draw: st.DrawFn) -> Locks:
    """Draw locks that do not fight: a female has one sire, who may have her and does not rest."""
    must = draw(st.lists(PAIRS, max_size=2, unique_by=lambda pair: pair[0]))
    never = [pair for pair in draw(st.lists(PAIRS, max_size=3, unique=True)) if pair not in must]
    busy = {animal for pair in must for animal in pair}
    rest = [each for each in draw(st.lists(ANIMALS, max_size=2, unique=True)) if each not in busy]
    return Locks(must_pair=tuple(must), never_pair=tuple(never), sit_out=tuple(rest))


def holds(mark: Mark, locks: Locks) -> bool:
    """Say in words of its own whether the season is as a mark says."""
    first, resting = mark.subject[0], set(locks.sit_out)
    if mark.kind is Kind.WITH:
        fixed = [sire for dam, sire in locks.must_pair if dam == first]
        return (
            fixed == [mark.subject[1]]
            and mark.subject not in locks.never_pair
            and not resting & set(mark.subject)
        )
    if mark.kind is Kind.REST:
        return first in resting and not any(first in pair for pair in locks.must_pair)
    if mark.kind is Kind.FREE:
        return first not in resting and all(dam != first for dam, _ in locks.must_pair)
    if mark.kind is Kind.APART:
        return mark.subject in locks.never_pair and mark.subject not in locks.must_pair
    return mark.subject not in locks.never_pair


def pencilled(marks: list[Mark], locks: Locks) -> tuple[Mark, ...]:
    standing: tuple[Mark, ...] = ()
    for mark in marks:
        standing = made(standing, mark, locks)
    return standing


@given(st.lists(LOCK_MARKS, max_size=8), season_locks())
def test_every_mark_that_stands_holds(marks: list[Mark], locks: Locks) -> None:
    standing = pencilled(marks, locks)
    under = locks_under(standing, locks)
    assert all(holds(mark, under) for mark in standing)
    assert len({name_of(mark) for mark in standing}) == len(standing)
    if marks:
        assert holds(marks[-1], under)


@given(st.lists(LOCK_MARKS, max_size=8), season_locks())
def test_undoing_every_mark_gives_the_season_back(marks: list[Mark], locks: Locks) -> None:
    standing = pencilled(marks, locks)
    for mark in standing:
        fewer = without(standing, name_of(mark))
        assert len(fewer) == len(standing) - 1
        standing = fewer
    assert overlay_tree(standing, locks) == {}


@given(st.lists(ANY_MARKS, max_size=6))
def test_marks_are_kept_as_they_are(marks: list[Mark]) -> None:
    assert from_json(to_json(marks)) == tuple(marks)


@given(st.lists(LOCK_MARKS, min_size=1, max_size=6), season_locks(), TEXTS)
def test_the_overlay_reads_back_as_it_was_meant(
    marks: list[Mark], locks: Locks, value: str
) -> None:
    standing = (*pencilled(marks, locks), Mark(Kind.SET, ("limits", "boxes"), value))
    tree = overlay_tree(standing, locks)
    overlay, faults = read_overlay("pencil", overlay_text(tree), "pencil")
    assert overlay is not None, faults
    assert overlay.settings == tree


def test_a_file_of_another_kind_is_refused_and_stays(tmp_path: Path) -> None:
    path = tmp_path / "pencil.json"
    for text in ("", "[]", '{"version": 9}', '{"version": 1, "marks": [{"kind": "sing"}]}'):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(ValueError):
            load(path)
        assert path.read_text(encoding="utf-8") == text


def test_saving_leaves_one_whole_file(tmp_path: Path) -> None:
    path = tmp_path / "out" / "pencil.json"
    marks = (Mark(Kind.REST, ("F1",)),)
    save(path, ())
    save(path, marks)
    assert load(path) == marks
    assert [each.name for each in path.parent.iterdir()] == ["pencil.json"]


def test_pencil_over_the_demo_is_the_overlay_by_hand() -> None:
    records, _ = read_season(DEMO)
    assert records is not None
    marks = [
        Mark(Kind.REST, ("F05",)),
        Mark(Kind.APART, ("F12", "M03")),
        Mark(Kind.SET, ("limits", "boxes"), "+2"),
        Mark(Kind.SET, ("values", "wanted", "Clown", "value"), "-30%"),
        Mark(Kind.SET, ("scale", "Albino"), "-50%"),
        Mark(Kind.SET, ("animals", "M01", "max_pairings"), "5"),
        Mark(Kind.ANIMAL, ("X1",), "", (("sex", "male"), ("morph", "Clown"), ("paid", "900"))),
    ]
    variant = lay(records, pencilled(marks, records.settings.locks))
    assert variant.records is not None, variant.faults
    settings = variant.records.settings
    assert settings.locks.sit_out == ("F05",)
    assert settings.locks.never_pair == (("F12", "M03"),)
    assert settings.limits.boxes == 11
    prices = {wanted.morph: wanted.value for wanted in settings.values.wanted}
    assert (prices["Clown"], prices["Albino"]) == (154, 60)
    animals = {animal.id: animal for animal in variant.records.animals}
    assert animals["M01"].max_pairings == 5
    assert animals["X1"].morph == "Clown"
    assert variant.paid == 900
    assert lay(records, ()).records is records


def test_a_mark_that_cannot_stand_says_why() -> None:
    records, _ = read_season(DEMO)
    assert records is not None
    variant = lay(records, [Mark(Kind.SET, ("limits", "boxes"), "many")])
    assert variant.records is None
    assert "boxes" in str(variant.faults[0])
