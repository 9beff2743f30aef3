"""Who is meant: texts of the book to animals, by id or by a name that is unique."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from brumal.importing.collect import Raw
from brumal.importing.words import is_not_known, plain, words
from brumal.records.known_ids import KnownIds, fold

_ASIDE = re.compile(r"\s*\((?:outside|extern|not mine|ext\.?)\)\s*$", re.IGNORECASE)
_OR = re.compile(r"(?i)\s+(?:or|oder|ou|of|lub|o)\s+|\s*/\s*|\s*&\s*|\s*\+\s+|\s*;\s*")
LONGEST_NAME = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Who a text means: an animal, one outside the book (``outside``), or nobody for certain.

    With neither, ``blank`` says that the text says nothing, and ``choices`` who may be meant.
    """

    raw: Raw | None = None
    outside: str = ""
    blank: bool = False
    choices: tuple[str, ...] = ()


class Register:
    """The animals of a book by id and name."""

    def __init__(self, raws: Sequence[Raw]) -> None:
        self.raws = tuple(raws)
        self._exact: dict[str, list[Raw]] = {}
        self._folded: dict[str, list[Raw]] = {}
        for raw in raws:
            for text in {raw.text("id"), raw.text("name"), raw.key} - {""}:
                self._exact.setdefault(text.casefold(), []).append(raw)
                self._folded.setdefault(fold(text) or text, []).append(raw)
        names = {text for raw in raws for text in (raw.text("id"), raw.text("name")) if text}
        self._near = KnownIds(sorted(names))

    def exactly(self, text: str) -> Raw | None:
        """Return the one animal of an id or name, differences of spelling forgiven."""
        bare = text.strip()
        hits = self._exact.get(bare.casefold()) or self._folded.get(fold(bare) or bare, [])
        return hits[0] if len(hits) == 1 else None

    def find(self, text: str) -> Found:
        """Return who is meant by a text in a column of animals."""
        bare = text.strip()
        if is_not_known(bare) or plain(bare) in words().lists["no_parent"]:
            return Found(blank=True)
        hits = self._exact.get(bare.casefold(), [])
        if not hits and "?" not in bare and not _OR.search(bare):
            hits = self._folded.get(fold(bare) or bare, [])
        if len(hits) == 1:
            return Found(raw=hits[0])
        if hits:
            return Found(choices=tuple(raw.key for raw in hits))
        return self._stranger(bare)

    def _stranger(self, bare: str) -> Found:
        named = _ASIDE.sub("", bare)
        parts = [part for part in _OR.split(named) if part]
        if "?" in named or len(parts) > 1:
            choices = [raw.key for part in parts if (raw := self.exactly(part.strip("? ")))]
            return Found(choices=tuple(choices))
        near = self._near.nearest(named)
        if near is not None and named == bare:
            raw = self.exactly(near)
            return Found(choices=(raw.key,) if raw else ())
        if len(named.split()) > LONGEST_NAME:
            return Found()
        return Found(outside=named)


def give_keys(raws: Iterable[Raw]) -> dict[str, list[Raw]]:
    """Give each animal the id that it will have; return the ids that stand twice in the book.

    The book's id where it is unique, else the name, else the two together; a number is put behind
    a name that stands twice.
    """
    listed = list(raws)
    ids: dict[str, list[Raw]] = {}
    for raw in listed:
        if raw.text("id"):
            ids.setdefault(raw.text("id"), []).append(raw)
    doubled = {text: each for text, each in ids.items() if len(each) > 1}
    used = set(ids) - set(doubled)
    for raw in listed:
        own = raw.text("id")
        if own and own not in doubled:
            raw.key = own
            continue
        wanted = raw.text("name") or f"{own or 'row'} {raw.row}"
        raw.key, number = wanted, 2
        while raw.key in used:
            raw.key, number = f"{wanted} {number}", number + 1
        used.add(raw.key)
    return doubled
