"""The sentences of explanations: first what, then why, then what would change it."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.insight.why.answers import AnimalWhy, Flips, LeftOut, PairWhy, State
from brumal.insight.why.counterfactuals import Counterfactual, Move
from brumal.insight.why.flips import PriceFlip, WeightFlip
from brumal.insight.why.whole import Subject
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.solver.answer import Verdict
from brumal.records.settings import BySex
from brumal.report.words import counted, difference, estimate, figure, inbreeding, money
from brumal.rules.verdict import RuleVerdict

MOST_MOVES = 4
_CENT = 0.005


def animal_lines(why: AnimalWhy, subject: Subject) -> list[str]:
    """Explain one animal."""
    name = subject.names[why.animal]
    if why.state is State.PAIRED:
        lines = [] if why.female else [_uses(why, subject)]
        return lines + [line for pair in why.pairs for line in pair_lines(pair, subject)]
    if why.state is State.LOCK:
        return [f"{name} rests because you asked for it (locks.sit_out)."]
    if why.state is State.RULE:
        return [f"{name} may not breed this season.", *rule_lines(why, subject)]
    if why.state is State.NO_MATE:
        return [
            f"{name} may breed, but with none of the animals there are.",
            *_barred(why, subject),
        ]
    assert why.left_out is not None
    return left_out_lines(why, why.left_out, subject)


def rule_lines(why: AnimalWhy, subject: Subject) -> list[str]:
    """Say each rule that bars an animal, what would change it, and by when all would be met."""
    lines = [_rule(verdict) for verdict in why.failed]
    if why.ready is not None and len(why.failed) > 1:
        lines.append(f"All of that should be met about {why.ready}.")
    if why.heavier is not None:
        weight = f"With {why.heavier.grams:,.0f} g more"
        lines.append(
            f"{weight}, {loses(why.heavier.season, subject)}. Do not fatten an animal for it."
        )
    return lines


def left_out_lines(why: AnimalWhy, left: LeftOut, subject: Subject) -> list[str]:
    """Explain an animal that could breed and is not used."""
    she = "she" if why.female else "he"
    her = "her" if why.female else "him"
    name = subject.names[why.animal]
    mate = subject.names[left.best.sire if why.female else left.best.dam]
    lines = [
        f"{name} could breed, but the plan leaves {her} out.",
        f"{'Her' if why.female else 'His'} best pair, with {mate}, would bring "
        f"{_by_itself(left.best, left.held_back, subject)}.",
    ]
    if left.best.worth <= 0:
        lines[-1] = f"{lines[-1][:-1]}: no more than it costs."
    if left.with_it is not None:
        lines += _put_in(why, left.with_it, subject)
    if left.held_by is not None and left.with_it is not None and left.with_it.pairs:
        lines.append(_held(left.held_by, she, her))
    lines += flip_lines(left.flips, subject, "The season with " + her + " in it")
    return lines


def pair_lines(why: PairWhy, subject: Subject) -> list[str]:
    """Explain one meeting."""
    dam, sire = subject.names[why.dam], subject.names[why.sire]
    if why.chosen:
        return _chosen(why, subject)
    lines = [f"{dam} and {sire} are not paired."]
    if why.lock:
        lines.append(_LOCKS[why.lock].format(dam=dam))
    lines += [_rule(verdict) for verdict in why.verdicts]
    if why.candidate is not None:
        worth = _by_itself(why.candidate, why.held_back, subject)
        lines.append(f"Nothing bars them; the pair would bring {worth}.")
    if why.otherwise is not None:
        lines.append(_made(why, why.otherwise, subject))
    return lines + flip_lines(why.flips, subject, "The season with this pair")


def _by_itself(pair: Candidate, held_back: float, subject: Subject) -> str:
    """Say what a pair brings as the plan lists it, and what holdbacks add while none is kept."""
    text = f"{estimate(pair.value, subject.currency)} by itself"
    if held_back >= _CENT:
        more = estimate(held_back, subject.currency)
        text += f", and {more} more by young to hold back, as long as none is yet"
    return text


def _chosen(why: PairWhy, subject: Subject) -> list[str]:
    dam, sire = subject.names[why.dam], subject.names[why.sire]
    lines = [f"{dam} is paired with {sire}."]
    if why.candidate is not None:
        worth = _by_itself(why.candidate, why.held_back, subject)
        lines.append(f"The pair brings {worth}; F is {inbreeding(why.candidate.F)}.")
    if why.lock:
        lines.append(_LOCKS[why.lock].format(dam=dam))
    if why.runner_up is not None:
        lines.append(_runner_up(why, why.runner_up, subject))
    if why.otherwise is not None and why.otherwise is not why.runner_up:
        lines.append(f"Without this pair {loses(why.otherwise, subject)}.")
    if why.candidate is not None and why.candidate.F > 0:
        lines.append(f"It stands while limits.max_F is {inbreeding(why.candidate.F)} or more.")
    return lines + flip_lines(why.flips, subject, "The next best plan for her")


def _runner_up(why: PairWhy, other: Counterfactual, subject: Subject) -> str:
    if other.verdict is Verdict.IMPOSSIBLE:
        return "No plan gives her another sire."
    if other.value is None:
        return "Whether another sire would do was not settled in time."
    sire = subject.names[other.mates[why.dam]]
    rest = [move for move in other.moves if move.dam != why.dam]
    moves = f" {_sentence(moves_words(rest, subject))}" if rest else ""
    return f"Next best for her is {sire}: {_loss(other, subject)}.{moves}"


def _put_in(why: AnimalWhy, other: Counterfactual, subject: Subject) -> list[str]:
    she = "she" if why.female else "he"
    if other.verdict is Verdict.IMPOSSIBLE:
        return ["No plan within the limits and locks has room for that."]
    if other.value is None:
        return ["Whether a plan has room for that was not settled in time."]
    if not why.female:
        dams = [subject.names[dam] for dam, sire in other.pairs if sire == why.animal]
        rest = [move for move in other.moves if move.after != why.animal]
        told = f"Put in, {she} gets {_listed(dams)}"
    else:
        told = f"Put in, {she} goes to {subject.names[other.mates[why.animal]]}"
        rest = [move for move in other.moves if move.dam != why.animal]
    moves = f"; {moves_words(rest, subject)}" if rest else ""
    return [f"{told}{moves}.", _sentence(_loss(other, subject))]


def _made(why: PairWhy, other: Counterfactual, subject: Subject) -> str:
    made = "An exception for them (kin.exceptions)" if why.opened else "To make the pair"
    if other.verdict is Verdict.IMPOSSIBLE:
        return f"{made} is possible in no plan within the limits and locks."
    if other.value is None:
        return f"{made}: whether a plan has room for it was not settled in time."
    rest = [move for move in other.moves if move.dam != why.dam]
    moves = f"; {moves_words(rest, subject)}" if rest else ""
    return f"{made} means that {_loss(other, subject)}{moves}."


def loses(other: Counterfactual, subject: Subject) -> str:
    """Say what a change costs the season and which pairs move."""
    if other.verdict is Verdict.IMPOSSIBLE:
        return "no plan is possible"
    if other.value is None:
        return "no plan was found in time"
    moves = moves_words(other.moves, subject)
    return f"{_loss(other, subject)}: {moves}" if moves else _loss(other, subject)


def _loss(other: Counterfactual, subject: Subject) -> str:
    """Say what a change costs or brings, with the room that gaps leave."""
    assert other.change is not None
    if other.exact and abs(other.change) < _CENT:
        return "the season is worth the same"
    if other.too_close:
        return (
            "the season is worth about the same, too close to tell: between "
            f"{other.least:+,.2f} and {other.most:+,.2f}"
        )
    verb = "gains" if other.change > 0 else "loses"
    told = f"the season {verb} {estimate(abs(other.change), subject.currency)}"
    told += _route(other)
    if other.exact:
        return told
    ends = f"{difference(other.least)} and {difference(other.most)}"
    return f"{told} (between {ends} for sure, as the solves stopped within their gap)"


def _route(other: Counterfactual) -> str:
    """Say what of a change is for wishes that may wait, and whether that decides."""
    assert other.change is not None
    if not other.routes:
        return ""
    parts = " and ".join(
        f"{difference(money)} for the route to {morph}" for morph, money in other.routes.items()
    )
    decides = other.change < 0 <= other.change - sum(other.routes.values()) + _CENT
    return f" ({parts} in it{': that decides' if decides else ''})"


def moves_words(moves: Sequence[Move], subject: Subject) -> str:
    """List the females whose year changes."""
    told = [_move(move, subject) for move in moves[:MOST_MOVES]]
    if len(moves) > MOST_MOVES:
        told.append(counted(len(moves) - MOST_MOVES, "more female changes", "more females change"))
    return ", ".join(told)


def _move(move: Move, subject: Subject) -> str:
    dam = subject.names[move.dam]
    if move.after is None:
        return f"{dam} rests"
    if move.before is None:
        return f"{dam} goes to {subject.names[move.after]}"
    return f"{dam} goes to {subject.names[move.after]} instead of {subject.names[move.before]}"


def _held(loosened: Sequence[str], she: str, her: str) -> str:
    if not loosened:
        return f"No single limit keeps {her} out: whichever is loosened, others come in first."
    return f"{she.capitalize()} would be in {', or '.join(loosened)}."


def flip_lines(flips: Flips | None, subject: Subject, other: str) -> list[str]:
    """Say what would make another plan as good."""
    if flips is None:
        return []
    lines = [f"{other} would be worth as much if {_price(flip, subject)}." for flip in flips.prices]
    if flips.weight is not None:
        lines.append(_weight(flips.weight, subject, other))
    return lines


def _price(flip: PriceFlip, subject: Subject) -> str:
    more = "more" if flip.change > 0 else "less"
    amount = money(abs(flip.change), subject.currency)
    return f"{flip.morph} brought {amount} {more} ({_new_price(flip)})"


def _new_price(flip: PriceFlip) -> str:
    if isinstance(flip.value, BySex):
        sexes = (("female", flip.value.female), ("male", flip.value.male))
        told = [f"{sex} {value + flip.change:,.2f}" for sex, value in sexes if value is not None]
        return ", ".join(told)
    return f"{flip.value + flip.change:,.2f} instead of {flip.value:,.2f}"


def _weight(flip: WeightFlip, subject: Subject, other: str) -> str:
    name = subject.names[flip.animal]
    grams = f"{abs(flip.grams):,.0f} g {'more' if flip.grams > 0 else 'less'}"
    if flip.barred:
        return f"With {grams} a rule would bar {name}."
    return f"{other} would be worth as much if {name} weighed {grams}."


def _uses(why: AnimalWhy, subject: Subject) -> str:
    assert why.limit is not None
    count, reason = why.limit
    females = "female" if len(why.pairs) == 1 else "females"
    name = subject.names[why.animal]
    return f"{name} has {len(why.pairs)} {females} of at most {count} ({reason})."


def _barred(why: AnimalWhy, subject: Subject) -> list[str]:
    """Say by which pair rules its mates are barred, each rule once, with whom else it holds."""
    by_rule: dict[str, list[tuple[str, str]]] = {}
    for mate, verdicts in (why.barred or {}).items():
        for verdict in verdicts:
            by_rule.setdefault(verdict.rule, []).append((subject.names[mate], _rule(verdict)))
    lines = []
    for told in by_rule.values():
        others = [mate for mate, _ in told[1:]]
        more = f" The same rule bars {_listed(others)}." if others else ""
        lines.append(f"{told[0][1]}{more}")
    return lines or ["No mate of the collection may breed this season, or locks keep them apart."]


def _rule(verdict: RuleVerdict) -> str:
    return f"{verdict.text} {verdict.remedy}".strip()


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


_LOCKS = {
    "must_pair": "You ask for this pair (locks.must_pair).",
    "already_paired": "{dam} has already been paired.",
    "refused": "The two refused each other; a later visit that goes well undoes that.",
    "never_pair": "You keep the two apart (locks.never_pair).",
    "sit_out": "{dam} rests because you asked for it (locks.sit_out).",
}


def amounts(other: Counterfactual | None, subject: Subject) -> str:
    """Return the figures of a comparison: the plan, the other plan, the difference."""
    if other is None or other.value is None or other.change is None:
        return ""
    return (
        f"plan {subject.value:,.2f}, otherwise {other.value:,.2f}, "
        f"difference {figure(round(other.change, 2))} {subject.currency}"
    )
