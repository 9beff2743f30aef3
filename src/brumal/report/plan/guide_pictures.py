"""The pictures of the keeper's guide, from a season folder: ``docs/pictures``.

``python -m brumal.report.plan.guide_pictures scenarios/demo docs/pictures`` writes them anew; a
test holds the guide to them.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.etree import ElementTree as Xml

from brumal.insight.why.outlook import Outlook, look_ahead
from brumal.pipeline import prepare
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.planner.season import solve_season
from brumal.records.animals import Sex
from brumal.report.page import style
from brumal.report.plan.pictures import (
    income_picture,
    pair_pictures,
    refused_picture,
    target_picture,
    week_picture,
)
from brumal.report.ready.pictures import weight_picture
from brumal.report.svg import Picture

NAMESPACE = "http://www.w3.org/2000/svg"
MOST_WIDE = 720


def guide_pictures(plan: Plan, outlook: Outlook) -> Mapping[str, str]:
    """Return the guide's pictures as files that stand alone: name -> SVG."""
    boxes = [week.boxes for week in outlook.weeks]
    waiting = [one for one in outlook.near if one.animal.sex is Sex.FEMALE]
    drawn: dict[str, Picture | None] = {
        "pairs.svg": pair_pictures(plan)[0],
        "weight.svg": weight_picture(waiting[0], plan.pair_from) if waiting else None,
        "targets.svg": target_picture(plan.targets),
        "boxes.svg": week_picture(outlook.weeks, boxes, plan.room.boxes_limit, "Boxes"),
        "income.svg": income_picture(outlook.luck, plan.currency),
        "refused.svg": refused_picture(outlook.refused),
    }
    return {name: alone(picture) for name, picture in drawn.items() if picture is not None}


def alone(picture: Picture) -> str:
    """Return a picture with its own colours, light and dark, on its own paper."""
    root = Xml.fromstring(str(picture))  # noqa: S314  (our own text)
    width, height = (root.get("viewBox") or "").split()[2:]
    paper = Xml.Element(
        f"{{{NAMESPACE}}}rect", {"width": width, "height": height, "class": "paper"}
    )
    sheet = Xml.Element(f"{{{NAMESPACE}}}style")
    sheet.text = _colours()
    root.insert(2, paper)
    root.insert(2, sheet)
    root.set("width", f"{min(1.5 * float(width), MOST_WIDE):g}")
    Xml.register_namespace("", NAMESPACE)
    return Xml.tostring(root, encoding="unicode") + "\n"


def _colours() -> str:
    """Return the rules of the pages' style that bear on pictures."""
    css = style()
    schemes = re.findall(r"^:root \{.*?\}\n|^@media \(prefers.*?\n\}\n", css, re.S | re.M)
    rules = re.findall(r"^\.picture (?:text|\.).*\n", css, re.M)
    return "\n" + "".join([*schemes, *rules])


def main(arguments: Sequence[str]) -> None:
    """Write the pictures of the season folder ``arguments[0]`` into the folder ``arguments[1]``."""
    prepared = prepare(Path(arguments[0]))
    season = solve_season(prepared)
    plan = plan_of(season)
    out = Path(arguments[1])
    out.mkdir(parents=True, exist_ok=True)
    for name, text in guide_pictures(plan, look_ahead(season, plan)).items():
        (out / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
