"""Locks before any solver runs: pairs the keeper wants that rules or other locks forbid."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from brumal.pipeline import Prepared
from brumal.planner.infeasible import InfeasibleSet, Statement
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.candidates import Candidates, pair_verdicts
from brumal.records.event_facts import ENDS
from brumal.records.folder import SeasonRecords
from brumal.rules.table import judge_animal
from brumal.rules.verdict import RuleVerdict


def wanted_pairs(records: SeasonRecords) -> tuple[Pair, ...]:
    """Return the pairs that have to stand, those already made first, each once.

    A pair that the keeper wanted is wanted no more once the two refused each other, one has died or
    was sold, or she has met another: what happened goes before what was wished.
    """
    made = dict(records.already_paired)
    refused = records.state.refused
    happened = {event.animal for event in records.events if event.kind in ENDS}
    wished = [
        pair
        for pair in records.settings.locks.must_pair
        if pair not in refused
        and happened.isdisjoint(pair)
        and (dict(records.state.made).get(pair[0], pair[1]) == pair[1])
    ]
    return tuple(dict.fromkeys((*made.items(), *wished)))


def forbidden_pairs(prepared: Prepared, found: Candidates) -> tuple[InfeasibleSet, ...]:
    """Return a set for each pair that has to stand and that a rule or another lock forbids.

    What was written down of the season stands whatever the locks say.
    """
    locks = prepared.records.settings.locks
    open_pairs = found.clutches.keys() - set(locks.never_pair)
    return tuple(
        InfeasibleSet(
            statements=(_wish(prepared, pair), *_forbidding(prepared, found, pair)), of_pair=True
        )
        for pair in wanted_pairs(prepared.records)
        if pair not in prepared.records.facts
        and (pair not in open_pairs or not set(pair).isdisjoint(locks.sit_out))
    )


def _wish(prepared: Prepared, pair: Pair) -> Statement:
    names = f"{prepared.label(pair[0])} x {prepared.label(pair[1])}"
    lock = lock_of(prepared.records)[pair]
    said = "have been paired" if lock == "already_paired" else "must be paired"
    return Statement(
        id=f"{lock}[{pair[0]} x {pair[1]}]",
        words=f"locks.{lock}: {names} {said}",
        loosen="take the pair off the list",
    )


def _forbidding(prepared: Prepared, found: Candidates, pair: Pair) -> tuple[Statement, ...]:
    locks = prepared.records.settings.locks
    said: list[Statement] = []
    for animal in pair:
        if animal in locks.sit_out:
            said.append(_lock("sit_out", f"{prepared.label(animal)} sits out"))
    if pair in locks.never_pair:
        said.append(_lock("never_pair", "the two are never paired"))
    other = dict(prepared.records.already_paired).get(pair[0])
    if other is not None and other != pair[1]:
        met = f"{prepared.label(pair[0])} has already been paired with {prepared.label(other)}"
        said.append(_lock("already_paired", met))
    if pair in prepared.records.already_paired:
        return tuple(said)
    for animal in pair:
        outside = found.verdicts.get(animal) is None
        said += _failed(
            judge_animal(prepared.animals[animal], prepared.rules)
            if outside
            else found.verdicts[animal]
        )
    if not said:
        said += _failed(pair_verdicts(prepared, *pair))
    return tuple(said)


def _lock(name: str, words: str) -> Statement:
    return Statement(id=name, words=f"locks.{name}: {words}", loosen="take it off the list")


def _failed(verdicts: Iterable[RuleVerdict]) -> list[Statement]:
    return [
        Statement(id=f"rules[{verdict.rule}]", words=f"rules.{verdict.rule}: {verdict.text}")
        for verdict in verdicts
        if not verdict.passed
    ]


def lock_of(records: SeasonRecords) -> Mapping[Pair, str]:
    """Return which lock each wanted pair comes from."""
    return {
        **dict.fromkeys(records.settings.locks.must_pair, "must_pair"),
        **dict.fromkeys(records.already_paired, "already_paired"),
    }
