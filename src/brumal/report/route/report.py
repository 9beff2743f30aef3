"""Routes on the terminal, as a page and as data."""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass
from datetime import date

from rich.console import Console
from rich.text import Text

from brumal.report.page import picture, render
from brumal.report.route import words
from brumal.report.route.pictures import pair_pictures, route_picture
from brumal.report.terminal import heading, indented, wrapped
from brumal.report.words import counted
from brumal.routes.missing import Missing
from brumal.routes.route import Route, Step

SHOWN = 6
"""Routes that are told; the others are in the data."""
STEP_LINES = 30
"""Lines of steps on the terminal after which no season begins any more: the page has them all."""
VERSION = 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Routes:
    """All that is told of routes to a target.

    ``on`` is the day the season is seen from, ``last`` the last year asked for, ``keep`` the most
    young held at once, ``chance`` the chance asked for. ``missing`` is there where no route is.
    """

    target: str
    season: str
    on: date
    currency: str
    last: int
    keep: int
    chance: float | None
    routes: tuple[Route, ...]
    missing: Missing | None
    notes: tuple[str, ...] = ()


def print_routes(found: Routes, screen: Console) -> None:
    """Print the routes, the likeliest first, or what is missing."""
    screen.print(words.title(found.target, found.season), style="bold")
    for line in _head(found):
        indented(line, screen, by=0)
    for route in found.routes[:1]:
        _print_route("Route 1", route, found, screen)
    _print_others(found, screen)
    if found.missing is not None:
        _print_missing(found.missing, found, screen)
    screen.print()
    for line in (words.EXACT, words.GROWTH):
        indented(line, screen, by=0)


def routes_page(found: Routes) -> str:
    """Return ``route.html``: self-contained, no script, no network."""
    told = [(f"Route {n}", n, route) for n, route in enumerate(found.routes[:SHOWN], 1)]
    if found.missing is not None and found.missing.route is not None:
        told.append((_bought(found.missing), 1, found.missing.route))
    return render(
        "route.html",
        found=found,
        words=words,
        head=_head(found),
        missing=_missing(found),
        routes=[
            (
                name,
                route,
                picture(route_picture(route, found.target, n)),
                [picture(each) for each in pair_pictures(route, found.target, n)],
                _by_season(route),
            )
            for name, n, route in told
        ],
    )


def routes_json(found: Routes) -> str:
    """Return ``route.json``."""
    data = {
        "version": VERSION,
        "target": found.target,
        "as_of": found.on.isoformat(),
        "by": found.last,
        "keep": found.keep,
        "routes": [_data(route) for route in found.routes],
    }
    if found.missing is not None:
        data["missing"] = {
            "genes": {gene: list(others) for gene, others in found.missing.genes.items()},
            "first_year": found.missing.later,
            "buy": [
                {"animal": tried.words, "year": tried.year, "chance": tried.chance}
                for tried in found.missing.tried
            ],
            "route": _data(found.missing.route) if found.missing.route else None,
        }
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def _head(found: Routes) -> list[str]:
    room = counted(found.keep, "young", "young")
    lines = [f"Seen from {found.on}, up to the young of {found.last}, {room} held at most."]
    lines += found.notes
    if found.routes and found.chance is not None:
        lines.append(words.asked_line(found.routes[:SHOWN], found.chance))
    rest = len(found.routes) - SHOWN
    if rest > 0:
        lines.append(f"The {SHOWN} likeliest are told; {rest} more are in route.json.")
    return lines


def _print_route(name: str, route: Route, found: Routes, screen: Console) -> None:
    heading(name, screen)
    for line in (
        words.chance_line(route),
        words.bound_line(route),
        words.needs_line(route, found.currency),
        words.founders_line(route),
    ):
        indented(line, screen, by=0)
    printed = 0
    for year, steps in _by_season(route):
        lines = [Text(f"Young of {year}:")]
        for step in steps:
            lines += wrapped(words.step_line(step, route, found.target), screen, "  - ")
            for kept in words.told_kept(step):
                lines += wrapped(words.kept_line(kept), screen, "    ")
        if printed and printed + len(lines) > STEP_LINES:
            screen.print(f"The steps for young of {year} and later are in route.html.")
            break
        screen.print(Text("\n").join(lines), soft_wrap=True)
        printed += len(lines)
    for line in (words.rest_line(words.told_steps(route)[1]), words.proof_line(route)):
        if line:
            indented(line, screen, by=0)


def _print_others(found: Routes, screen: Console) -> None:
    """Print a line or two of each route but the first."""
    others = found.routes[1:SHOWN]
    if not others:
        return
    heading("Other routes, step by step in route.html", screen)
    for number, route in enumerate(others, 2):
        _bullet(words.brief_line(number, route, found.currency), screen)


def _by_season(route: Route) -> list[tuple[int, list[Step]]]:
    shown, _ = words.told_steps(route)
    return [
        (year, list(steps)) for year, steps in itertools.groupby(shown, key=lambda step: step.year)
    ]


def _missing(found: Routes) -> list[str]:
    return words.missing_lines(found.missing, found.target, found.last) if found.missing else []


def _bought(missing: Missing) -> str:
    return f"The route with {missing.tried[0].words} bought"


def _print_missing(missing: Missing, found: Routes, screen: Console) -> None:
    screen.print()
    for line in _missing(found):
        indented(line, screen, by=0)
    if missing.tried:
        heading("If animals were bought", screen)
        for tried in missing.tried:
            _bullet(words.tried_line(tried), screen)
    if missing.route is not None:
        _print_route(_bought(missing), missing.route, found, screen)


def _bullet(text: str, screen: Console) -> None:
    """Print an item of a list whose lines end with their text."""
    screen.print(Text("\n").join(wrapped(text, screen, "  - ")), soft_wrap=True)


def _data(route: Route) -> dict[str, object]:
    return {
        "seasons": route.seasons,
        "chance": {str(year): chance for year, chance in route.chance},
        "at_most": route.most,
        "expected": route.expected,
        "held": route.held,
        "pairs_a_season": route.clutches,
        "cost": route.cost,
        "F": route.F,
        "founders": list(route.founders),
        "buy": [route.labels[name] for name in route.bought],
        "steps": [_step(step) for step in route.steps],
    }


def _step(step: Step) -> dict[str, object]:
    return {
        "season": step.season,
        "year": step.year,
        "dam": step.dam,
        "sire": step.sire,
        "made": step.reached,
        "target": step.target,
        "F": step.F,
        "keep": [
            {
                "name": kept.name,
                "look": kept.look,
                "sex": str(kept.sex),
                "count": kept.count,
                "odds": kept.odds,
                "chance": kept.chance,
                "breeds": kept.ready,
            }
            for kept in step.keep
        ],
    }
