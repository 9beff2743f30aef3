"""The sentences that every form of a comparison shares."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from brumal.insight.compare.columns import Binding, Column, Earning
from brumal.insight.compare.comparison import Comparison
from brumal.insight.compare.decisions import Choice, Decisions, Pays
from brumal.insight.compare.differences import Difference, Move
from brumal.insight.compare.since_last import SinceLast, Swap
from brumal.insight.compare.sweeps import Step, Sweep
from brumal.planner.solver.answer import Verdict
from brumal.records.overlays import BASE
from brumal.records.plain_values import sure_money
from brumal.report.plan.words import risk_line
from brumal.report.words import counted, difference, estimate, money

Names = Mapping[str, str]

NO_PLAN = "no plan"
GONE = "not there"
VERDICTS = {
    "proven": "proven best",
    "stopped": "not proven best",
    "impossible": "impossible",
    "faults": "has faults",
}
PAYS = {Pays.YES: "pays", Pays.NO: "does not pay", Pays.OPEN: "not settled"}
SPREAD_NOTE = (
    "In eight of ten simulated seasons the money lies between the two figures of the spread."
)


def cell_words(column: Column, dam: str, names: Names) -> str:
    """Say in few words what becomes of a female in a scenario: her sire, or why she rests."""
    if column.plan is None:
        return NO_PLAN
    for pair in column.plan.pairs:
        if pair.dam == dam:
            return names.get(pair.sire, pair.sire)
    for rest in column.plan.resting:
        if rest.id == dam:
            rule = rest.reasons[0].rule if rest.by == "rule" and rest.reasons else rest.by
            return f"rests: {rule.replace('_', ' ')}"
    return GONE


def signed(amount: float) -> str:
    """Write a difference of money with its sign; none is plain."""
    return "0.00" if abs(amount) < 0.005 else f"{amount:+,.2f}"


def head_line(comparison: Comparison) -> str:
    """Say how many seasons stand side by side."""
    columns = comparison.columns
    count = len(columns)
    text = "1 season" if count == 1 else f"{count} seasons side by side"
    failed = sum(column.plan is None for column in columns)
    return f"{text}, {failed} without a plan." if failed else f"{text}."


def open_lines(comparison: Comparison) -> tuple[str, ...]:
    """Say what keeps values from being held side by side as they stand.

    Solves stopped before the proof, a loose gap, and bad seasons that count for some.
    """
    told = [
        f"{column.name}: what bad seasons take off is in its value. {risk_line(column.plan)}"
        for column in comparison.columns
        if column.plan is not None and column.plan.bad_seasons is not None
    ]
    stopped = [column.name for column in comparison.columns if column.verdict == Verdict.STOPPED]
    if stopped:
        told.append(
            f"Stopped before the proof: {', '.join(stopped)}. A better plan may exist there, and "
            "differences from it are as uncertain."
        )
    proven = [column for column in comparison.columns if column.verdict == Verdict.PROVEN]
    most = max(map(_left_open, proven), default=0.0)
    if most >= 0.01:
        told.append(
            "Solved within the gap that was asked for: the best plans may bring up to "
            f"{sure_money(most, up=True)} {comparison.currency} more. Smaller differences say "
            "nothing."
        )
    return tuple(told)


def _left_open(column: Column) -> float:
    """Return how much more the best plan may bring."""
    return 0.0 if column.plan is None else column.plan.left_open


def verdict_words(column: Column) -> str:
    """Say what is known of a column's plan; ``stopped`` without a plan is told apart."""
    left = _left_open(column)
    if column.verdict == Verdict.PROVEN and left >= 0.01:
        return f"proven within {sure_money(left, up=True)} of the best"
    if column.verdict != Verdict.STOPPED:
        return VERDICTS[column.verdict]
    if column.plan is None:
        return "stopped before a plan was found"
    return f"{VERDICTS[column.verdict]} (the best may bring up to {sure_money(left, up=True)} more)"


def move_line(move: Move, names: Names) -> str:
    """Say what changes for one female."""
    dam = names.get(move.dam, move.dam)
    if move.before is not None and move.after is not None:
        return f"{dam}: {names.get(move.after, move.after)} instead of {_name(move.before, names)}."
    reason = f" {move.reason}" if move.reason else ""
    if move.after is None:
        return f"{dam} is not paired (with {_name(move.before, names)} before).{reason}"
    before = f" Before: {move.reason}" if move.reason else ""
    return f"{dam} is paired, with {_name(move.after, names)}.{before}"


def _name(id: str | None, names: Names) -> str:
    return "" if id is None else names.get(id, id)


def first_name(comparison: Comparison) -> str:
    """Name the season that the others are set against: the base, or the first without it."""
    return comparison.columns[0].name if comparison.columns else BASE


