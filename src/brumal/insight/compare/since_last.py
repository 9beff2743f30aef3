"""Today's plan against an earlier one: what changed, and which input changed it.

An earlier ``plan.json`` holds its settings and which animals it knew, but of each table only a
fingerprint. So settings and new animals can be put back one at a time and the season solved again;
what tables changed beside that can be told apart only where the earlier folder is given too. In a
running season the same folder, seen from the earlier day, is given: then what was written down
since is put back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from brumal.insight.compare.columns import Answer
from brumal.insight.compare.differences import Move
from brumal.insight.compare.parallel import Bench, Question, Reply
from brumal.insight.compare.since_events import event_inputs
from brumal.planner.plan import Plan
from brumal.records.animals import GONE, Animal, Status
from brumal.records.folder import SeasonRecords
from brumal.records.last_plan import LastPlan
from brumal.records.overlay import WANTED
from brumal.records.overlay_animals import row_changes
from brumal.records.overlay_tree import Change, put_back, settings_changes
from brumal.records.season_state import with_unknown_sire
from brumal.records.yaml_text import Path

TABLES = ("animals", "weights", "clutches", "genes")
FIRM = ("animals", "genes")
"""Tables whose rows bear no day: what they held on an earlier one is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swap:
    """One input put back to what it was, all others as today.

    ``effect`` is what the change of this input brings: today's value less the value with it put
    back (``None`` where there is then no plan). ``restores`` are the females whose sire or rest it
    then has as the earlier plan had it, and has not today.
    """

    change: Change
    effect: float | None
    restores: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SinceLast:
    """Today's plan against an earlier one.

    ``effect`` is today's value less the earlier; ``together`` that of all swapped inputs put back
    at once; ``rest`` what then remains, which comes of ``untold`` inputs. ``untold`` are tables
    that changed and cannot be put back, and versions that differ. ``days`` have gone by where the
    same folder was seen from the earlier day: then the rest comes of them too.
    """

    before: float
    after: float
    moves: tuple[Move, ...]
    swaps: tuple[Swap, ...]
    together: float | None
    untold: tuple[str, ...]
    notes: tuple[str, ...] = ()
    days: int | None = None

    @property
    def effect(self) -> float:
        """Return today's value less the earlier."""
        return round(self.after - self.before, 6)

    @property
    def rest(self) -> float | None:
        """Return what no swapped input explains, ``None`` where that is not known."""
        return None if self.together is None else round(self.effect - self.together, 6)


@dataclass(frozen=True, slots=True)
class _Input:
    """One input that differs: how it changed, and today's records with it put back."""

    change: Change
    back: Callable[[SeasonRecords], SeasonRecords]


def since_last(
    bench: Bench, plan: Plan, last: LastPlan, old: SeasonRecords | None = None
) -> SinceLast:
    """Return what changed since an earlier plan; ``old`` are the records it was made from.

    ``plan`` is today's plan of the bench's base season and has to have a value.
    """
    today = bench.base
    moved = _moves(last, plan)
    inputs = list(_inputs(today, last, old, moved))
    questions = [
        Question(name=str(each.change.where), records=each.back(today), whole=False)
        for each in inputs
    ]
    all_back = today
    for each in inputs:
        all_back = each.back(all_back)
    if inputs:
        questions.append(Question(name="all put back", records=all_back, whole=False))
    replies = bench.ask(questions)
    after = (plan.objective or 0.0) - plan.money.switches
    now = {pair.dam: pair.sire for pair in plan.pairs}
    together = _value(replies[-1]) if replies else after
    return SinceLast(
        before=last.objective,
        after=after,
        moves=moved,
        swaps=tuple(
            _swap(each.change, reply, after, now, last)
            for each, reply in zip(inputs, replies, strict=False)
        ),
        together=None if together is None else round(after - together, 6),
        untold=tuple(_untold(today, plan, last, old)),
        notes=tuple(_notes(today, plan, last, old)),
        days=_days(today, old),
    )


def _moves(last: LastPlan, plan: Plan) -> tuple[Move, ...]:
    now = {pair.dam: pair.sire for pair in plan.pairs}
    why = {rest.id: " ".join(reason.text for reason in rest.reasons) for rest in plan.resting}
    return tuple(
        Move(
            dam=dam,
            before=last.sires.get(dam),
            after=now.get(dam),
            reason="" if dam in now else why.get(dam, "Not in the collection."),
        )
        for dam in sorted({*last.sires, *now})
        if last.sires.get(dam) != now.get(dam)
    )


