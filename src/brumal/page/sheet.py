"""What the sheet shows, line by line, read from the plan and its outlook: nothing is worked out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from markupsafe import Markup

from brumal.insight.compare.differences import moves
from brumal.page import words
from brumal.page.desk import Desk
from brumal.page.fields import Group, field_groups
from brumal.page.ink import may_be_inked
from brumal.page.lines import FemaleLine, Lines, MaleLine
from brumal.page.messages import Solved
from brumal.page.pencil import Kind, Mark, mark_words, name_of
from brumal.records.overlay_animals import animal_value
from brumal.records.overlay_tree import setting_value
from brumal.report.bidi import isolator
from brumal.report.page import picture
from brumal.report.plan.page import told_by
from brumal.report.plan.pictures import week_picture
from brumal.report.plan.room_words import room_line
from brumal.report.plan.words import (
    count_line,
    luck_line,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PencilLine:
    """One mark as it is told, and the name by which it is taken back."""

    name: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanningPage:
    """The whole page.

    ``state`` says what is known of the plan, ``busy`` that a better one is looked for, ``moved``
    what the pencil moved. ``told`` writes a sentence safely, names of either direction included.
    """

    season: str
    version: int
    number: int
    state: str
    busy: bool
    money: str
    counts: str
    spread: str
    room: str
    moved: tuple[str, ...]
    wrong: tuple[str, ...]
    refused: tuple[str, ...]
    unread: tuple[str, ...]
    done: str
    can_be_inked: bool
    pencil: tuple[PencilLine, ...]
    deciding: tuple[FemaleLine, ...]
    barred: tuple[FemaleLine, ...]
    males: tuple[MaleLine, ...]
    everyone: tuple[FemaleLine | MaleLine, ...]
    groups: tuple[Group, ...]
    weeks: tuple[tuple[str, Markup], ...]
    rounds: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    told: Callable[[str], Markup]


def sheet_of(desk: Desk) -> PlanningPage:
    """Return what the page shows now."""
    shown = desk.shown
    records = desk.variant.records or desk.records
    names = {animal.id: animal.label for animal in records.animals}
    lines = Lines(desk, shown, names)
    females, males = lines.females(), lines.males()
    solved = shown.solved
    plan = solved.plan if solved else None
    return PlanningPage(
        season=records.settings.season.name,
        version=desk.version,
        number=shown.number,
        state=words.state_line(shown, records.settings.currency),
        busy=not shown.is_final,
        money=words.money_line(shown, records.settings.currency),
        counts=count_line(plan) if plan and shown.is_final else "",
        spread=luck_line(solved.outlook.luck, plan.currency)
        if plan and solved and solved.outlook and shown.is_final
        else "",
        room=room_line(plan.room) if plan and plan.objective is not None else "",
        moved=_moved(desk, names),
        wrong=tuple(map(str, shown.faults)) or words.clash_words(shown),
        refused=tuple(map(str, desk.notice.refused)),
        unread=tuple(map(str, desk.folder_faults)),
        done=desk.notice.done,
        can_be_inked=any(map(may_be_inked, desk.marks)),
        pencil=tuple(_pencil_line(desk, mark, names) for mark in reversed(desk.marks)),
        deciding=tuple(line for line in females if line.can_be_decided),
        barred=tuple(line for line in females if not line.can_be_decided),
        males=males,
        everyone=(*females, *males),
        groups=field_groups(
            records.settings, desk.records.settings, desk.marks, words.more_words(shown.more)
        ),
        weeks=_weeks(solved),
        rounds=words.round_lines(solved, names),
        cautions=tuple(caution.text for caution in plan.cautions) if plan else (),
        told=_told(desk, solved, names),
    )


def _told(desk: Desk, solved: Solved | None, names: Mapping[str, str]) -> Callable[[str], Markup]:
    if solved is not None and solved.outlook is not None:
        return told_by(solved.plan, solved.outlook)
    morphs = [animal.morph for animal in desk.records.animals]
    return isolator([*names.values(), *morphs, desk.records.settings.season.name])


def _moved(desk: Desk, names: Mapping[str, str]) -> tuple[str, ...]:
    """Say what the pencil moved, once both plans are known."""
    shown, before = desk.shown, desk.unmarked.solved
    solved = shown.solved
    if not desk.marks or before is None or solved is None or solved.number != shown.number:
        return ()
    found = moves(before.plan, solved.plan)
    return words.moved_lines(before.plan, solved.plan, found, names, desk.variant)


def _pencil_line(desk: Desk, mark: Mark, names: Mapping[str, str]) -> PencilLine:
    before = None
    if mark.kind is Kind.SET:
        records, path = desk.records, mark.subject
        if path[0] == "animals" and len(path) == 3:
            before = animal_value(records, path[1], path[2])
        elif path[0] != "scale":
            before = setting_value(records.settings, path)
    return PencilLine(name=name_of(mark), text=mark_words(mark, names, before))


def _weeks(solved: Solved | None) -> tuple[tuple[str, Markup], ...]:
    if solved is None or solved.outlook is None:
        return ()
    weeks, room = solved.outlook.weeks, solved.plan.room
    parts = (
        ("Boxes", [week.boxes for week in weeks], room.boxes_limit),
        ("Hatchlings", [week.tubs for week in weeks], room.tubs_limit),
    )
    drawn = [(name, week_picture(weeks, loads, limit, name)) for name, loads, limit in parts]
    return tuple((name, picture(image)) for name, image in drawn if image is not None)
