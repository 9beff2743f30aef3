"""What the keeper must look at before the plan is carried out, and why a plan may be empty."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from brumal.forecast.weight import monthly_loss
from brumal.genetics.welfare import animal_welfare
from brumal.pipeline import Prepared
from brumal.planner.limits.limit import counted
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.candidates import Candidates, pair_verdicts
from brumal.planner.plan import PlanCaution, Room, Unready
from brumal.planner.visiting import Visiting, still_serves
from brumal.records.animals import Sex
from brumal.records.price_settings import Values
from brumal.records.season_state import UNKNOWN_SIRE, Stage
from brumal.rules.cautions import by_rank, shared_cautions, shared_words
from brumal.rules.readiness import ready_day
from brumal.rules.verdict import Rank, RuleVerdict

NEAREST = 3
SIRE_NOT_KNOWN = (
    "No meeting of hers is on record, so the sire is not known. Her young count by what she gives "
    "them and by what is written of them, no more. Enter her visits, or the sire in locks.sires "
    "or the clutches table."
)
WEIGH_WEEKLY = "Weigh every week, and have a vet look for the cause if it goes on falling."


def pair_cautions(prepared: Prepared, found: Candidates, pair: Pair) -> tuple[str, ...]:
    """Return the cautions on one pair, the gravest first; those that are shared are left out.

    What holds back further visits of a pair that is made already comes before all others.
    """
    if pair[1] == UNKNOWN_SIRE.id:
        return (SIRE_NOT_KNOWN,)
    if found.settled(pair[0]):
        return ()
    other = still_serves(prepared, pair[0])
    if other:
        other += f". Here all her young count as by {prepared.label(pair[1])}."
    own, first = _to_look_at(prepared, found, pair), found.held(pair)
    told = [(each.rank, each.text) for each in own if not each.shared and each not in first]
    told += [(Rank.HARM, text) for animal in pair for text in _own_disorders(prepared, animal)]
    ordered = sorted(told, key=lambda each: each[0])
    held = list(dict.fromkeys(_held(verdict) for verdict in first))
    if held:
        goes = found.clutches[pair].goes
        held[0] += f" With no more than she has had, she lays with a chance of {goes:.0%}."
    said = (*held, *([other] if other else ()), *(text for _, text in ordered))
    return tuple(dict.fromkeys(said))


def _held(verdict: RuleVerdict) -> str:
    """Say what comes first before a pair that is made already meets again."""
    why = " ".join(filter(None, (verdict.text, verdict.remedy)))
    return f"No further visit of this pair is planned. First: {why}"


def plan_cautions(
    prepared: Prepared, found: Candidates, pairs: Sequence[Pair]
) -> tuple[PlanCaution, ...]:
    """Return what stands before all pairs.

    That is what can hurt an animal, what many animals share and what holds for several pairs.
    """
    verdicts, pairs_of = {}, defaultdict(list)
    overdue = _overdue(prepared, [dam for dam, _ in pairs])
    pairs = [pair for pair in pairs if not found.settled(pair[0])]
    for pair in pairs:
        for verdict in _to_look_at(prepared, found, pair):
            verdicts[verdict.rule, verdict.subject] = verdict
            pairs_of[verdict.text].append(pair)
    animals = sorted({animal for pair in pairs for animal in pair})
    for animal in animals:
        for verdict in _losing(prepared, animal):
            verdicts[verdict.rule, verdict.subject] = verdict
    told = [*overdue, *_unshared(prepared, verdicts.values(), pairs_of)]
    told += [
        PlanCaution(rank=Rank.HARM, animals=(animal,), text=text, own=(text,))
        for animal in animals
        for text in _own_disorders(prepared, animal)
    ]
    labels = {animal: prepared.label(animal) for animal in animals}
    sentences = {(each.subject[0], each.shared): each.text for each in verdicts.values()}
    told += [
        PlanCaution(
            rank=group.rank,
            animals=tuple(name for name, _ in group.animals),
            text=shared_words(group, labels),
            own=tuple(sentences[name, group.text] for name, _ in group.animals),
        )
        for group in shared_cautions(verdicts.values())
    ]
    return tuple(sorted(told, key=lambda each: (each.rank, each.animals, each.text)))


def room_caution(room: Room) -> Iterator[PlanCaution]:
    """Tell that the pairs that stand count for more boxes than there are."""
    if room.over:
        needed = counted(room.boxes, "incubator box", "incubator boxes")
        text = (
            f"The pairs that stand count for {needed}, and you have {room.boxes_limit}. Agree "
            "beforehand where a clutch goes that finds no box: eggs do not wait."
        )
        yield PlanCaution(rank=Rank.HARM, animals=(), text=text, own=())


def _overdue(prepared: Prepared, dams: Iterable[str]) -> Iterator[PlanCaution]:
    """Tell of females that should have laid, and of eggs that should have hatched."""
    visiting = Visiting.of(prepared)
    for dam in dams:
        since, her = visiting.overdue(dam), visiting.her(dam)
        if since is None or her is None:
            continue
        text = (
            f"The eggs of {prepared.label(dam)} are overdue since {since}: look at them, and enter "
            "the young that have come or the eggs that are still good."
            if her.stage is Stage.LAID
            else f"{prepared.label(dam)} is overdue since {since}: no eggs are on record, and by "
            f"what she had come to ({her.stage} on {her.since}) she should have laid. Have a "
            "licensed vet see her. The plan counts no eggs of her any more; if she has laid, enter "
            "it."
        )
        yield PlanCaution(rank=Rank.HARM, animals=(dam,), text=text, own=(text,))


def _unshared(
    prepared: Prepared, verdicts: Iterable[RuleVerdict], pairs_of: Mapping[str, Sequence[Pair]]
) -> list[PlanCaution]:
    """Return what can hurt an animal, and what holds for several pairs (``pairs_of`` by text)."""
    alone: dict[str, list[str]] = {}
    several: dict[str, RuleVerdict] = {}
    for each in verdicts:
        if each.shared:
            continue
        if each.rank is Rank.HARM or not each.passed:
            alone.setdefault(each.text, []).extend(each.subject)
        elif len(pairs_of[each.text]) > 1:
            several[each.text] = each
    told = [
        PlanCaution(rank=Rank.HARM, animals=tuple(dict.fromkeys(names)), text=text, own=(text,))
        for text, names in alone.items()
    ]
    told += [
        PlanCaution(
            rank=each.rank,
            animals=each.subject,
            text=f"{text} {_with_whom(prepared, each.subject[0], pairs_of[text])}",
            own=(text,),
        )
        for text, each in several.items()
        if text not in alone
    ]
    return told


def _with_whom(prepared: Prepared, animal: str, pairs: Sequence[Pair]) -> str:
    """Name the pairs of an animal by whom it meets."""
    mates = (prepared.label(mate) for pair in pairs for mate in pair if mate != animal)
    return f"To be paired with {', '.join(mates)}."


def _losing(prepared: Prepared, animal: str) -> Iterator[RuleVerdict]:
    """Tell of an animal of the plan whose weight falls, as ``brumal ready`` does."""
    series = prepared.rules.series[animal]
    if not series.weigh_weekly or series.trend is None:
        return
    loss = f"{-series.trend.gain:.1f} g a day, {monthly_loss(series.trend):.1%} a month"
    yield RuleVerdict(
        rule="weight-loss",
        subject=(animal,),
        passed=True,
        caution=True,
        text=f"The weight of {prepared.label(animal)} falls ({loss}). {WEIGH_WEEKLY}",
        rank=Rank.BODY,
        shared=f"The weight falls. {WEIGH_WEEKLY}",
        detail=loss,
    )


def _to_look_at(prepared: Prepared, found: Candidates, pair: Pair) -> tuple[RuleVerdict, ...]:
    dam, sire = pair
    own = (*found.verdicts.get(dam, ()), *found.verdicts.get(sire, ()))
    verdicts = (*(found.starts[pair].verdicts or own), *pair_verdicts(prepared, dam, sire))
    return by_rank(verdict for verdict in verdicts if verdict.caution or not verdict.passed)


def _own_disorders(prepared: Prepared, animal: str) -> Iterator[str]:
    """Tell the welfare notes that fall on a parent itself."""
    for risk in animal_welfare(prepared.genotypes[animal], prepared.catalogue):
        sure = "" if risk.probability > 1 - 1e-9 else f" (with {risk.probability:.0%})"
        yield (
            f"{prepared.label(animal)} itself falls under a note on {risk.genotype}{sure}: "
            f"{risk.note.text.rstrip('.')} ({risk.note.harm}, {risk.note.cited})."
        )


def unready(prepared: Prepared, found: Candidates) -> Unready:
    """Say of a plan without pairs which sex has no animal that may breed, and who is nearest."""
    for sex in (Sex.FEMALE, Sex.MALE):
        own = [animal.id for animal in prepared.records.collection if animal.sex is sex]
        if not any(found.may_breed(animal) for animal in own):
            days = [(ready_day(found.verdicts[animal]), animal) for animal in own]
            known = sorted((day, animal) for day, animal in days if day is not None)
            nearest = tuple((animal, day) for day, animal in known[:NEAREST])
            return Unready(sex=str(sex), nearest=nearest)
    return Unready(sex="", nearest=(), priced=_is_priced(prepared.records.settings.values))


def _is_priced(values: Values) -> bool:
    priced = (values.base, values.wanted, values.combinations, values.extra.visual)
    return any(map(bool, (*priced, values.extra.het)))
