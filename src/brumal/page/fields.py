"""The settings that can be moved on the page as fields: room, dates, prices, wishes, costs."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from brumal.page.pencil import Kind, Mark
from brumal.records.plain_values import plain_number
from brumal.records.settings import BySex, Settings, Wanted

ROOM = (
    ("boxes", "Incubator boxes"),
    ("tubs", "Hatchling tubs"),
    ("pairings_per_male", "Females a male, at most"),
    ("max_F", "F of the young, at most"),
    ("resting", "Females that rest, at least"),
    ("spend", "Money before any sale, at most"),
)
DAYS = (("pair_from", "From"), ("pair_to", "To"))
MORE = {
    "incubator box": "boxes",
    "hatchling tub": "tubs",
    "fewer females resting": "resting",
    "money before sales": "spend",
    "longer pairing window": "pair_to",
}
"""The setting beside which it is said what one more of a thing would bring."""
COSTS = (
    ("pairing", "A pairing"),
    ("egg", "An egg"),
    ("hatchling", "A hatchling raised"),
    ("adult_feed", "Feed of an adult a year"),
    ("adult_place", "Place of an adult a year"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One setting: its name, the path it is sent with, what stands now, what the season says.

    ``more`` says what one more would bring, where that is known.
    """

    label: str
    path: str
    now: str
    own: str
    pencilled: bool
    is_day: bool = False
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Fields under one heading, with a word on what may be written."""

    title: str
    note: str
    fields: tuple[Field, ...]


def field_groups(
    now: Settings, own: Settings, marks: Sequence[Mark], more: Mapping[str, str]
) -> tuple[Group, ...]:
    """Return the fields of a season with the pencil (``now``) and without (``own``).

    ``more`` says what one more of a thing would bring.
    """
    maker = _Maker(now, own, marks, {MORE[each]: told for each, told in more.items()})
    by_morph = {wanted.morph: wanted for wanted in own.values.wanted}
    return (
        Group(
            title="Room and limits",
            note="A figure, or a difference such as +2 or -10%. Empty: as the season says.",
            fields=maker.settings("limits", ROOM),
        ),
        Group(
            title="Dates of pairing",
            note="",
            fields=maker.settings("season", DAYS),
        ),
        Group(
            title="Prices and wishes",
            note="Of one hatchling; -30% is understood.",
            fields=(
                *maker.settings("values", (("base", "Any other"),)),
                *(
                    field
                    for wanted in now.values.wanted
                    for field in maker.wish(wanted, by_morph.get(wanted.morph))
                ),
            ),
        ),
        Group(
            title="Costs",
            note="",
            fields=maker.settings("costs", COSTS),
        ),
    )


@dataclass(frozen=True, slots=True)
class _Maker:
    """Makes fields of a season with the pencil and without; knows which of them it moved."""

    now: Settings
    own: Settings
    marks: Sequence[Mark]
    more: Mapping[str, str]

    def settings(self, group: str, keys: Iterable[tuple[str, str]]) -> tuple[Field, ...]:
        """Return the fields of some (key, label) of a group of the settings."""
        now, own = getattr(self.now, group), getattr(self.own, group)
        return tuple(
            self.field(label, (group, key), getattr(now, key), getattr(own, key))
            for key, label in keys
        )

    def field(self, label: str, path: tuple[str, ...], now: object, own: object) -> Field:
        marked = any(mark.kind is Kind.SET and mark.subject == path for mark in self.marks)
        return Field(
            label=label,
            path=json.dumps(path, ensure_ascii=False),
            now=_text(now),
            own=_text(own),
            pencilled=marked,
            is_day=isinstance(own, date),
            more=self.more.get(path[-1], ""),
        )

    def wish(self, wanted: Wanted, own: Wanted | None) -> Iterator[Field]:
        path = ("values", "wanted", wanted.morph)
        before = own or wanted
        yield self.field(wanted.morph, (*path, "value"), wanted.value, before.value)
        if before.need is not None or wanted.need is not None:
            need = f"{wanted.morph}: how many at that price"
            yield self.field(need, (*path, "need"), wanted.need, before.need)
        if before.value_after is not None:
            after = f"{wanted.morph}: each one more"
            yield self.field(after, (*path, "value_after"), wanted.value_after, before.value_after)
        if before.chance is not None or wanted.chance is not None:
            chance = f"{wanted.morph}: chance of one, at least"
            yield self.field(chance, (*path, "chance"), wanted.chance, before.chance)


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, BySex):
        sexes = (("female", value.female), ("male", value.male))
        return ", ".join(f"{sex} {plain_number(each)}" for sex, each in sexes if each is not None)
    if isinstance(value, int | float):
        return plain_number(value)
    return str(value)
