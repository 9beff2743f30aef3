"""The sentences that every form of the plan shares."""

from __future__ import annotations

from brumal.insight.simulate.seasons import Simulation
from brumal.planner.infeasible import InfeasibleSet
from brumal.planner.plan import (
    ForLater,
    Money,
    Offer,
    Plan,
    PlannedPair,
    PlannedRoute,
    StandIns,
    Unready,
)
from brumal.planner.solver.answer import Verdict
from brumal.records.plain_values import sure_money
from brumal.records.season_state import Stage
from brumal.report.words import (
    SURELY_NOT,
    counted,
    difference,
    estimate,
    money,
    odds,
    percent,
)
from brumal.rules.start import Start
from brumal.rules.verdict import Rank

SHOWN = 5
EXACT = 1e-5
"""A plan proven to this share of its value is told as the best."""
BY_WORDS = {"rule": "by rule", "lock": "as you asked", "choice": "by choice of the plan"}
CAUTIONS = (
    "Not veterinary advice: a licensed vet decides on health, above all for a female that strains "
    "or stops mid-lay.",
    "Local law decides on keeping, breeding and sale of the species and of morphs with known "
    "disorders; CITES Appendix II holds for movement across borders.",
    "Figures are estimates; living animals differ.",
)


def verdict_line(plan: Plan) -> str:
    """Say in one sentence what is known of the plan."""
    if plan.verdict is Verdict.IMPOSSIBLE:
        return "No plan is possible: what you asked for clashes."
    if plan.objective is None or plan.gap is None:
        return "Stopped before a plan was found: allow more time with --time-limit."
    if plan.unready is not None and plan.verdict is Verdict.PROVEN and plan.gap < EXACT:
        return _unready_line(plan, plan.unready)
    worth = estimate(plan.objective, plan.currency, plan.spread)
    most = f"{sure_money(plan.left_open, up=True)} {plan.currency}"
    told = "expected" if plan.bad_seasons is None else "with bad seasons counted"
    if plan.few_visits and plan.by_calendar is not None:
        less = estimate(plan.by_calendar, plan.currency, plan.spread)
        told += f" with ordinary visits, {less} by the visits of its calendar"
    if plan.verdict is Verdict.PROVEN and plan.gap < EXACT:
        return f"Proven best plan: {worth} {told}."
    if plan.verdict is Verdict.PROVEN:
        return f"Within {most} of the best plan there can be: {worth} {told}."
    return (
        f"Stopped early, not proven best: {worth} {told}; the best plan brings at most {most} more "
        f"(gap {plan.gap:.2%})."
    )


def _unready_line(plan: Plan, unready: Unready) -> str:
    """Say why no female is paired, and who is nearest to ready."""
    if not unready.priced:
        return (
            "No female is paired: no price is set, so no young is worth anything. Write yours "
            "under values in season.yaml."
        )
    if not unready.sex:
        return (
            "No female is paired: within your limits no pair that may meet brings more than it "
            "costs."
        )
    if plan.as_of is not None and plan.as_of > plan.pair_to:
        return (
            f"Pairing ended on {plan.pair_to}; seen from {plan.as_of}, nothing more can be paired."
        )
    head = f"No {unready.sex} is ready while pairing runs, so nothing can be paired."
    if not unready.nearest:
        return f"{head} No day can be told from the records: see who rests, and why."
    days = "; ".join(f"{plan.names[name]} about {day}" for name, day in unready.nearest)
    return f"{head} Nearest: {days}."


def pair_cautions(plan: Plan, pair: PlannedPair) -> list[str]:
    """Return the cautions on a pair that are not told at the head of the plan."""
    told = {text for caution in plan.cautions for text in caution.own}
    return [caution for caution in pair.cautions if caution not in told]


def watch_lines(plan: Plan, animal: str, pair: PlannedPair | None = None) -> list[str]:
    """Return the cautions for one animal's card: of its pair, and what at the head is on its body.

    What many animals share is said in the words for this one.
    """
    told = list(pair.cautions) if pair else []
    for caution in plan.cautions:
        if animal in caution.animals and caution.rank <= Rank.BODY:
            place = caution.animals.index(animal) if len(caution.own) > 1 else 0
            own = caution.own[place]
            # A pair that is held says why in its own words.
            told += [] if any(own in each for each in told) else [own]
    return list(dict.fromkeys(told))


def count_line(plan: Plan) -> str:
    """Say how many are paired and how many rest."""
    by = {word: sum(rest.by == word for rest in plan.resting) for word in BY_WORDS}
    parts = [f"{count} {BY_WORDS[word]}" for word, count in by.items() if count]
    detail = f" ({', '.join(parts)})" if parts else ""
    paired, rest = len(plan.pairs), len(plan.resting)
    return (
        f"{counted(paired, 'female is', 'females are')} paired, "
        f"{rest} {'rests' if rest == 1 else 'rest'}{detail}."
    )


