"""The sentences of the planning page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from brumal.insight.compare.differences import MoneyBetween, Move, money_between
from brumal.insight.why.choices import Choice
from brumal.insight.why.shadow_prices import ShadowPrice
from brumal.insight.why.whole import Subject
from brumal.page.messages import OneMore, Solved
from brumal.planner.plan import Plan, PlannedPair
from brumal.records.plain_values import sure_money
from brumal.records.variant import Variant
from brumal.report.plan.season_words import kin_line, rounds
from brumal.report.plan.words import clash_head, clash_lines, verdict_line
from brumal.report.why.words import loses
from brumal.report.why.worth_words import price_name
from brumal.report.words import difference, estimate, figure, money, percent
from brumal.rules.start import Start

if TYPE_CHECKING:
    from brumal.page.desk import Shown

CLOSE = "too close to tell"


def state_line(shown: Shown, currency: str) -> str:
    """Say what is known of the plan that stands on the page."""
    if shown.faults:
        return "This cannot be planned; the plan below is the one before."
    if shown.solved is not None and shown.solved.number == shown.number:
        return verdict_line(shown.solved.plan)
    if shown.looking is not None and shown.looking.best is not None:
        return f"Still looking: {_at_most(shown, currency)}."
    if shown.first is not None and shown.first.plan is not None:
        value = estimate(shown.first.plan.value, currency)
        return f"At once, by mending the last plan: {value}. The best plan is being looked for."
    if shown.first is not None:
        return "No plan at once; the best one is being looked for."
    if shown.solved is not None:
        return "The change is being looked at; the plan below is the one before it."
    return "Reading the season; its plan is being looked for."


def _at_most(shown: Shown, currency: str) -> str:
    looking = shown.looking
    assert looking is not None and looking.best is not None
    best = estimate(looking.best, currency)
    if looking.bound is None:
        return f"the best plan so far brings {best}"
    most = sure_money(max(0.0, looking.bound - looking.best), up=True)
    return f"the best plan so far brings {best}, and none more than {most} {currency} above that"


def money_line(shown: Shown, currency: str) -> str:
    """Say what the plan on the page is expected to bring."""
    plan = shown.solved.plan if shown.solved is not None else None
    if plan is not None and shown.is_final and not shown.faults:
        if plan.objective is None:
            return "No plan"
        return estimate(plan.objective, currency, plan.spread)
    if shown.looking is not None and shown.looking.best is not None:
        return estimate(shown.looking.best, currency)
    if shown.first is not None and shown.first.plan is not None:
        return estimate(shown.first.plan.value, currency)
    return "…" if plan is None or plan.objective is None else estimate(plan.objective, currency)


def clash_words(shown: Shown) -> tuple[str, ...]:
    """Say why no plan is possible, where that is so."""
    if shown.solved is None or not shown.is_final:
        return ()
    return tuple(
        line
        for clash in shown.solved.plan.clashes
        for line in (clash_head(clash), *clash_lines(clash))
    )


def moved_lines(
    before: Plan, now: Plan, found: Sequence[Move], names: Mapping[str, str], variant: Variant
) -> tuple[str, ...]:
    """Say what the pencil moved: money, then each female whose season differs."""
    told = []
    money_moved = money_between(before, now)
    if money_moved is not None:
        told.append(_money_moved(money_moved, now.currency))
    once = variant.received - variant.paid
    if once:
        verb = "come in" if once > 0 else "are paid"
        told.append(f"{money(abs(once), now.currency)} {verb} once, beside the plan")
    return (*told, *(_move(move, names) for move in found))


def _money_moved(moved: MoneyBetween, currency: str) -> str:
    """Tell a difference; where the gaps of the two plans overlap, nothing is claimed."""
    if moved.too_close:
        return f"worth about the same as the season as it stands ({CLOSE})"
    if abs(moved.change) < 0.005:
        return "worth the same as the season as it stands"
    return f"{difference(moved.change)} {currency} against the season as it stands"


def _move(move: Move, names: Mapping[str, str]) -> str:
    dam = names.get(move.dam, move.dam)
    if move.after is None:
        return f"{dam} rests"
    sire = names.get(move.after, move.after)
    return f"{dam} comes in, with {sire}" if move.before is None else f"{dam} goes to {sire}"


def start_words(start: Start) -> str:
    """Say from when an animal may start, and on what that rests."""
    told = f"from {start.day}"
    if start.provisional and start.asked_g is not None:
        told += f", if {start.asked_g:,.0f} g by {start.weigh_on} ({percent(start.chance)})"
    return told


def clutch_words(pair: PlannedPair) -> str:
    """Say what clutch is expected."""
    return (
        f"{percent(pair.goes)} that she goes; {figure(pair.eggs)} eggs if she does; "
        f"{figure(pair.young)} young expected in all"
    )


def round_lines(solved: Solved | None, names: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Return each male with his visits in order."""
    if solved is None or solved.outlook is None:
        return ()
    return tuple(
        (names[male], "; ".join(f"{day} {names[female]}" for day, female in visits))
        for male, visits in rounds(solved.outlook)
    )


def more_words(found: OneMore | None, animal: str = "") -> dict[str, str]:
    """Say by thing what one more of each limit would bring: of the season, or of an animal."""
    if found is None:
        return {}
    told: dict[str, list[str]] = {}
    for price in found.prices:
        if price.animal == animal:
            told.setdefault(price.thing, []).append(_more(price, found.subject))
    lines = {thing: "; ".join(each) for thing, each in told.items()}
    return {thing: f"{line[:1].upper()}{line[1:]}." for thing, line in lines.items()}


def _more(price: ShadowPrice, subject: Subject) -> str:
    name = price_name(price, subject)
    other = price.otherwise
    if other is None or other.change is None:
        return f"{name}: {price.short or 'not settled'}"
    if other.too_close:
        return f"{name}: {CLOSE}"
    gain = difference(price.gain)
    return f"{name}: {gain} {subject.currency}" if price.gain else f"{name}: brings nothing"


def choice_words(choice: Choice, subject: Subject) -> str:
    """Say what the season loses if she goes to another sire, and how the two are kin."""
    alone = estimate(choice.alone, subject.currency)
    told = f"{loses(choice.with_it, subject)}; the pair by itself brings {alone}"
    return f"{told}; {kin_line(choice.kin)}" if choice.F > 0 else f"{told}; no kin on record"