def _swap(
    change: Change, reply: Reply, after: float, now: Mapping[str, str], last: LastPlan
) -> Swap:
    value = _value(reply)
    then = dict(reply.pairs) if isinstance(reply, Answer) else now
    restores = tuple(
        dam
        for dam in sorted({*last.sires, *now})
        if now.get(dam) != last.sires.get(dam) and then.get(dam) == last.sires.get(dam)
    )
    effect = None if value is None else round(after - value, 6)
    return Swap(change=change, effect=effect, restores=restores)


def _value(reply: Reply) -> float | None:
    if not isinstance(reply, Answer) or reply.objective is None:
        return None
    return reply.objective - reply.switches


def _inputs(
    today: SeasonRecords, last: LastPlan, old: SeasonRecords | None, moved: Sequence[Move]
) -> Iterator[_Input]:
    yield from _setting_inputs(today, last)
    if old is not None and _seen_again(today, old):
        about = {name for move in moved for name in (move.dam, move.before, move.after) if name}
        yield from (_Input(*each) for each in event_inputs(today, old, about))
        return
    if old is None:
        yield from _new_animals(today, last)
        return
    yield from _animal_inputs(today, old)
    yield from _weight_inputs(today, old)
    if today.clutches != old.clutches:
        yield _Input(
            _table_change("clutches", len(old.clutches), len(today.clutches)),
            lambda records: replace(records, clutches=old.clutches),
        )
    if today.own_genes != old.own_genes:
        yield _Input(
            Change(where="genes.yaml", old="as it was", new="changed"),
            lambda records: replace(records, own_genes=old.own_genes),
        )


def _seen_again(today: SeasonRecords, old: SeasonRecords) -> bool:
    """Say whether both are the same folder, seen from two days."""
    return bool(today.fingerprints) and today.fingerprints == old.fingerprints


def _days(today: SeasonRecords, old: SeasonRecords | None) -> int | None:
    """Return how many days lie between two readings of one folder."""
    if old is None or not _seen_again(today, old) or not (today.as_of and old.as_of):
        return None
    return (today.as_of - old.as_of).days


def _setting_inputs(today: SeasonRecords, last: LastPlan) -> Iterator[_Input]:
    """Yield one input a setting; a wish, the dates and the locks each go together.

    The season's name and the currency change no plan, and the day it is seen from is none of them.
    """
    groups: dict[Path, list[Change]] = {}
    for change in settings_changes(last.settings, today.settings):
        if change.path not in (("season", "name"), ("season", "as_of"), ("currency",)):
            groups.setdefault(_unit(change.path), []).append(change)
    for path, changes in groups.items():

        def back(records: SeasonRecords, path: Path = path) -> SeasonRecords:
            return replace(records, settings=put_back(records.settings, last.settings, path))

        yield _Input(_joined(changes, len(path)), back)


def _unit(path: Path) -> Path:
    if path[:2] == WANTED:
        return path[:3]
    return path[:1] if path[0] in ("season", "locks") else path


def _joined(changes: Sequence[Change], depth: int) -> Change:
    """Tell changes of one input as one."""
    first = changes[0]
    if len(changes) == 1:
        return first
    where = ".".join(first.where.split(".")[:depth])
    keys = [change.where.removeprefix(f"{where}.") for change in changes]
    old = ", ".join(f"{key} {each.old}" for key, each in zip(keys, changes, strict=True))
    new = ", ".join(f"{key} {each.new}" for key, each in zip(keys, changes, strict=True))
    return Change(where=where, old=old, new=new, path=first.path[:depth])


def _new_animals(today: SeasonRecords, last: LastPlan) -> Iterator[_Input]:
    for animal in today.animals:
        known = animal.id in last.animals or animal.sex is None
        if not known and animal.status not in GONE:
            yield _Input(
                Change(where=f"animals.{animal.id}", old="not there", new=_called(animal)),
                _without(animal.id),
            )


def _called(animal: Animal) -> str:
    sex = animal.sex.value if animal.sex else "sex not known"
    return ", ".join(filter(None, (animal.name, sex, animal.morph)))


def _without(id: str) -> Callable[[SeasonRecords], SeasonRecords]:
    """Take an animal out; one that others name as a parent keeps its row, outside."""

    def back(records: SeasonRecords) -> SeasonRecords:
        parents = {name for each in records.animals for name in (each.dam, each.sire)}
        if id not in parents:
            return _taken_out(id)(records)
        return _with_animals(
            records,
            (
                replace(each, status=Status.OUTSIDE) if each.id == id else each
                for each in records.animals
            ),
        )

    return back


