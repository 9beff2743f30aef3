"""The words of a review: what was expected, what came, whether the window held."""

from __future__ import annotations

from brumal.insight.review.money import MoneyFigure
from brumal.insight.review.season import ClutchReview, Held, OwnFigure, Review
from brumal.insight.review.windows import DayFigure, Figure
from brumal.records.plain_values import sure_money
from brumal.report.words import SURELY_NOT, counted, estimate, figure, money, percent

WHAT = {
    "eggs": "eggs",
    "fertile": "fertile eggs",
    "hatched": "young hatched",
    "shed": "pre-lay shed",
    "laying": "laying",
    "hatching": "hatching",
    "money": "money of a pair",
}


def head(review: Review) -> str:
    """Return how many went of how many that were expected to."""
    expected, went, of = review.goes
    if not of:
        return "No pair of the season is settled yet."
    return (
        f"{of} {'female is' if of == 1 else 'females are'} settled: {went} laid, "
        f"{figure(expected)} {'was' if expected <= 1 else 'were'} to be expected. "
        "Forecasts are those of the first day of pairing, by ordinary visits; a hatching was "
        "foreseen on the day she laid."
    )


def held_line(held: Held) -> str:
    """Return how many windows of a kind held; eight in ten should."""
    return f"{WHAT[held.what]}: {held.held} of {held.of} windows held"


def own_line(own: OwnFigure) -> str:
    """Return one of the collection's figures, before this season and with it."""
    if own.what == "eggs":
        return f"eggs of a grown female: {figure(own.before)} before, {figure(own.now)} now"
    called = "eggs that are fertile" if own.what == "fertile" else "fertile eggs that hatch"
    return f"{called}: {percent(own.before)} before, {percent(own.now)} now"


def clutch_head(review: Review, clutch: ClutchReview) -> str:
    """Return dam, sire and how far they came."""
    males = [(sire, chance) for sire, chance in clutch.sires if chance > SURELY_NOT]
    sires = " or ".join(
        review.names.get(sire, sire) + (f" ({percent(chance)})" if len(males) > 1 else "")
        for sire, chance in males
    )
    return f"{review.names.get(clutch.dam, clutch.dam)} x {sires}"


def went_line(clutch: ClutchReview) -> str:
    """Return whether she laid, and what chance she was given."""
    chance = f"She was given a chance of {percent(clutch.goes)} to lay."
    if clutch.went is None:
        return f"{chance} Still open: {clutch.stage}."
    if not clutch.went:
        return f"{chance} She did not."
    laid = clutch.clutch.laid if clutch.clutch is not None else None
    return f"{chance} She laid{f' on {laid}' if laid else ''}."


def figure_rows(clutch: ClutchReview) -> list[tuple[str, ...]]:
    """Return a row for each count and day that is known: what, expected, window, came, held."""
    return [
        _row(WHAT[what], found)
        for what in WHAT
        if what != "money" and (found := getattr(clutch, what)) is not None
    ]


def _row(what: str, found: Figure | DayFigure) -> tuple[str, ...]:
    low, high = str(found.low), str(found.high)
    mean = figure(found.mean) if isinstance(found, Figure) else str(found.mean)
    window = low if low == high else f"{low} to {high}"
    return what, mean, window, str(found.came), "yes" if found.held else "no"


def look_rows(clutch: ClutchReview) -> list[tuple[str, ...]]:
    """Return a row for each look that hatched: look, chance of each, expected, came."""
    return [
        (look.look, percent(look.chance), figure(look.expected), str(look.came))
        for look in clutch.looks
    ]


def money_line(clutch: ClutchReview, currency: str) -> str:
    """Return what the pair was to bring and what its young come to at the same prices."""
    came = "Its young come to" if clutch.went else "Without eggs it comes to"
    return _money(clutch.money, "Expected", came, currency)


def money_in_all(review: Review) -> str:
    """Return what the settled pairs were to bring together, and what they come to."""
    count = sum(each.money.came is not None for each in review.clutches)
    if review.money is None:
        return ""
    whose = f"Money of the {counted(count, 'settled pair')}: expected"
    return _money(review.money, whose, "They come to", review.currency)


def _money(found: MoneyFigure, expected: str, came: str, currency: str) -> str:
    spread = (found.high - found.low) / 2
    low, high = (sure_money(each, spread) for each in (found.low, found.high))
    told = (
        f"{expected} {estimate(found.mean, currency, spread)}, window {low} to {high} {currency}."
    )
    if found.came is None:
        return told
    held = "yes" if found.held else "no"
    return f"{told} {came} {money(found.came, currency)} at the same prices, held: {held}."
