"""The plan as one page, in the order in which a keeper asks."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from markupsafe import Markup

from brumal.insight.compare.since_last import SinceLast
from brumal.insight.week import Week
from brumal.insight.why.outlook import Outlook
from brumal.planner.plan import Plan
from brumal.report.bidi import isolator
from brumal.report.compare import words as since_words
from brumal.report.page import picture, render
from brumal.report.plan import season_words
from brumal.report.plan.pictures import (
    income_picture,
    pair_pictures,
    refused_picture,
    target_picture,
    week_picture,
)
from brumal.report.plan.room_words import over_line, room_line, spend_line
from brumal.report.plan.season_picture import season_pictures
from brumal.report.plan.words import (
    BY_WORDS,
    CAUTIONS,
    came_line,
    count_line,
    line_line,
    luck_line,
    money_parts,
    offer_line,
    outcome_words,
    pair_cautions,
    risk_line,
    route_lines,
    second_line,
    stand_in_lines,
    start_line,
    state_words,
    verdict_line,
    worst_line,
)
from brumal.report.ready.pictures import weight_picture
from brumal.report.svg import Picture
from brumal.report.week.report import day_name, task_line
from brumal.report.words import figure, inbreeding, percent
from brumal.rules.readiness import Readiness

SECTIONS = (
    ("first", "Look first"),
    ("pairs", "Pairs"),
    ("resting", "Who rests, and why"),
    ("males", "Males and their rounds"),
    ("targets", "What you want, and the odds"),
    ("calendar", "Calendar"),
    ("room", "Boxes by week"),
    ("kinship", "Kinship"),
    ("money", "Money"),
    ("change", "What to change first"),
    ("cautions", "Cautions"),
    ("inputs", "Made from"),
)


def plan_page(
    plan: Plan, outlook: Outlook, week: Week | None = None, since: SinceLast | None = None
) -> str:
    """Return ``plan.html``: self-contained, no script, no network."""
    return render(
        "plan.html",
        plan=plan,
        outlook=outlook,
        week=week if week is not None and week.tasks else None,
        since=since,
        since_words=since_words,
        day_name=day_name,
        task_line=task_line,
        titles={id: title for id, title in SECTIONS if id != "first" or plan.cautions},
        told=told_by(plan, outlook),
        words=season_words,
        verdict=verdict_line(plan),
        counts=count_line(plan),
        room=room_line(plan.room),
        risk=risk_line(plan),
        money_parts=money_parts(plan.money),
        spend=spend_line(plan.room, plan.currency),
        luck=luck_line(outlook.luck, plan.currency),
        worst=worst_line(outlook.luck, plan.currency),
        over=over_line(outlook.luck),
        line_line=line_line(plan),
        routes=[route_lines(plan, route) for route in plan.routes],
        offers=[offer_line(plan, offer) for offer in plan.offers],
        by_words=BY_WORDS,
        cautions=CAUTIONS,
        outcome_words=outcome_words,
        came_line=came_line,
        second_line=second_line,
        start_line=start_line,
        state_words=state_words,
        stand_ins=stand_in_lines(plan),
        pair_cautions=pair_cautions,
        figure=figure,
        inbreeding=inbreeding,
        percent=percent,
        pictures=_pictures(plan, outlook),
    )


def told_by(plan: Plan, outlook: Outlook) -> Callable[[str], Markup]:
    """Return what writes a sentence of this plan safely, names of either direction included."""
    names = [one.animal.name for one in outlook.animals.values()]
    morphs = [outcome.morph for pair in plan.pairs for outcome in pair.outcomes]
    targets = [target.morph for target in plan.targets]
    targets += [kept.look for r in plan.routes for pair in r.pairs for kept in pair.keep]
    return isolator([*plan.names.values(), *names, *morphs, *targets, plan.season])


def _pictures(plan: Plan, outlook: Outlook) -> dict[str, object]:
    return {
        "pairs": _drawn(pair_pictures(plan)),
        "weights": _weights(plan, outlook),
        "targets": _drawn([target_picture(plan.targets)]),
        "season": _drawn(season_pictures(plan, outlook)),
        "room": _room(plan, outlook),
        "income": _drawn([income_picture(outlook.luck, plan.currency)]),
        "refused": _drawn([refused_picture(outlook.refused)]),
    }


def _room(plan: Plan, outlook: Outlook) -> list[tuple[str, Markup]]:
    weeks, room = outlook.weeks, plan.room
    parts = (
        ("Boxes", [week.boxes for week in weeks], room.boxes_limit),
        ("Eggs", [week.eggs for week in weeks], None),
        ("Hatchlings", [week.tubs for week in weeks], room.tubs_limit),
    )
    drawn = [(name, week_picture(weeks, loads, limit, name)) for name, loads, limit in parts]
    return [(name, picture(image)) for name, image in drawn if image is not None]


def _weights(plan: Plan, outlook: Outlook) -> list[tuple[Readiness, Markup]]:
    drawn = [(one, weight_picture(one, plan.pair_from)) for one in outlook.near]
    return [(one, picture(image)) for one, image in drawn if image is not None]


def _drawn(images: Iterable[Picture | None]) -> list[Markup]:
    return [picture(image) for image in images if image is not None]
