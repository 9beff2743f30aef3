"""Cage cards: one an animal, up to eight to a page, to hang on the rack."""

from __future__ import annotations

from dataclasses import dataclass

from brumal.insight.simulate.diary import ClutchOutlook, TaskKind
from brumal.insight.why.outlook import Outlook
from brumal.planner.plan import MaleUse, Plan, PlannedPair, Resting
from brumal.records.season_state import Stage
from brumal.report.page import render
from brumal.report.plan.page import told_by
from brumal.report.plan.season_words import rounds, window_words
from brumal.report.plan.words import BY_WORDS, watch_lines, weigh_first
from brumal.report.words import figure

DAM_BLANKS = ("Locks", "Ovulated", "Shed", "Laid, eggs, slugs", "Weight")
"""What is written on the card of a female by hand."""
LONG_NAME = 60
"""A label of more characters is set smaller."""
DAM_WATCH = (
    "Refusing food and a swollen middle are usual before laying. Straining, eggs that stop coming, "
    "or weakness: the vet at once."
)
SIRE_WATCH = "Fasting in the season is usual, thinness is not"


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One card: whose it is, the facts, (word, text) lines of what happens, what to watch for.

    ``blanks`` are words with an empty line behind each, to write on.
    """

    label: str
    facts: str
    lines: tuple[tuple[str, str], ...]
    watch: tuple[str, ...]
    blanks: tuple[str, ...] = ("Weight", "Notes")


def plan_cards(plan: Plan, outlook: Outlook) -> str:
    """Return ``cards.html``: a card for every female of the plan, paired or resting, and male."""
    return render(
        "cards.html",
        plan=plan,
        told=told_by(plan, outlook),
        cards=_cards(plan, outlook),
        long=LONG_NAME,
    )


def _cards(plan: Plan, outlook: Outlook) -> list[Card]:
    dams = [
        _dam(plan, outlook, pair, clutch)
        for pair, clutch in zip(plan.pairs, outlook.clutches, strict=True)
    ]
    males = [_male(plan, outlook, male) for male in plan.males]
    return [*dams, *males, *(_resting(plan, outlook, rest) for rest in plan.resting)]


def _dam(plan: Plan, outlook: Outlook, pair: PlannedPair, clutch: ClutchOutlook) -> Card:
    starts = ", ".join(str(visit.start) for visit in clutch.visits)
    none = "no day free" if pair.state is Stage.OPEN else "no more planned"
    visits = ("Visits from", starts) if starts else ("Visits", none)
    if pair.provisional:
        visits = ("Visits", "none before the weight below is recorded")
    lines = [
        ("Meets", plan.names[pair.sire]),
        visits,
        *(("Weigh first", weigh_first(plan, start)) for start in pair.waits_for),
        ("Ovulates", window_words(clutch.ovulation)),
        ("Sheds", window_words(clutch.shed)),
        ("Lays", f"{window_words(clutch.laying)}, {figure(round(pair.eggs, 1))} eggs"),
        ("Hatches", window_words(clutch.hatching)),
        *_weighing(outlook, pair.dam),
    ]
    return Card(
        label=plan.names[pair.dam],
        facts=_facts(outlook, pair.dam),
        lines=tuple(lines),
        watch=(*watch_lines(plan, pair.dam, pair), DAM_WATCH),
        blanks=DAM_BLANKS,
    )


def _male(plan: Plan, outlook: Outlook, male: MaleUse) -> Card:
    visits = dict(rounds(outlook)).get(male.id, [])
    limit = outlook.animals[male.id].limit_g
    least = f"; below {limit:,.0f} g he rests." if limit is not None else "."
    lines = [("Females", f"{male.pairings} of {male.limit}")]
    if visits:
        lines.append(("Visits from", "; ".join(f"{day} {plan.names[dam]}" for day, dam in visits)))
    elif not male.pairings:
        lines.append(("Rests", "not paired this season."))
    lines += [
        ("Weigh first", f"{weigh_first(plan, start)} (for {plan.names[pair.dam]})")
        for pair in plan.pairs
        if pair.sire == male.id
        for start in pair.waits_for
    ]
    return Card(
        label=plan.names[male.id],
        facts=_facts(outlook, male.id),
        lines=(*lines, *_weighing(outlook, male.id)),
        watch=(
            *(reason.text for reason in male.reasons),
            *watch_lines(plan, male.id),
            f"{SIRE_WATCH}{least}",
        ),
    )


def _resting(plan: Plan, outlook: Outlook, rest: Resting) -> Card:
    lines = (
        ("Rests", f"{BY_WORDS[rest.by]}: not paired this season."),
        *_weighing(outlook, rest.id),
    )
    return Card(
        label=plan.names[rest.id],
        facts=_facts(outlook, rest.id),
        lines=lines,
        watch=tuple(reason.text for reason in rest.reasons),
    )


def _facts(outlook: Outlook, name: str) -> str:
    """Return sex, morph, hatching day and last weight, those that are known."""
    one = outlook.animals[name]
    told = [str(one.animal.sex or "sex not known"), one.animal.look]
    if one.animal.hatched is not None:
        told.append(f"hatched {one.animal.hatched_written}")
    if one.series.last is not None:
        when = f" on {one.series.last.on}" if one.series.last.on else ""
        told.append(f"{one.series.last.grams:,.0f} g{when}")
    return ", ".join(told)


def _weighing(outlook: Outlook, name: str) -> list[tuple[str, str]]:
    days = [
        str(task.start)
        for task in outlook.tasks
        if task.kind is TaskKind.WEIGH and name in task.animals
    ]
    return [("Weigh", ", ".join(days))] if days else []
