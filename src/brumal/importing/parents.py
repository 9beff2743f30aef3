"""Parents by id or name, in columns of their own or as a pair in one."""

from __future__ import annotations

import re

from brumal.importing.collect import Raw
from brumal.importing.grids import Cell, Grid
from brumal.importing.register import Found, Register
from brumal.importing.study import Study

_PAIR = re.compile(r"\s+[xX×✕*]\s+|\s*[×✕]\s*")
SEX_OF = {"dam": "female", "sire": "male"}


def one_parent(
    study: Study,
    register: Register,
    found: Found,
    *,
    role: str,
    grid: Grid,
    cells: list[Cell],
    item: str,
    column: str,
    sexes: dict[str, str],
) -> str:
    """Return the id of a dam or sire; empty where nobody is named or the keeper must say who."""
    if found.blank:
        return ""
    if found.outside:
        return found.outside
    wrong = found.raw is not None and sexes.get(found.raw.key) not in (None, "", SEX_OF[role])
    itself = found.raw is not None and found.raw.key == item
    if found.raw is not None and not wrong and not itself:
        return found.raw.key
    who = found.choices
    text = f"Who is the {role}? The text is no one animal of the book."
    if wrong:
        text = f"The {role} named is a {sexes[found.raw.key] if found.raw else ''}. Who is meant?"
    answer = study.asker.ask(
        "wrong sex" if wrong else "who",
        role,
        grid,
        cells,
        item=item,
        column=column,
        text=text,
        until="left blank",
        choices=who,
    )
    return study.use(role, item, answer, lambda text: _answered(register, text))


def _answered(register: Register, text: str) -> str:
    raw = register.exactly(text)
    return raw.key if raw else text.strip()


def pair_in(text: str, register: Register, sexes: dict[str, str]) -> tuple[Found, Found] | None:
    """Read ``Name x Name`` as dam and sire, told apart by their sexes.

    Returns ``None`` where the text is no pair or the sexes do not tell who is who.
    """
    parts = [part.strip() for part in _PAIR.split(text) if part.strip()]
    if len(parts) != 2:
        return None
    first, second = register.find(parts[0]), register.find(parts[1])
    kinds = [_sexes(found, sexes) for found in (first, second)]
    if kinds[0] == {"female"} or kinds[1] == {"male"}:
        return (first, second) if not kinds[0] & {"male"} and not kinds[1] & {"female"} else None
    if kinds[0] == {"male"} or kinds[1] == {"female"}:
        return (second, first) if not kinds[0] & {"female"} and not kinds[1] & {"male"} else None
    return None


def is_pair(text: str) -> bool:
    """Say whether a text is a pair of animals."""
    return len([part for part in _PAIR.split(text) if part.strip()]) == 2


def _sexes(found: Found, sexes: dict[str, str]) -> set[str]:
    """Return the sexes of those who may be meant."""
    keys = [found.raw.key] if found.raw is not None else list(found.choices)
    return {sex for key in keys if (sex := sexes.get(key, ""))}


def parents_of(study: Study, register: Register, raw: Raw, sexes: dict[str, str]) -> dict[str, str]:
    """Return the dam and sire of an animal by id, empty where not known."""
    found: dict[str, str] = {"dam": "", "sire": ""}
    for role in found:
        for column, cell in raw.fields.get(role, [])[:1]:
            who = register.find(cell.text)
            found[role] = one_parent(
                study, register, who, role=role, grid=raw.grid, cells=[cell],
                item=raw.key, column=column.heading, sexes=sexes,
            )  # fmt: skip
    for column, cell in raw.fields.get("parents", [])[:1]:
        if any(found.values()) or not is_pair(cell.text):
            continue
        pair = pair_in(cell.text, register, sexes)
        if pair is None:
            pair = _answered_pair(register, _ask_pair(study, raw, cell, column.heading))
        if pair is None:
            continue
        for role, who in zip(("dam", "sire"), pair, strict=True):
            found[role] = one_parent(
                study, register, who, role=role, grid=raw.grid, cells=[cell],
                item=raw.key, column=column.heading, sexes=sexes,
            )  # fmt: skip
    return found


def _ask_pair(study: Study, raw: Raw, cell: Cell, column: str) -> str:
    sides = [part.strip() for part in _PAIR.split(cell.text) if part.strip()]
    return study.asker.ask(
        "which is which",
        "dam,sire",
        raw.grid,
        [cell],
        item=raw.key,
        column=column,
        text="Which of the two is the dam? Answer with both, the dam first.",
        until="left blank",
        choices=(f"{sides[0]} x {sides[1]}", f"{sides[1]} x {sides[0]}"),
    )


def _answered_pair(register: Register, answer: str) -> tuple[Found, Found] | None:
    """Read an answer with the dam first."""
    sides = [part.strip() for part in _PAIR.split(answer) if part.strip()]
    return (register.find(sides[0]), register.find(sides[1])) if len(sides) == 2 else None
