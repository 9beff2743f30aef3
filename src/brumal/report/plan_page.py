"""The plan as one page."""

from __future__ import annotations

from brumal.planner.plan import Plan
from brumal.report.page import render
from brumal.report.plan_words import (
    BY_WORDS,
    clash_head,
    clash_lines,
    count_line,
    money_line,
    outcome_words,
    room_line,
    verdict_line,
)
from brumal.report.words import figure, inbreeding, percent


def plan_page(plan: Plan) -> str:
    """Return ``plan.html``: self-contained, no script, no network."""
    return render(
        "plan.html",
        plan=plan,
        verdict=verdict_line(plan),
        counts=count_line(plan),
        room=room_line(plan.room),
        money_made=money_line(plan),
        by_words=BY_WORDS,
        clash_head=clash_head,
        clash_lines=clash_lines,
        outcome_words=outcome_words,
        figure=figure,
        inbreeding=inbreeding,
        percent=percent,
    )
