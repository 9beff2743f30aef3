"""The plan as a workbook: typed cells, real dates, texts that no program takes for a formula."""

from __future__ import annotations

from collections.abc import Iterator

from brumal.insight.why.outlook import Outlook
from brumal.planner.plan import Plan, PlannedPair
from brumal.report.plan.room_words import room_line, spend_line
from brumal.report.plan.season_words import season_told, task_note, task_title
from brumal.report.plan.words import (
    BY_WORDS,
    CAUTIONS,
    count_line,
    money_parts,
    offer_line,
    outcome_words,
    risk_line,
    verdict_line,
)
from brumal.report.sheets import (
    DAY,
    KIN,
    MONEY,
    SHARE,
    TENTH,
    WHOLE,
    Column,
    Sheet,
    Value,
    workbook,
)

PAIR = (
    Column("dam", width=9),
    Column("dam's name", width=15),
    Column("sire", width=9),
    Column("sire's name", width=15),
)


def plan_workbook(plan: Plan, outlook: Outlook) -> bytes:
    """Return ``plan.xlsx``, the same bytes for the same plan."""
    return workbook(_sheets(plan, outlook), plan.season, plan.pair_from)


def _sheets(plan: Plan, outlook: Outlook) -> Iterator[Sheet]:
    yield _summary(plan, outlook)
    yield _pairs(plan, outlook)
    yield _young(plan)
    yield _resting(plan)
    yield _males(plan)
    yield _targets(plan)
    yield _calendar(plan, outlook)
    yield _weeks(plan, outlook)
    yield _money(plan, outlook)


def _summary(plan: Plan, outlook: Outlook) -> Sheet:
    told = [
        ("season", plan.season),
        ("plan", verdict_line(plan)),
        *(("look first", caution.text) for caution in plan.cautions),
        ("when", season_told(plan, outlook)),
        ("females", count_line(plan)),
        ("room", room_line(plan.room)),
        ("money", spend_line(plan.room, plan.currency)),
        *([("bad seasons", risk_line(plan))] if plan.bad_seasons else []),
        *(("animals on offer", offer_line(plan, offer)) for offer in plan.offers),
        *(("caution", line) for line in (*plan.notes, *CAUTIONS)),
        *((f"SHA-256 of {name}", digest) for name, digest in plan.inputs.fingerprints.items()),
        *((name, number) for name, number in plan.inputs.versions.items()),
    ]
    return Sheet("Read first", (Column("what", width=18), Column("says", width=80)), tuple(told))


def _pairs(plan: Plan, outlook: Outlook) -> Sheet:
    columns = (
        *PAIR,
        Column(f"value ({plan.currency})", MONEY, 10),
        Column("standard deviation", MONEY, 10),
        Column("chance she goes", SHARE, 8),
        Column("eggs if she goes", TENTH, 7),
        Column("young", TENTH, 7),
        Column("F of the young", KIN, 8),
        Column("first visit", DAY, 11),
        Column("laying from", DAY, 11),
        Column("laying to", DAY, 11),
        Column("hatching from", DAY, 11),
        Column("hatching to", DAY, 11),
        Column("fixed by you", width=12),
    )
    rows = tuple(
        (
            *_who(plan, pair),
            pair.value,
            pair.sd,
            pair.goes,
            pair.eggs,
            pair.young,
            pair.F,
            clutch.visits[0].start if clutch.visits else None,
            clutch.laying.early,
            clutch.laying.late,
            clutch.hatching.early,
            clutch.hatching.late,
            pair.lock,
        )
        for pair, clutch in zip(plan.pairs, outlook.clutches, strict=True)
    )
    return Sheet("Pairs", columns, rows, frozen=2)


def _young(plan: Plan) -> Sheet:
    columns = (
        *PAIR,
        Column("young to expect: chance of each, worth of one", width=75),
        Column("cautions on this pair", width=40),
    )
    rows = tuple(
        (*_who(plan, pair), outcome_words(pair), " ".join(pair.cautions)) for pair in plan.pairs
    )
    return Sheet("Young", columns, rows, frozen=2)


