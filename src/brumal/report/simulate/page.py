"""Simulated seasons as one page."""

from __future__ import annotations

from markupsafe import Markup

from brumal.insight.simulate.seasons import Simulation
from brumal.insight.why.steadiness import Steady
from brumal.insight.why.whole import Subject
from brumal.report.bidi import isolator
from brumal.report.page import picture, render
from brumal.report.plan.pictures import income_picture, week_picture
from brumal.report.plan.words import luck_line, worst_line
from brumal.report.simulate import words as simulate_words


def simulate_page(luck: Simulation, steady: Steady | None, subject: Subject) -> str:
    """Return ``simulate.html``: self-contained, no script, no network."""
    income = income_picture(luck, subject.currency)
    names = [*subject.names.values(), subject.season]
    morphs = [each.morph for each in luck.targets] + [each.look for each in luck.looks]
    return render(
        "simulate.html",
        luck=luck,
        steady=steady,
        subject=subject,
        words=simulate_words,
        lines=(
            simulate_words.mean_line(luck, subject),
            luck_line(luck, subject.currency),
            worst_line(luck, subject.currency),
        ),
        target_rows=[simulate_words.target_row(target) for target in luck.targets],
        look_rows=[simulate_words.look_row(look) for look in luck.looks],
        told=isolator([*names, *morphs]),
        income=picture(income) if income else "",
        room=_room(luck),
    )


def _room(luck: Simulation) -> list[Markup]:
    """Draw boxes and tubs by week: the mean, eight seasons of ten, the limit."""
    weeks, room = luck.room.weeks, luck.room
    drawn = (
        week_picture(weeks, [week.boxes for week in weeks], room.boxes.limit, "Boxes"),
        week_picture(weeks, [week.tubs for week in weeks], room.tubs.limit, "Hatchling tubs"),
    )
    return [picture(image) for image in drawn if image is not None]