def difference_line(comparison: Comparison, against: Difference) -> str:
    """Say what a scenario brings over the first season, and how many pairs it changes."""
    currency, first = comparison.currency, first_name(comparison)
    parts = [
        (len(against.new_sires), "female gets another sire", "females get another sire"),
        (len(against.now_rest), "no longer paired", "no longer paired"),
        (len(against.now_paired), "newly paired", "newly paired"),
    ]
    told = ", ".join(
        f"{count} {one if count == 1 else many}" for count, one, many in parts if count
    )
    amount = f"{difference(against.objective)} {currency}"
    if abs(against.net - against.objective) >= 0.005:
        amount += f", {difference(against.net)} {currency} with what is paid or received once"
    name = "the base" if first == BASE else first
    return f"Against {name}: {amount}; {told or 'the same pairs'}."


def once_line(column: Column, currency: str) -> str:
    """Say what money passes beside the plan, and what is left."""
    parts = []
    if column.paid:
        parts.append(f"{money(column.paid, currency)} paid")
    if column.received:
        parts.append(f"{money(column.received, currency)} received")
    if not parts or column.net is None:
        return ""
    left = estimate(column.net, currency, column.band.half_width if column.band else 0.0)
    return f"{' and '.join(parts)} once: {left} after that."


def earning_line(column: Column, earning: Earning, currency: str, names: Names) -> str:
    """Say what an animal that comes in earns, and over its cost."""
    who = names.get(earning.animal, earning.animal)
    pairings = counted(earning.pairs, "pairing")
    if earning.earns is None:
        return f"{who} ({pairings}): without it there is no plan."
    if not earning.pairs:
        why = _why_idle(column, earning.animal)
        cost = column.cost_of(earning)
        spent = "" if cost is None else f" against the {money(cost, currency)} it costs"
        return f"{who} earns nothing{spent}: {why}"
    text = f"{who} ({pairings}) earns {estimate(earning.earns, currency)}"
    cost, over = column.cost_of(earning), column.over_its_cost(earning)
    if cost is None or over is None:
        return f"{text}; no cost is stated."
    verb = "over" if over >= 0 else "short of"
    told = f"{estimate(abs(over), currency)} {verb} the {money(cost, currency)} it costs"
    return f"{text}, {told}."


def _why_idle(column: Column, animal: str) -> str:
    """Say why an animal is in no pair: the rules that bar it, or that no pair of its is wanted."""
    if column.plan is not None:
        males = [each.reasons for each in column.plan.males if each.id == animal]
        females = [each.reasons for each in column.plan.resting if each.id == animal]
        reasons = [reason.text for told in (*males, *females) for reason in told]
        if reasons:
            return " ".join(reasons)
    return "the best plan has no pair for it."


def binding_line(binding: Binding, currency: str) -> str:
    """Say which limit holds the plan back, and by how much."""
    if binding.costs is None:
        return f"{binding.words} (all used)"
    return f"{binding.words} ({estimate(binding.costs, currency)} more without this limit)"


def pair_words(pairs: Iterable[tuple[str, str]], names: Names) -> str:
    """List pairs by name."""
    return "; ".join(f"{_name(dam, names)} x {_name(sire, names)}" for dam, sire in pairs)


def steady_lines(comparison: Comparison) -> tuple[str, ...]:
    """Say in how many of the plans each pair stands: those of at least half of them by name."""
    if not comparison.steady:
        return ()
    by_count: dict[int, list[tuple[str, str]]] = {}
    for each in comparison.steady:
        by_count.setdefault(each.stands, []).append(each.pair)
    plans = comparison.steady[0].plans
    lines = [] if plans in by_count else ["No pair stands in every plan."]
    for stands, pairs in by_count.items():
        told = pair_words(pairs, comparison.names)
        if stands == plans:
            lines.append(f"Safe pairs, in all {plans} plans: {told}.")
        elif 2 * stands >= plans:
            lines.append(f"In {stands} of {plans} plans: {told}.")
    rest = sum(len(pairs) for stands, pairs in by_count.items() if 2 * stands < plans)
    if rest:
        lines.append(f"In fewer than half of the plans: {counted(rest, 'other pair')}.")
    return tuple(lines)


def axis_words(sweep: Sweep) -> str:
    """Name what a sweep runs over."""
    return " and ".join(
        f"{axis.key} from {axis.steps[0]} to {axis.steps[-1]}" for axis in sweep.axes
    )


def step_value(step: Step, currency: str) -> str:
    """Say what a step brings."""
    return VERDICTS[step.verdict] if step.net is None else estimate(step.net, currency)


def marks(sweep: Sweep, place: int) -> str:
    """Name what is marked at a step of a sweep."""
    step = sweep.steps[place]
    told = ["bend"] if place == sweep.bend else []
    told += ["flat from here"] if place == sweep.flat else []
    told += [VERDICTS[step.verdict]] if step.verdict == Verdict.STOPPED and step.pairs else []
    return ", ".join(told)