def _animal_inputs(today: SeasonRecords, old: SeasonRecords) -> Iterator[_Input]:
    before = {animal.id: animal for animal in old.known}
    now = {animal.id: animal for animal in today.known}
    for id, animal in now.items():
        if id not in before:
            change = Change(where=f"animals.{id}", old="not there", new=_called(animal))
            yield _Input(change, _taken_out(id))
            continue
        told = row_changes(before[id], animal)
        if told:
            yield _Input(_joined(told, 2), _row_back(before[id]))
    for id, animal in before.items():
        if id not in now:
            change = Change(where=f"animals.{id}", old=_called(animal), new="not there")
            yield _Input(change, _row_back(animal))


def _taken_out(id: str) -> Callable[[SeasonRecords], SeasonRecords]:
    return lambda records: _with_animals(records, (a for a in records.animals if a.id != id))


def _row_back(animal: Animal) -> Callable[[SeasonRecords], SeasonRecords]:
    def back(records: SeasonRecords) -> SeasonRecords:
        rows = {each.id: each for each in records.animals}
        row = rows[animal.id].row if animal.id in rows else max(a.row for a in rows.values()) + 1
        return _with_animals(records, {**rows, animal.id: replace(animal, row=row)}.values())

    return back


def _with_animals(records: SeasonRecords, animals: Iterable[Animal]) -> SeasonRecords:
    return replace(records, animals=with_unknown_sire(tuple(animals), records.state))


def _weight_inputs(today: SeasonRecords, old: SeasonRecords) -> Iterator[_Input]:
    """Yield one input for each animal whose weighings differ."""
    for animal in sorted({each.animal for each in (*today.weighings, *old.weighings)}):
        before = tuple(each for each in old.weighings if each.animal == animal)
        now = tuple(each for each in today.weighings if each.animal == animal)
        if [(w.date, w.grams) for w in before] == [(w.date, w.grams) for w in now]:
            continue

        def back(
            records: SeasonRecords, animal: str = animal, before: object = before
        ) -> SeasonRecords:
            others = (each for each in records.weighings if each.animal != animal)
            assert isinstance(before, tuple)
            return replace(records, weighings=(*others, *before))

        words = [
            f"{len(each)} weighings, the last {max(each, key=lambda w: (w.date, w.row)).grams:g} g"
            if each
            else "none"
            for each in (before, now)
        ]
        yield _Input(Change(where=f"weights.{animal}", old=words[0], new=words[1]), back)


def _table_change(table: str, old: int, new: int) -> Change:
    return Change(where=table, old=f"{old} rows", new=f"{new} rows, or others")


def _untold(
    today: SeasonRecords, plan: Plan, last: LastPlan, old: SeasonRecords | None
) -> Iterator[str]:
    """Name what changed and cannot be put back."""
    if old is None or _seen_again(today, old):
        for stem in TABLES if old is None else FIRM:
            file = today.files.get(stem, "")
            before = [name for name in last.fingerprints if name.split(".")[0] == stem]
            same = [last.fingerprints[name] for name in before]
            now = [today.fingerprints[file]] if file in today.fingerprints else []
            if same != now:
                yield file or before[0]
    for name, number in plan.inputs.versions.items():
        if last.versions.get(name) != number:
            yield f"{name} {last.versions.get(name, 'not there')} -> {number}"


def _notes(
    today: SeasonRecords, plan: Plan, last: LastPlan, old: SeasonRecords | None
) -> Iterator[str]:
    yield from _of_another(today, plan, last)
    if last.verdict != "proven":
        yield "The earlier plan was not proven: part of the difference may be the solver's."
    if plan.verdict != "proven":
        yield "Today's plan is not proven: part of the difference may be the solver's."
    if old is None or _seen_again(today, old):
        return
    for file, mark in sorted(last.fingerprints.items()):
        if old.fingerprints.get(file) != mark and not file.startswith("season."):
            yield (
                f"{file} of the earlier folder is not the file that the earlier plan was made "
                "from: what is told of it may be off."
            )


def _of_another(today: SeasonRecords, plan: Plan, last: LastPlan) -> Iterator[str]:
    """Say where the earlier plan is of another season, other animals or another brumal."""
    was, now = last.settings.season, today.settings.season
    if was.name != now.name or was.pair_to < now.pair_from or now.pair_to < was.pair_from:
        yield (
            f"The earlier plan is of another season: {was.name}, {was.pair_from} to {was.pair_to}; "
            f"today's is {now.name}, {now.pair_from} to {now.pair_to}."
        )
    if not last.animals & {animal.id for animal in today.animals}:
        yield (
            "None of its animals is in today's tables: it seems to be the plan of another folder, "
            "and the two have little to tell of each other."
        )
    own = "brumal"
    if last.versions.get(own) != plan.inputs.versions[own]:
        yield (
            f"The earlier plan was made by brumal {last.versions.get(own, 'of no known version')}, "
            f"today's by {plan.inputs.versions[own]}: part of the difference may come of that."
        )
