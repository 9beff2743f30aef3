"""brumal as a library: its examples hold, and its functions are offered by the package."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

import brumal
from brumal import library


def test_the_examples_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(Path(__file__).parent.parent)
    failed, tried = doctest.testmod(library)
    assert tried >= 8
    assert failed == 0


def test_the_package_offers_them() -> None:
    for name in brumal.__all__:
        assert getattr(brumal, name) is getattr(library, name)
    with pytest.raises(AttributeError, match="no attribute 'plans'"):
        _ = brumal.plans
