"""The words of keepers' books: columns, sexes, statuses, units, months in several languages.

The words themselves are data (``words.yaml``); here they are looked up in the one plain form that
case, accents and punctuation leave alone.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import yaml

_LETTERS = str.maketrans({"ł": "l", "ø": "o", "æ": "ae", "œ": "oe", "ß": "ss", "đ": "d"})
_TOTAL = re.compile(r"\d+\s+[^\W\d_]+")
_COUNTS = re.compile(r"(\d+)[.,](\d+)(?:[.,](\d+))?")


def plain(text: str) -> str:
    """Return a text without case, accents and punctuation: ``Né(e) le`` is ``ne e le``."""
    folded = unicodedata.normalize("NFKD", text.casefold().translate(_LETTERS))
    bare = "".join(mark for mark in folded if not unicodedata.combining(mark))
    return " ".join(re.sub(r"[^\w#♀♂~]+", " ", bare).replace("_", " ").split())


@dataclass(frozen=True, slots=True)
class Words:
    """Every list of words, by what they stand for, in plain form."""

    columns: Mapping[str, str]
    sexes: Mapping[str, str]
    statuses: Mapping[str, str]
    units: Mapping[str, str]
    months: Mapping[str, int]
    limits: Mapping[str, str]
    lists: Mapping[str, frozenset[str]]

    def among(self, kind: str, text: str) -> bool:
        """Say whether a text is one of a list of words (``totals``, ``seasons``, ...)."""
        return plain(text) in self.lists[kind]

    def any_of(self, kind: str, text: str) -> bool:
        """Say whether one of the words of a list stands somewhere in a text."""
        padded = f" {plain(text)} "
        return any(f" {word} " in padded for word in self.lists[kind])


@cache
def words() -> Words:
    """Return the shipped words."""
    data: dict[str, Any] = yaml.safe_load(
        resources.files(__package__).joinpath("words.yaml").read_text("utf-8")
    )
    return Words(
        columns=_turned(data.pop("columns")),
        sexes=_turned(data.pop("sexes"), exact=True),
        statuses=_turned(data.pop("statuses")),
        units=_turned(data.pop("units")),
        months={word: int(number) for word, number in _turned(data.pop("months")).items()},
        limits=_turned(data.pop("limits")),
        lists={
            kind: frozenset(plain(str(each)) or str(each) for each in listed)
            for kind, listed in data.items()
        },
    )


def _turned(groups: Mapping[object, list[object]], exact: bool = False) -> dict[str, str]:
    turned = {
        plain(str(word)) or str(word): str(meant)
        for meant, listed in groups.items()
        for word in listed
    }
    if exact:
        turned |= {str(word): str(meant) for meant, listed in groups.items() for word in listed}
    return turned


def is_not_known(text: str) -> bool:
    """Say whether a cell says that the thing is not known: ``-``, ``?``, ``n/a``, ``tbd``."""
    bare = text.strip()
    known = words().lists["not_known"]
    return not bare or bare.casefold() in known or (plain(bare) or bare) in known


def is_total(text: str) -> bool:
    """Say whether a text heads a row of totals: ``Total 7``, ``Summe Weibchen: 4``, ``4 young``."""
    bare = plain(text)
    known = words().lists["totals"]
    counted = bool(re.fullmatch(r"[^\W\d_ ]+( [^\W\d_ ]+)? \d+", bare)) and ":" in text
    first = bare.split(" ")[0] if bare else ""
    return bare in known or first in known or bool(_TOTAL.fullmatch(bare)) or counted


def sex_of_heading(text: str) -> str:
    """Return the sex that a heading such as ``FEMALES`` or ``# samce`` speaks of, or nothing."""
    bare = plain(text).strip("# ")
    if len(bare) < 3:
        return ""
    found = {
        meant
        for word in (bare, *bare.split(" "))
        if len(word) > 2 and (meant := words().sexes.get(word, ""))
    }
    found.discard("unknown")
    return found.pop() if len(found) == 1 else ""


def counts_of(text: str) -> tuple[int, int, int] | None:
    """Return ``3.2.1`` as males, females and unsexed young; ``None`` where it is no such count."""
    match = _COUNTS.fullmatch(text.strip())
    if not match:
        return None
    return int(match[1]), int(match[2]), int(match[3] or 0)