def money_parts(parts: Money) -> list[tuple[str, float]]:
    """Return what the objective is made of, as (words, amount); parts of nothing are left out."""
    named = [
        ("pairs at full prices, less costs", parts.pairs),
        ("holdbacks", parts.holdbacks),
        ("more than is needed of a morph", parts.saturation),
        ("soft rules", parts.rules),
        ("animals bought, borrowed or sold", parts.offers),
        ("a year's keep of the adults", parts.keeping),
        ("bad seasons", parts.risk),
        ("for wishes that may wait", parts.routes),
        ("agreed pairs given up", parts.switches),
    ]
    return [(name, amount) for name, amount in named if abs(amount) >= 0.005]


def money_line(plan: Plan) -> str:
    """Say what the objective is made of; parts that are nothing are left out."""
    told = [f"{name} {difference(amount)}" for name, amount in money_parts(plan.money)]
    made = f"Made of: {', '.join(told)}." if told else ""
    return " ".join(filter(None, (made, risk_line(plan))))


def risk_line(plan: Plan) -> str:
    """Say how bad seasons count, if they do."""
    bad = plan.bad_seasons
    if bad is None:
        return ""
    return (
        f"{estimate(bad.expected, plan.currency, plan.spread)} are expected; the worst "
        f"{bad.share:.0%} of {bad.seasons} sampled seasons bring "
        f"{estimate(bad.mean, plan.currency, plan.spread)} on average, and "
        f"{bad.weight:.0%} of the difference is taken off."
    )


def route_lines(plan: Plan, route: PlannedRoute) -> list[str]:
    """Say what the season does for a wish that may wait, then each pair that works for it."""
    head = f"{route.morph} by {route.by}:"
    if route.refused:
        return [f"{head} no route is offered, as it is under the welfare note on {route.refused}."]
    if not route.open:
        return [f"{head} nothing leads there in time. `brumal route` says what is missing."]
    now, last = route.chance[0][1], route.chance[-1][1]
    first = "not this year" if now < _NEVER else f"{percent(now)} this year"
    chances = (
        f"{percent(last)} by {route.by} with this season's pairs, {percent(route.without[-1][1])} "
        "with none of the route's animals paired"
    )
    counts = f"the plan counts {difference(route.money)} {plan.currency} for that"
    if route.money >= _CENT:
        head = f"{head} {first}; this season works towards it: {chances}; {counts}."
    elif route.money <= -_CENT:
        head = f"{head} {first}, and this season sets it back: {chances}; {counts}."
    else:
        head = f"{head} {first}. This season does nothing for it: {chances}."
    return [head, *(_for_later(plan, pair) for pair in route.pairs if _is_for(route, pair))]


def _is_for(route: PlannedRoute, pair: ForLater) -> bool:
    """Say whether a pair works for a route: of two that do the same neither is missed alone."""
    return pair.alone >= _CENT or (route.money >= _CENT and pair.alone > -_CENT and pair.keep != ())


_CENT = 0.005
_NEVER = 1e-9


def _for_later(plan: Plan, pair: ForLater) -> str:
    names = f"{plan.names[pair.dam]} x {plan.names[pair.sire]}"
    keep = [
        f"a {kept.sex} {kept.look} ({odds(kept.odds)} of the young), who may breed for young of "
        f"{kept.ready}"
        for kept in pair.keep
    ]
    told = f"hold back {'; or '.join(keep)}" if keep else "its own young may be the target"
    lost = f"; without this pair {difference(-pair.alone)}" if abs(pair.alone) >= 0.005 else ""
    return f"{names}: {told}{lost}."


def luck_line(luck: Simulation, currency: str) -> str:
    """Say in one sentence how far a season may come out from what is expected."""
    low, middle, high = (
        estimate(each, currency, luck.money.half_width)
        for each in (luck.money.p10, luck.money.p50, luck.money.p90)
    )
    return (
        f"One season in ten brings {low} or less, half bring {middle} or less, and one in ten "
        f"brings more than {high}."
    )


def worst_line(luck: Simulation, currency: str) -> str:
    """Say how bad seasons come out, and how all of this is known."""
    loss = "None of them loses money" if luck.loss == 0 else f"{percent(luck.loss)} lose money"
    worst = estimate(luck.worst, currency, luck.money.half_width)
    return (
        f"The worst tenth bring {worst} on average. {loss}. These figures come from "
        f"{luck.seasons:,} simulated seasons of this plan (seed {luck.seed}); young held back "
        "count at what they are worth to you."
    )


def offer_line(plan: Plan, offer: Offer) -> str:
    """Say what the plan does with an animal that money decides on."""
    name, amount = plan.names[offer.id], money(offer.money, plan.currency)
    words = {
        ("borrow", True): f"Borrow {name} for {amount}.",
        ("borrow", False): f"Do not borrow {name}: not worth {amount} in this plan.",
        ("buy", True): f"Buy {name} for {amount}.",
        ("buy", False): f"Do not buy {name}: not worth {amount} in this plan.",
        ("sell", True): f"Sell {name} for {amount}.",
        ("sell", False): f"Keep {name}: worth more than {amount} in this plan.",
    }
    return words[offer.kind, offer.taken]


