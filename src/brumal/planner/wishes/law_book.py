"""Laws of counted young, worked out when they are asked for, many pairs at once.

In a large collection few pairs can be in a good plan, and that can be told from what they bring in
the mean (see :mod:`brumal.planner.solver.means_bound`). The laws of the others are never needed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from brumal.planner.pairs.candidate import Array, Candidate
from brumal.planner.wishes.laws import Served


class WishBook:
    """What so many pairs bring to the wishes, by their numbers; each is worked out once."""

    def __init__(self, pairs: int, serve: Callable[[Sequence[int]], Served]) -> None:
        """Take the number of pairs, and what works out some of them."""
        self._serve = serve
        self._missing = dict.fromkeys(range(pairs))
        self._counts: dict[int, Mapping[int, Array]] = {}
        self._none: dict[int, Mapping[int, Array]] = {}

    def open(self, numbers: Iterable[int]) -> None:
        """Work out those of these pairs that are not known yet."""
        asked = [number for number in numbers if number in self._missing]
        if not asked:
            return
        served = self._serve(asked)
        for number, counts, none in zip(asked, served.counts, served.none, strict=True):
            self._counts[number], self._none[number] = counts, none
            del self._missing[number]

    def entries(self, number: int) -> tuple[Mapping[int, Array], Mapping[int, Array]]:
        """Return laws of counted young and chances of none of a pair, by wish.

        Where they are not known yet, they are worked out when they are first read.
        """
        if number in self._missing:
            return Entry(self, number, self._counts), Entry(self, number, self._none)
        return self._counts[number], self._none[number]

    def read(self, number: int, table: Mapping[int, Mapping[int, Array]]) -> Mapping[int, Array]:
        """Return a pair's part of one of the book's tables."""
        if number in self._missing:
            # Who asks for one out of turn will ask for more: all together cost little more.
            self.open(list(self._missing))
        return table[number]


class Entry(Mapping[int, Array]):
    """A pair's part of a book, read like any mapping from wish to array."""

    __slots__ = ("_table", "book", "number")

    def __init__(
        self, book: WishBook, number: int, table: Mapping[int, Mapping[int, Array]]
    ) -> None:
        """Take the book, the pair's number in it and the table to read."""
        self.book = book
        self.number = number
        self._table = table

    def __getitem__(self, wish: int) -> Array:
        return self.book.read(self.number, self._table)[wish]

    def __iter__(self) -> Iterator[int]:
        return iter(self.book.read(self.number, self._table))

    def __len__(self) -> int:
        return len(self.book.read(self.number, self._table))

    def __reduce__(self) -> tuple[type[dict[int, Array]], tuple[dict[int, Array]]]:
        """Leave the book behind when a pair travels to another process."""
        return dict, (dict(self),)


def work_out(candidates: Iterable[Candidate]) -> None:
    """Work out the laws of these pairs together, where that has not been done."""
    asked: dict[int, list[Entry]] = defaultdict(list)
    for candidate in candidates:
        if isinstance(candidate.counts, Entry):
            asked[id(candidate.counts.book)].append(candidate.counts)
    for entries in asked.values():
        entries[0].book.open([entry.number for entry in entries])