def _who(plan: Plan, pair: PlannedPair) -> tuple[str, ...]:
    return pair.dam, _name(plan, pair.dam), pair.sire, _name(plan, pair.sire)


def _name(plan: Plan, id: str) -> str:
    """Return an animal's name where it has one: its id stands in a column of its own."""
    return plan.names[id].removesuffix(f"({id})").rstrip() if plan.names[id] != id else ""


def _resting(plan: Plan) -> Sheet:
    columns = (
        Column("female", width=9),
        Column("name", width=15),
        Column("rests", width=18),
        Column("rule", width=12),
        Column("reason", width=85),
    )
    rows = tuple(
        (rest.id, _name(plan, rest.id), BY_WORDS[rest.by], reason.rule, reason.text)
        for rest in plan.resting
        for reason in rest.reasons
    )
    return Sheet("Resting", columns, rows, frozen=2)


def _males(plan: Plan) -> Sheet:
    columns = (
        Column("male", width=9),
        Column("name", width=15),
        Column("pairings", WHOLE, 9),
        Column("limit", WHOLE, 7),
        Column("why that many", width=85),
    )
    rows = tuple(
        (
            male.id,
            _name(plan, male.id),
            male.pairings,
            male.limit,
            " ".join(reason.text for reason in male.reasons) or male.limit_from,
        )
        for male in plan.males
    )
    return Sheet("Males", columns, rows, frozen=2)


def _targets(plan: Plan) -> Sheet:
    columns = (
        Column("morph", width=40),
        Column("needed", WHOLE),
        Column("expected", TENTH),
        Column("chance of one", SHARE),
        Column("chance asked", SHARE),
    )
    rows = tuple((t.morph, t.need, t.expected, t.chance, t.asked_chance) for t in plan.targets)
    return Sheet("Targets", columns, rows, frozen=1)


def _calendar(plan: Plan, outlook: Outlook) -> Sheet:
    columns = (
        Column("from", DAY, 11),
        Column("to", DAY, 11),
        Column("what", width=19),
        Column("animals", width=16),
        Column("entry", width=40),
        Column("look for", width=60),
    )
    rows = tuple(
        (
            task.start,
            task.end,
            str(task.kind),
            " ".join(task.animals),
            task_title(task, plan.names),
            task_note(task, plan.names),
        )
        for task in outlook.tasks
    )
    return Sheet("Calendar", columns, rows, frozen=2)


def _weeks(plan: Plan, outlook: Outlook) -> Sheet:
    parts = ("eggs", "boxes", "hatchlings")
    columns = [Column("week from", DAY)]
    for part in parts:
        columns.append(Column(f"{part} expected", TENTH))
        columns += [Column(f"{part}, {end} of 8 seasons in 10", WHOLE) for end in ("low", "high")]
    columns += [Column("boxes there are", WHOLE), Column("tubs there are", WHOLE)]
    rows = []
    for week in outlook.weeks:
        row: list[Value] = [week.monday]
        for load in (week.eggs, week.boxes, week.tubs):
            row += [load.mean, load.low, load.high]
        rows.append((*row, plan.room.boxes_limit, plan.room.tubs_limit))
    return Sheet("Eggs by week", tuple(columns), tuple(rows), frozen=1)


def _money(plan: Plan, outlook: Outlook) -> Sheet:
    columns = (Column("part", width=44), Column(f"expected ({plan.currency})", MONEY, 18))
    rows: list[tuple[Value, ...]] = list(money_parts(plan.money))
    luck = outlook.luck
    rows += [
        ("together", plan.objective),
        ("one simulated season in ten brings this or less", luck.money.p10),
        ("half of them bring this or less", luck.money.p50),
        ("nine in ten bring this or less", luck.money.p90),
        ("the worst tenth bring on average", luck.worst),
    ]
    return Sheet("Money", columns, tuple(rows))