def weigh_first(plan: Plan, start: Start) -> str:
    """Say when an animal is weighed before its first visit, and how much it must weigh."""
    grams = f"at least {start.asked_g or 0:,.0f} g"
    return f"{plan.names[start.animal]} on {start.weigh_on}, {grams} ({percent(start.chance)})"


def start_line(plan: Plan, pair: PlannedPair) -> str:
    """Say from when a pair that cannot begin on the first day may meet, and what it waits for."""
    first = max(plan.pair_from, plan.as_of or plan.pair_from)
    if pair.provisional:
        waits = "; ".join(weigh_first(plan, start) for start in pair.waits_for)
        return f"First visit from {pair.start} on, no sooner. Weigh first: {waits}."
    return f"First visit from {pair.start} on." if pair.start and pair.start > first else ""


def stand_in_lines(plan: Plan) -> list[str]:
    """Say who takes the place of each animal that may be too light on its weigh day."""
    return [
        f"If {plan.names[each.animal]} is too light on the weigh day: {_places(plan, each)}."
        for each in plan.stand_ins
    ]


def _places(plan: Plan, each: StandIns) -> str:
    if not each.pairs:
        return "nobody takes the place"
    named = [f"{plan.names[dam]} x {plan.names[sire]}" for dam, sire in each.pairs]
    return f"{', '.join(named)} instead"


def outcome_words(pair: PlannedPair, shown: int = SHOWN) -> str:
    """List the most valuable young of a pair with odds and worth, and count the other looks."""
    told = [
        f"{each.morph} ({percent(each.chance)}, {each.value:,.0f})"
        for each in pair.outcomes[:shown]
    ]
    others = len(pair.outcomes) - shown
    if others > 0:
        total = percent(pair.chance_after(shown))
        looks = "1 other look" if others == 1 else f"{others} other looks"
        told.append(f"{looks} ({total} together)" if others > 1 else f"{looks} ({total})")
    return "; ".join(told)


def line_line(plan: Plan) -> str:
    """Say who comes next of the females left out, and what the plan loses with each of them."""
    told = [
        f"{plan.names[each.dam]} {'about the same' if each.too_close else difference(-each.loss)}"
        for each in plan.line
    ]
    if not told:
        return ""
    return (
        f"Next in line ({plan.currency} less with her in, at most; `brumal why` finds the least): "
        f"{', '.join(told)}."
    )


def clash_lines(clash: InfeasibleSet) -> tuple[str, ...]:
    """List the statements that clash, each with what loosening it would take."""
    return tuple(
        f"{said.words.rstrip('.')}."
        + (f" To loosen: {said.loosen.rstrip('.')}." if said.loosen else "")
        for said in clash.statements
    )


def clash_head(clash: InfeasibleSet) -> str:
    """Introduce a clash."""
    if clash.of_pair:
        return "The first of these cannot stand while any of the others does:"
    if not clash.exact:
        return "These cannot all hold (there may be one more here than it takes):"
    return "These cannot all hold; one of them has to give:"


def state_words(plan: Plan, pair: PlannedPair) -> str:
    """Say how far a pair has come; nothing of one that is still to meet."""
    if pair.state is Stage.OPEN or (pair.since is None and pair.clutch is None):
        return ""
    told = [f"{pair.state}{f' on {pair.since}' if pair.since else ''}"]
    clutch = pair.clutch
    if clutch is not None and clutch.eggs is not None:
        slugs = f", {counted(clutch.slugs, 'slug')}" if clutch.slugs else ""
        told.append(f"{counted(clutch.eggs, 'egg')}{slugs}")
    if clutch is not None and clutch.hatched is not None:
        told.append(f"{clutch.hatched} young")
    sires = [(sire, chance) for sire, chance in pair.sires if chance > SURELY_NOT]
    if sires and pair.clutch is None and pair.sire not in dict(pair.sires):
        gone = "has left" if len(sires) == 1 else "have left"
        told.append(f"by {', '.join(plan.names[sire] for sire, _ in sires)}, who {gone}")
    if len(sires) > 1:
        males = [f"{plan.names[sire]} {percent(chance)}" for sire, chance in sires]
        told.append(f"sire {' or '.join(males)}")
    return "; ".join(told)


def came_line(plan: Plan, pair: PlannedPair) -> str:
    """Say what hatched and what it comes to, beside the value that counts the odds of looks."""
    if pair.came is None:
        return ""
    looks = "; ".join(f"{count} {look}" for look, count in pair.came.looks)
    return (
        f"Hatched: {looks}. They come to {money(pair.came.money, plan.currency)}; the value, what "
        "you want and all sums of the plan still count the odds of their looks."
    )


def second_line(plan: Plan, pair: PlannedPair) -> str:
    """Say who takes the sire's place should he refuse, and what that costs."""
    if pair.second is None:
        return "" if pair.lock else "If he refuses: no other sire fits within all limits."
    less = estimate(pair.second.less, plan.currency)
    told = f"{less} less" if pair.second.less > 0.005 else "no less"
    missed = f" Then no longer met: {', '.join(pair.second.missed)}." if pair.second.missed else ""
    return f"If he refuses: {plan.names[pair.second.sire]}, {told}.{missed}"
