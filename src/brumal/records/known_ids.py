"""Ids that are meant to be the same: near misses told apart from animals of another collection."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping

CLOSE = 0.8


class KnownIds:
    """The ids of a collection, asked for the nearest spelling of one that is not among them."""

    def __init__(self, ids: Iterable[str]) -> None:
        self.ids = tuple(dict.fromkeys(ids))
        self._set = frozenset(self.ids)
        self._folded: Mapping[str, str] = {fold(name): name for name in reversed(self.ids)}
        self._by_digits: dict[tuple[int, ...], list[str]] = {}
        for name in self.ids:
            self._by_digits.setdefault(_numbers(name), []).append(name)

    def __contains__(self, name: str) -> bool:
        return name in self._set

    def nearest(self, name: str) -> str | None:
        """Return the known id that ``name`` probably means.

        Letter case, spaces, hyphens and leading zeros never make another animal; a letter or two
        may be a slip; another number is another animal, and so no near miss.
        """
        same = self._folded.get(fold(name))
        if same is not None:
            return same
        candidates = self._by_digits.get(_numbers(name), [])
        letters = _letters(name)
        best = max(
            candidates,
            key=lambda known: (_likeness(letters, _letters(known)), known),
            default=None,
        )
        if best is None or _likeness(letters, _letters(best)) < CLOSE:
            return None
        return best


def fold(name: str) -> str:
    """Return an id without what keepers vary: case, spaces, punctuation, leading zeros."""
    split = re.sub(r"(?<=\d)[\W_]+(?=\d)", "x", name.casefold())  # 1-12 is not 11-2
    bare = re.sub(r"[\W_]+", "", split)
    return re.sub(r"(?<!\d)0+(?=\d)", "", bare)


def _numbers(name: str) -> tuple[int, ...]:
    return tuple(int(digits) for digits in re.findall(r"[0-9]+", name))


def _letters(name: str) -> str:
    return re.sub(r"[\W\d_]+", "", name.casefold())


def _likeness(first: str, second: str) -> float:
    return difflib.SequenceMatcher(None, first, second, autojunk=False).ratio()