def bend_lines(sweep: Sweep, currency: str) -> tuple[str, ...]:
    """Say where the curve bends and where it ends to rise, and what today's value brings."""
    told = []
    if sweep.bend is not None:
        step = sweep.steps[sweep.bend]
        told.append(
            f"The curve bends at {step.at[0]} ({step_value(step, currency)}): beyond it each "
            "further step brings much less."
        )
    if sweep.flat is not None and sweep.flat > 0:
        told.append(f"From {sweep.steps[sweep.flat].at[0]} on no further step brings more.")
    if sweep.flat == 0:
        told.append("It makes no difference over the whole range.")
    if sweep.base[0] is not None and len(sweep.axes) == 1:
        told.append(f"Now it stands at {sweep.base[0]}.")
    return tuple(told)


def sheet_line(sheet: Decisions) -> str:
    """Say how many sets were solved, and whether that is all of them."""
    count = len(sheet.choices)
    options = counted(len(sheet.options), "option")
    if sheet.searched:
        return (
            f"{options}, {sheet.possible:,} sets: too many to solve all. {count} were solved in a "
            "search by single steps; a better set may exist."
        )
    clashing = f" ({sheet.possible - count} clash)" if sheet.possible > count else ""
    return f"{options}, {sheet.possible:,} sets{clashing}: every set that is possible was solved."


def best_line(sheet: Decisions, currency: str) -> str:
    """Say which set is best."""
    best = sheet.best
    if best is None or best.net is None:
        return "No set has a plan."
    if not best.options:
        return f"Best is to leave all as it is: {estimate(best.net, currency)}."
    gain = ""
    if best.gain is not None:
        gain = f", {difference(best.gain)} {currency} over leaving all as it is"
    return f"Best set: {set_words(best)} ({estimate(best.net, currency)}{gain})."


def set_words(choice: Choice) -> str:
    """Name a set of options."""
    return " + ".join(choice.options) or "nothing"


def option_line(sheet: Decisions, option: str, currency: str) -> str:
    """Say of one option what it brings alone and within the best set."""
    alone, inside = sheet.alone(option), sheet.worth_in_best(option)
    parts = []
    if alone is not None and alone.gain is not None:
        parts.append(f"alone {difference(alone.gain)} {currency} ({PAYS[alone.pays]})")
    elif alone is not None:
        parts.append(f"alone {VERDICTS[alone.verdict]}")
    if inside is not None:
        parts.append(f"within the best set {difference(inside)} {currency}")
    elif sheet.best is not None and option not in sheet.best.options:
        parts.append("not in the best set")
    note = sheet.notes.get(option, "")
    return f"{option}: {'; '.join(parts)}.{f' {note}' if note else ''}"


def since_line(since: SinceLast, currency: str) -> str:
    """Say how today's plan stands against the earlier one."""
    count = len(since.moves)
    pairs = counted(count, "female differs", "females differ")
    return (
        f"Then {estimate(since.before, currency)}, today {estimate(since.after, currency)} "
        f"({difference(since.effect)}); {pairs if count else 'the same pairs'}."
    )


def swap_line(swap: Swap, currency: str, names: Names) -> str:
    """Say what the change of one input does, all others as today."""
    if swap.effect is None:
        effect = "put back, there is no plan"
    elif abs(swap.effect) < 0.005 and not swap.restores:
        effect = "changes nothing by itself"
    else:
        effect = f"{difference(swap.effect)} {currency}"
    moved = ", ".join(_name(dam, names) for dam in swap.restores)
    back = f"; put back alone, it restores {moved}" if moved else ""
    return f"{swap.change}: {effect}{back}."


def rest_lines(since: SinceLast, currency: str) -> tuple[str, ...]:
    """Say what no single input explains, and what cannot be told from the earlier plan."""
    told = []
    if since.swaps and since.together is not None:
        told.append(
            f"All of these put back together: {difference(since.together)} {currency}. They act on "
            "each other, so the single figures need not add up to it."
        )
    if since.untold:
        rest = ""
        if since.rest is not None:
            rest = f" They account for {difference(since.rest)} {currency}."
        tables = any(name.endswith((".csv", ".xlsx", ".yaml")) for name in since.untold)
        more = " With the earlier folder (--last-folder) it can be told row by row."
        told.append(
            "Changed since then, but the earlier plan keeps no more than a fingerprint or a "
            f"version of it: {', '.join(since.untold)}.{rest}{more if tables else ''}"
        )
    elif since.days and since.rest is not None and abs(since.rest) >= 0.01:
        told.append(
            f"{counted(since.days, 'day', 'days')} gone by, in which nothing else was seen: "
            f"{difference(since.rest)} {currency}."
        )
    elif since.rest is not None and abs(since.rest) >= 0.01:
        told.append(f"Not explained by these inputs: {difference(since.rest)} {currency}.")
    return tuple(told)


def clashing_lines(sheet: Decisions) -> Sequence[str]:
    """List options that cannot be taken together."""
    return [f"{each.first} and {each.second}: {each.why}." for each in sheet.clashing]
