"""The one table of rules: a rule entered here shows up in plan, why, reports and docs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from brumal.forecast.history import proven_dams
from brumal.forecast.ledger import ledgers
from brumal.forecast.weight import all_series, layings
from brumal.records.animals import GONE, Animal, Clutch
from brumal.records.faults import Fault, Where, did_you_mean
from brumal.records.folder import SeasonRecords
from brumal.rules.body_rules import BODY_RULES
from brumal.rules.health_rules import HEALTH_RULES
from brumal.rules.laying_rules import LAYING_RULES
from brumal.rules.on_record import (
    alive_since,
    days_ahead,
    events_by_animal,
    first_day,
    here_since,
    home_bred,
    newcomers,
    reweighed,
)
from brumal.rules.pair_rules import PAIR_RULES
from brumal.rules.past_rules import PAST_RULES
from brumal.rules.rule import (
    AnimalRule,
    Finding,
    Meeting,
    OwnRisk,
    PairFigures,
    PairRule,
    RuleContext,
    decimals,
)
from brumal.rules.season_rules import SEASON_RULES
from brumal.rules.verdict import RuleVerdict

ANIMAL_RULES: tuple[AnimalRule, ...] = (
    *BODY_RULES,
    *HEALTH_RULES,
    *LAYING_RULES,
    *PAST_RULES,
    *SEASON_RULES,
)


def rule_context(
    records: SeasonRecords,
    own_risks: Mapping[str, tuple[OwnRisk, ...]] | None = None,
    clean_lines: frozenset[str] = frozenset(),
) -> RuleContext:
    """Gather once what the rules look up; animals are judged on the first day they might meet.

    That is the first day of pairing, or the day the season is seen from where that is later.
    What genes say of the animals (``own_risks``, ``clean_lines``) is worked out before.
    """
    clutches: dict[str, list[Clutch]] = defaultdict(list)
    for clutch in sorted(records.clutches, key=lambda each: (str(each.laid or ""), each.row)):
        clutches[clutch.dam].append(clutch)
    settings = records.settings
    on = first_day(records)
    return RuleContext(
        settings=settings,
        on=on,
        series=all_series(records, until=on),
        layings={animal.id: layings(animal, clutches[animal.id]) for animal in records.animals},
        troubles={
            dam: tuple(clutch for clutch in hers if clutch.trouble)
            for dam, hers in clutches.items()
        },
        proven=proven_dams(records),
        exceptions={(dam, sire): reason for dam, sire, reason in settings.kin.exceptions},
        clutches={dam: tuple(hers) for dam, hers in clutches.items()},
        ledgers=ledgers(records),
        events=events_by_animal(records),
        own_risks=own_risks or {},
        clean_lines=clean_lines,
        newcomers=newcomers(records),
        home_bred=home_bred(records),
        here_since=here_since(records),
        alive_since=alive_since(records),
        undated=frozenset(
            clutch.dam for clutch in records.clutches if clutch.laid is None and clutch.eggs != 0
        ),
        seen=records.as_of,
        state=records.state,
        ahead=days_ahead(records, on),
        reweighed=reweighed(records, on),
    )


def judge_animal(animal: Animal, context: RuleContext) -> tuple[RuleVerdict, ...]:
    """Return the verdict of every rule that applies to the animal, in the order of the table.

    An animal that is not in the collection is judged by its status alone. Raises KeyError for an
    animal that is not in the records the context was built from.
    """
    rules = ANIMAL_RULES[:1] if animal.status in GONE else ANIMAL_RULES
    found = ((rule, rule.judge(animal, context)) for rule in rules)
    return tuple(
        _soften(rule, _verdict(rule, (animal.id,), finding), context)
        for rule, finding in found
        if finding is not None
    )


def may_breed(verdicts: tuple[RuleVerdict, ...]) -> bool:
    """Say whether no rule bars the animal or the pair."""
    return all(verdict.passed for verdict in verdicts)


def judge_pair(
    dam: Animal, sire: Animal, context: RuleContext, figures: PairFigures
) -> tuple[RuleVerdict, ...]:
    """Return the verdict of every pair rule, in the order of the table."""
    meeting = Meeting(dam, sire, context, figures)
    return tuple(_verdict(rule, (dam.id, sire.id), rule.judge(meeting)) for rule in PAIR_RULES)


def pair_barred(figures: PairFigures, context: RuleContext) -> bool:
    """Say whether any pair rule fails: the same answer as ``judge_pair``, without sentences."""
    return any(rule.bars(figures, context) for rule in PAIR_RULES)


def rule_setting_faults(records: SeasonRecords) -> tuple[Fault, ...]:
    """Return faults in ``rules.soft``: rules that do not exist or may not be softened."""
    soft = {rule.id for rule in ANIMAL_RULES if rule.unit}
    never = {rule.id for rule in ANIMAL_RULES if not rule.unit} | {rule.id for rule in PAIR_RULES}
    faults = []
    for name in sorted(set(records.settings.rules.soft) - soft):
        where = Where(file=records.files.get("season", "season.yaml"), column=f"rules.soft.{name}")
        repair = did_you_mean(name, soft)
        if name in never:
            repair = (
                "This rule guards the animals and always bars: no price buys it off. Only "
                f"preferences may be softened ({', '.join(sorted(soft))})."
            )
        faults.append(
            Fault(
                where=where,
                found=repr(name),
                expected=f"one of {', '.join(sorted(soft))}",
                repair=repair,
            )
        )
    return tuple(faults)


def _verdict(
    rule: AnimalRule | PairRule, subject: tuple[str, ...], finding: Finding
) -> RuleVerdict:
    figures = dict(finding.figures)
    if finding.missing:
        figures["missing"] = float(finding.missing)
    return RuleVerdict(
        rule=rule.id,
        subject=subject,
        passed=finding.passed,
        text=finding.text,
        remedy=finding.remedy,
        caution=finding.caution,
        figures=figures,
        rank=rule.rank,
        shared=finding.shared,
        detail=finding.detail,
    )


def _soften(rule: AnimalRule, verdict: RuleVerdict, context: RuleContext) -> RuleVerdict:
    """Turn a bar into a price where the keeper says so and the shortfall is known."""
    cost = context.limits.soft.get(rule.id)
    missing = verdict.figures.get("missing")
    if verdict.passed or cost is None or not rule.unit or not isinstance(missing, float):
        return verdict
    penalty = cost * missing
    price = f"{decimals(penalty)} {context.settings.currency}"
    return replace(
        verdict,
        passed=True,
        caution=True,
        penalty=penalty,
        text=f"{verdict.text} The rule is soft: breeding all the same is counted as {price}.",
    )
