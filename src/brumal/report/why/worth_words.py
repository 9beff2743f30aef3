"""The words of shadow prices and of alternatives: what to change first, what else is as good."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.insight.why.alternatives import Alternatives, Standing
from brumal.insight.why.counterfactuals import Counterfactual
from brumal.insight.why.shadow_prices import MALE_WEIGHT, WEIGHT, ShadowPrice, Short
from brumal.insight.why.whole import Subject
from brumal.planner.solver.answer import Verdict
from brumal.report.why.words import moves_words
from brumal.report.words import counted, difference

PRICES_NOTE = (
    "Each figure is the value of the best plan with so much more, less that of the plan: two "
    "optima, not a rate. Two things bought together may bring more or less than their sum."
)

MOST_NAMED = 40
"""Longer lists of pairs and sit-outs are counted."""
FEEDING_NOTE = (
    "Weight comes slowly, over months: feed none up for the sake of one season, and a heavier "
    "one must not become a fat one. Watch its body condition; a vet says how much it may gain."
)
KIN_NOTE = (
    "A looser cap on F lets closer kin breed; F 0.25 is that of young of full siblings, or of "
    "parent and young. What it would bring is told as a price and is not a reason to do it."
)


def price_name(price: ShadowPrice, subject: Subject) -> str:
    """Name what there is more of."""
    return price.words.format(owner=subject.names.get(price.animal, price.animal))


def price_gain(price: ShadowPrice) -> str:
    """Write what it is worth."""
    if price.otherwise is not None and price.otherwise.verdict is Verdict.IMPOSSIBLE:
        return "no plan"
    if price.otherwise is not None and price.otherwise.change is None:
        return "not settled"
    if price.otherwise is not None and price.otherwise.too_close:
        return f"too close to tell ({price.otherwise.least:+,.2f} to {price.otherwise.most:+,.2f})"
    told = f"{price.gain:+,.2f}" if price.gain else "0"
    if price.otherwise is not None and not price.otherwise.exact:
        return f"{told} ({price.otherwise.least:+,.2f} to {price.otherwise.most:+,.2f})"
    return told


def price_why(price: ShadowPrice, subject: Subject) -> str:
    """Say which pairs move, or why it is worth nothing."""
    if price.short is not None:
        return str(price.short)
    if price.otherwise is None or not price.gain:
        return ""
    return moves_words(price.otherwise.moves, subject) or "the same pairs"


def told_prices(prices: Sequence[ShadowPrice]) -> tuple[list[ShadowPrice], list[ShadowPrice]]:
    """Part the prices into those that tell something and those worth nothing."""
    some = [price for price in prices if price.gain or _open(price)]
    return some, [price for price in prices if not (price.gain or _open(price))]


def _open(price: ShadowPrice) -> bool:
    return price.otherwise is not None and not price.otherwise.exact


def nothing_line(prices: Sequence[ShadowPrice], subject: Subject) -> str:
    """Name what is worth nothing, females and males to be heavier counted."""
    losing = [
        subject.names[each.animal]
        for each in prices
        if each.short in (Short.LOSING, Short.MALE_LOSING)
    ]
    heavier = {WEIGHT: "other female", MALE_WEIGHT: "other male"}
    names = [price_name(p, subject) for p in prices if p.thing not in heavier]
    for thing, word in heavier.items():
        count = sum(
            price.thing == thing and subject.names[price.animal] not in losing for price in prices
        )
        if count:
            names.append(f"50 g more on {counted(count, word)}")
    told = [f"Worth nothing: {'; '.join(names)}."] if names else []
    if losing:
        told.append(f"Not asked, because they are losing weight: {', '.join(losing)}.")
    return " ".join(told)


def alternative_line(plan: Counterfactual, subject: Subject) -> str:
    """Say what another plan brings and which females change."""
    assert plan.change is not None
    most = "" if plan.exact else f" (at most {difference(plan.most)})"
    change = difference(plan.change)
    return f"{change} {subject.currency}{most}: {moves_words(plan.moves, subject)}."


def alternatives_head(found: Alternatives) -> str:
    """Introduce the alternatives."""
    if not found.plans:
        return f"No other plan differs in {counted(found.apart, 'female')} or more."
    count = len(found.plans)
    plans = (
        "The next best plan that differs" if count == 1 else f"The {count} best plans that differ"
    )
    each = "" if count == 1 else ", and from each other,"
    return f"{plans}{each} in at least {counted(found.apart, 'female')}:"


def standing_lines(found: Alternatives, subject: Subject) -> list[str]:
    """Say which pairs and sit-outs stand in every plan nearly as good."""
    near = f"{found.near:.0%}"
    lines = []
    for standing, words in (
        (Standing.SAFE, f"In every plan within {near} of the best"),
        (Standing.OPEN, f"Up to you (some plan within {near} does without)"),
        (Standing.UNSETTLED, "Not settled within the gap"),
    ):
        pairs = [pair for pair, found_as in found.pairs.items() if found_as is standing]
        rest = [dam for dam, found_as in found.resting.items() if found_as is standing]
        told = [f"{subject.names[dam]} x {subject.names[sire]}" for dam, sire in pairs]
        told += [f"{subject.names[dam]} rests" for dam in rest]
        if len(told) > MOST_NAMED:
            told = [f"{counted(len(pairs), 'pair')} and {counted(len(rest), 'sit-out')}"]
        if told:
            lines.append(f"{words}: {'; '.join(told)}.")
    return lines
