"""The lines of animals on the sheet, from the answer at hand or from the whole plan."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from brumal.page import words
from brumal.page.desk import Desk, Shown
from brumal.page.pencil import Kind
from brumal.planner.limits.males import PAIRING
from brumal.planner.plan import MaleUse, PlannedPair, Resting
from brumal.records.animals import Animal, Sex
from brumal.records.settings import Locks
from brumal.report.page import picture
from brumal.report.plan.season_words import window_words
from brumal.report.plan.words import (
    outcome_words,
    pair_cautions,
    second_line,
    state_words,
)
from brumal.report.ready.pictures import weight_picture
from brumal.report.ready.words import ledger_line, outlook, own_reasons
from brumal.report.svg import Picture
from brumal.report.words import estimate, figure, inbreeding
from brumal.rules.readiness import Readiness


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One entry of a control: what it sends, what it says, and whether it stands now."""

    value: str
    text: str
    chosen: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FemaleLine:
    """One female: what the plan does with her, in words, and the hand on her."""

    id: str
    key: str
    label: str
    morph: str
    can_be_decided: bool
    pencilled: bool
    head: str
    worth: str
    start: str
    weight: str
    bar: Markup | None
    options: tuple[Option, ...]
    reasons: tuple[str, ...]
    more: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    weights: Markup | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MaleLine:
    """One male: his pairings against his limit, what one more would bring, and the hand on him."""

    id: str
    key: str
    label: str
    morph: str
    pencilled: bool
    uses: str
    reasons: tuple[str, ...]
    options: tuple[Option, ...]
    limit: str
    path: str
    more: str


def key_of(animal: str) -> str:
    """Return what names an animal's parts of the page: any id, in letters that names may have."""
    return hashlib.sha256(animal.encode()).hexdigest()[:12]


def weight_bar(grams: float, asked: float) -> Picture:
    """Draw a weight beside the one asked for: a bar, and an upright mark."""
    told = f"{grams:,.0f} g of {asked:,.0f} g asked"
    bar = Picture(100, 10, "Weight", told)
    most = max(grams, asked) * 1.1
    bar.add("rect", x=0, y=1, width=100, height=8, class_="trough")
    bar.add("rect", x=0, y=1, width=100 * grams / most, height=8, class_="fill-one")
    at = 100 * asked / most
    bar.add("path", d=f"M {at:.2f} 0 V 10", class_="stop", stroke_width="2")
    return bar


