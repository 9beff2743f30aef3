"""What is said of routes, on the terminal and on the page."""

from __future__ import annotations

from brumal.report.words import counted, figure, inbreeding, money, odds, percent
from brumal.routes.missing import Missing, Tried
from brumal.routes.route import Kept, Route, Step

EXACT = (
    "Chances are exact for what a route says is done: clutch sizes, sexes and genotypes at random, "
    "possible hets possible until proved. A route that fails in a season pairs again in the next. "
    "Clutches are forecast as for this season; what keeping an animal costs is not counted."
)
GROWTH = (
    "When young are old and heavy enough follows the age and weight of your rules and usual growth "
    "(common practice, no source). The scales decide, not the calendar."
)
RARE = 0.05
"""Pairs made more seldom than this are counted, not told."""


def title(target: str, season: str) -> str:
    """Return the heading."""
    return f"{season}: routes to {target}"


def chance_line(route: Route) -> str:
    """Return the chance by each year, from the first year with one."""
    return f"Chance of at least one: {_by_years(route)}."


def brief_line(number: int, route: Route, currency: str) -> str:
    """Return what tells a route from others: its chance, the young it holds, its cost."""
    return (
        f"Route {number}: {_by_years(route)}; holds {_held(route)} at once; expected cost "
        f"{money(route.cost, currency)}."
    )


def _held(route: Route) -> str:
    return f"at most {counted(route.held, 'young', 'young')}" if route.held else "no young"


def _by_years(route: Route) -> str:
    years = [f"{percent(chance)} by {year}" for year, chance in route.chance if chance > 1e-12]
    return ", ".join(years)


def bound_line(route: Route) -> str:
    """Return how much a better policy could add."""
    if route.complete:
        return "No other way to use these animals does better."
    return (
        f"No way to use these animals in these years, with so much room, can pass "
        f"{percent(route.most)}."
    )


def needs_line(route: Route, currency: str) -> str:
    """Return what a route asks for."""
    return (
        f"Holds {_held(route)} at once and pairs at most {counted(route.clutches, 'female')} a "
        f"season; expected cost {money(route.cost, currency)} until the first one hatches; "
        f"greatest F of the young {inbreeding(route.F)}; expected number {figure(route.expected)}."
    )


def founders_line(route: Route) -> str:
    """Return the animals a route starts from."""
    told = [
        route.labels[name]
        if name in route.bought
        else f"{route.labels[name]} ({route.morphs[name]})"
        for name in route.founders
    ]
    line = f"Starts from {', '.join(told)}."
    if route.waiting:
        waiting = ", ".join(route.labels[name] for name in route.waiting)
        line += f" Not ready on the first day of pairing and counted on later: {waiting}."
    return line


def step_line(step: Step, route: Route, target: str) -> str:
    """Return a pair of a route with what it may bring."""
    made = "" if step.reached > 1 - 1e-9 else f" (made in {percent(step.reached)} of cases)"
    line = f"{called(step.dam, route)} x {called(step.sire, route)}{made}"
    if step.target > 0:
        line += f": {odds(step.target)} of the young are {target}"
    return f"{line}."


def kept_line(kept: Kept) -> str:
    """Return a young to hold back."""
    line = (
        f"hold {counted(kept.count, str(kept.sex))} {kept.look}, called {kept.name}: "
        f"{odds(kept.odds)} of the young; one is held in {percent(kept.chance)} of cases; "
        f"may breed for young of {kept.ready}"
    )
    return f"{line}; to be proved out." if kept.unproven else f"{line}."


def proof_line(route: Route) -> str:
    """Return what must be proved out on the way."""
    if not route.unproven:
        return ""
    names = ", ".join(dict.fromkeys(kept.name for kept in route.unproven))
    return (
        f"Possible hets until their own young prove them: {names}. The chances count them as "
        "possible; a genetic test, where there is one, tells sooner."
    )


def told_steps(route: Route) -> tuple[list[Step], int]:
    """Return the steps that are told, and how many rarer ones there are."""
    shown = [
        step
        for step in route.steps
        if (step.main or step.reached >= RARE) and (step.target > 0 or told_kept(step))
    ]
    return shown, len(route.steps) - len(shown)


def told_kept(step: Step) -> list[Kept]:
    """Return the young of a step that are told."""
    return [kept for kept in step.keep if kept.main or kept.chance >= RARE]


def rest_line(rest: int) -> str:
    """Return the words for the steps that are not told."""
    if not rest:
        return ""
    told = f"{counted(rest, 'more pair')}, made or of use in less than {percent(RARE)} of cases,"
    return f"{told} {'is' if rest == 1 else 'are'} in route.json."


def called(name: str, route: Route) -> str:
    """Return what an animal is called: a founder by its label, a young by its name."""
    return route.labels.get(name, name)


def asked_line(routes: tuple[Route, ...], asked: float) -> str:
    """Return which route reaches the chance asked for, soonest and with the fewest young held."""
    reach = [
        (year, route.held, place)
        for place, route in enumerate(routes, 1)
        for year, chance in route.chance
        if chance >= asked
    ]
    if not reach:
        return (
            f"None reaches {percent(asked)}: more years (--by), more room (--keep) or more animals "
            "would be needed."
        )
    year, _, place = min(reach)
    fewest = min(reach, key=lambda each: (each[1], each[0]))
    line = f"{percent(asked)} is reached soonest by route {place}, in {year}"
    if fewest[2] != place:
        held = counted(fewest[1], "young", "young")
        line += f"; with the fewest held ({held}) by route {fewest[2]}, in {fewest[0]}"
    return f"{line}."


def missing_lines(missing: Missing, target: str, last: int) -> list[str]:
    """Return why nothing leads to a target in time."""
    lines = [f"Nothing in this collection leads to {target} by {last}."]
    for gene, others in missing.genes.items():
        line = f"Missing: no animal that may breed carries {gene}"
        lines.append(f"{line} ({', '.join(others)} may not breed)." if others else f"{line}.")
    if missing.later is not None:
        lines.append(f"With more years it can: first in {missing.later} (--by {missing.later}).")
    elif not missing.genes:
        lines.append(
            "Every gene is there, but the animals that carry them may not meet in time: they are "
            "too young, too few, or too close kin for your limit on F."
        )
    return lines


def tried_line(tried: Tried) -> str:
    """Return what buying an animal would lead to."""
    if tried.year is None:
        return f"{tried.words}, not kin to any of yours: does not lead there in time."
    told = f"first in {tried.year}, {percent(tried.chance)} by then"
    return f"{tried.words}, not kin to any of yours: {told}."


def by_year(route: Route, year: int) -> str:
    """Return the chance by a year, also past the route's last season."""
    chances = [chance for own, chance in route.chance if own <= year]
    return percent(chances[-1]) if chances else percent(0.0)


def whole_money(amount: float) -> str:
    """Return money without cents for a narrow table."""
    return f"{amount:,.0f}"
