"""Near misses of ids, told apart from other animals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.records.known_ids import KnownIds, fold

KNOWN = KnownIds(["F01", "F02", "CLV-12", "1-12", "Sleet", "Frost", "BP 7"])


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("f01", "F01"),
        ("F-1", "F01"),
        ("clv12", "CLV-12"),
        ("CVL-12", None),
        ("CLB-12", None),
        ("Sleat", "Sleet"),
        ("frost", "Frost"),
        ("Forst", "Frost"),
        ("bp7", "BP 7"),
        ("F03", None),
        ("11-2", None),
        ("M01", None),
        ("Hail", None),
        ("", None),
    ],
)
def test_the_nearest_id(written: str, meant: str | None) -> None:
    assert KNOWN.nearest(written) == meant


@given(st.text(alphabet="abcXYZ019- _", min_size=1, max_size=12))
def test_case_never_makes_another_animal(name: str) -> None:
    assert fold(name.upper()) == fold(name.lower())
    assert KnownIds([name]).nearest(name.swapcase()) == name


def test_what_is_known() -> None:
    assert "F01" in KNOWN
    assert "f01" not in KNOWN