class Lines:
    """Makes the lines of animals from the newest answer, at hand or whole."""

    def __init__(self, desk: Desk, shown: Shown, names: Mapping[str, str]) -> None:
        self.records = desk.variant.records or desk.records
        self.locks: Locks = self.records.settings.locks
        self.marks = desk.marks
        self.names = names
        self.solved = shown.solved
        self.more = shown.more
        self.pairs: Mapping[str, PlannedPair] = {}
        self.resting: Mapping[str, Resting] = {}
        if self.solved is not None:
            self.pairs = {pair.dam: pair for pair in self.solved.plan.pairs}
            self.resting = {rest.id: rest for rest in self.solved.plan.resting}
        self.mates = {dam: (pair.sire, pair.value) for dam, pair in self.pairs.items()}
        if not shown.is_final and shown.first is not None and shown.first.plan is not None:
            self.mates = {dam: (sire, value) for (dam, sire), value in shown.first.plan.pairs}
        before = desk.unmarked.solved
        self.first = {pair.dam for pair in before.plan.pairs} if before else set(self.mates)

    def females(self) -> tuple[FemaleLine, ...]:
        """Return the females of the collection, those that are paired first."""
        own = [each for each in self.records.collection if each.sex is not Sex.MALE]
        lines = [self._female(animal) for animal in own]
        # By the season's own plan, so that no line moves away under the hand that pencils it.
        order = {line.id: (line.id not in self.first, line.label, line.id) for line in lines}
        return tuple(sorted(lines, key=lambda line: order[line.id]))

    def _female(self, animal: Animal) -> FemaleLine:
        mate = self.mates.get(animal.id)
        pair = self.pairs.get(animal.id)
        if pair is not None and mate is not None and pair.sire != mate[0]:
            pair = None
        rest = self.resting.get(animal.id)
        able = self.solved is None or animal.id in self.solved.able
        made = dict(self.locks.already_paired).get(animal.id)
        return FemaleLine(
            id=animal.id,
            key=key_of(animal.id),
            label=animal.label,
            morph=animal.look,
            can_be_decided=able or mate is not None,
            pencilled=self._is_pencilled(animal.id),
            head=self._head(animal, mate, rest),
            worth=estimate(mate[1], self.records.settings.currency, pair.sd if pair else 0.0)
            if mate
            else "",
            start=self._start(animal.id) if able else "",
            weight=self._weight(animal.id),
            bar=self._bar(animal.id),
            options=self._options(animal, mate, made) if able else (),
            reasons=self._reasons(mate, pair, rest),
            more=self._more(animal.id, pair),
            cautions=self._cautions(pair),
            weights=self._picture(animal.id),
        )

    def _head(self, animal: Animal, mate: tuple[str, float] | None, rest: Resting | None) -> str:
        if mate is not None:
            return f"with {self.names[mate[0]]}"
        if animal.id in self.locks.sit_out:
            return "rests, as you ask"
        if rest is None:
            return "not decided yet" if self.solved is None else "rests in the plan at hand"
        return {"rule": "rests by rule", "lock": "rests, as you ask"}.get(
            rest.by, "rests by choice of the plan"
        )

    def _reasons(
        self, mate: tuple[str, float] | None, pair: PlannedPair | None, rest: Resting | None
    ) -> tuple[str, ...]:
        """Say how far her pair has come and who is next, or why she rests."""
        if mate is None:
            return tuple(reason.text for reason in rest.reasons) if rest else ()
        if pair is None or self.solved is None:
            return ()
        state = state_words(self.solved.plan, pair)
        told = (
            f"{state[:1].upper()}{state[1:]}." if state else "",
            second_line(self.solved.plan, pair),
        )
        return tuple(filter(None, told))

    def _is_pencilled(self, animal: str) -> bool:
        return any(
            animal in mark.subject[:2]
            for mark in self.marks
            if mark.kind is not Kind.SET or mark.subject[0] == "animals"
        )

    def _start(self, animal: str) -> str:
        if self.solved is None:
            return ""
        start = self.solved.starts.get(animal)
        if start is None or start.day is None:
            return ""
        if start.day <= self.records.settings.season.pair_from and not start.provisional:
            return ""
        return words.start_words(start)

    def _weight(self, animal: str) -> str:
        ready = self._ready(animal)
        if ready is None or ready.series.last is None:
            return "" if ready is None or ready.limit_g is None else "no weight on record"
        grams = f"{ready.series.last.grams:,.0f} g"
        return grams if ready.limit_g is None else f"{grams}, {ready.limit_g:,.0f} g asked"

    def _bar(self, animal: str) -> Markup | None:
        ready = self._ready(animal)
        if ready is None or ready.series.last is None or ready.limit_g is None:
            return None
        return picture(weight_bar(ready.series.last.grams, ready.limit_g))

    def _ready(self, animal: str) -> Readiness | None:
        outlook_ = self.solved.outlook if self.solved else None
        return outlook_.animals.get(animal) if outlook_ else None

    def _options(
        self, animal: Animal, mate: tuple[str, float] | None, made: str | None
    ) -> tuple[Option, ...]:
        """Return what a keeper may decide of a female; a pair already made stands as a fact."""
        if made is not None:
            return ()
        fixed = dict(self.locks.must_pair).get(animal.id)
        rests = animal.id in self.locks.sit_out
        apart = {sire for dam, sire in self.locks.never_pair if dam == animal.id}
        open_ = self._open_sires(animal.id)
        found = [Option(value="free", text="as the plan decides", chosen=not (fixed or rests))]
        found.append(Option(value="rest", text="rests", chosen=rests))
        found += [
            Option(value=f"with {sire}", text=f"with {self.names[sire]}", chosen=sire == fixed)
            for sire in open_
        ]
        if mate is not None:
            found.append(Option(value=f"apart {mate[0]}", text=f"not with {self.names[mate[0]]}"))
        found += [
            Option(value=f"lift {sire}", text=f"may go with {self.names[sire]} again")
            for sire in sorted(apart)
        ]
        return tuple(found)

    def _open_sires(self, dam: str) -> Sequence[str]:
        """Return her open sires, the best first; of one that rests by lock, all fit to breed."""
        if self.solved is None:
            return ()
        if dam in self.solved.mates:
            return [sire for sire, _ in self.solved.mates[dam]]
        return [
            each.id
            for each in self.records.collection
            if each.sex is Sex.MALE and each.id in self.solved.able
        ]

    def _more(self, animal: str, pair: PlannedPair | None) -> tuple[tuple[str, str], ...]:
        ready, told = self._ready(animal), []
        if pair is not None:
            told.append(("Young to expect", outcome_words(pair)))
            told.append(("Clutch", words.clutch_words(pair)))
            told.append(("F of the young", inbreeding(pair.F)))
            told += self._dates(animal)
        if ready is not None:
            told.append(("Forecast", outlook(ready)))
            told.append(("Her seasons", ledger_line(ready)))
            told.append(("To look at", " ".join(own_reasons(ready))))
        return tuple((name, text) for name, text in told if text)

    def _dates(self, dam: str) -> list[tuple[str, str]]:
        coming = self.solved.outlook if self.solved else None
        found = [each for each in coming.clutches if each.dam == dam] if coming else []
        clutch = found[0] if found else None
        if clutch is None:
            return []
        first = [("First visit", str(clutch.visits[0].start))] if clutch.visits else []
        return [
            *first,
            ("Ovulation", window_words(clutch.ovulation)),
            ("Laying", window_words(clutch.laying)),
            ("Hatching", window_words(clutch.hatching)),
        ]

    def _cautions(self, pair: PlannedPair | None) -> tuple[str, ...]:
        if pair is None or self.solved is None:
            return ()
        return tuple(pair_cautions(self.solved.plan, pair))

    def _picture(self, animal: str) -> Markup | None:
        ready = self._ready(animal)
        if ready is None:
            return None
        image = weight_picture(ready, self.records.settings.season.pair_from)
        return None if image is None else picture(image)

    def males(self) -> tuple[MaleLine, ...]:
        """Return the males of the collection."""
        uses = {use.id: use for use in self.solved.plan.males} if self.solved else {}
        own = [each for each in self.records.collection if each.sex is Sex.MALE]
        return tuple(self._male(animal, uses.get(animal.id)) for animal in own)

    def _male(self, animal: Animal, use: MaleUse | None) -> MaleLine:
        count = sum(sire == animal.id for sire, _ in self.mates.values())
        off = animal.id in self.locks.sit_out
        limit = "" if use is None else f"{count} of {use.limit} females"
        return MaleLine(
            id=animal.id,
            key=key_of(animal.id),
            label=animal.label,
            morph=animal.look,
            pencilled=self._is_pencilled(animal.id),
            uses="let off, as you ask" if off else limit,
            reasons=tuple(each.text for each in use.reasons) if use else (),
            options=(
                Option(value="free", text="as the plan decides", chosen=not off),
                Option(value="rest", text="let him off", chosen=off),
            ),
            limit="" if use is None else figure(use.limit),
            path=json.dumps(["animals", animal.id, "max_pairings"], ensure_ascii=False),
            more=words.more_words(self.more, animal.id).get(PAIRING, ""),
        )
