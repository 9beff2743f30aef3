"""Checks across the settings of ``season.yaml``, and of its locks against the animals."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from brumal.records.animal_table import Herd
from brumal.records.animals import Sex
from brumal.records.cells import quote
from brumal.records.faults import Fault, Severity, did_you_mean
from brumal.records.floors import floor_faults
from brumal.records.plain_values import fold_morph, plain_number
from brumal.records.settings import BySex, Locks, Settings, Values
from brumal.records.yaml_text import Path, Place

MOST_YEARS = 10
"""Years that a wish may wait at most."""

PAIR_LISTS = ("must_pair", "never_pair", "already_paired")


def cross_checks(settings: Settings, place: Place) -> Iterator[Fault]:
    """Yield what is wrong between settings, each of which is right by itself."""
    season = settings.season
    if season.pair_to < season.pair_from:
        yield Fault(
            where=place(("season", "pair_to")),
            found=quote(season.pair_to.isoformat()),
            expected=f"a date not before pair_from ({season.pair_from.isoformat()})",
            repair="Is it the right year?",
        )
    yield from floor_faults(settings, place)
    yield from _wanted_checks(settings, place)
    yield from _by_checks(settings, place)
    yield from _price_checks(settings.values, place)
    yield from _lock_clashes(settings.locks, place)


def _wanted_checks(settings: Settings, place: Place) -> Iterator[Fault]:
    seen: dict[str, int] = {}
    for number, wanted in enumerate(settings.values.wanted):
        path: Path = ("values", "wanted", number)
        first = seen.setdefault(fold_morph(wanted.morph), number)
        if first != number:
            yield Fault(
                where=place((*path, "morph")),
                found=f"{quote(wanted.morph)} again (first as entry {first + 1})",
                expected="each morph once",
                repair="Put the two entries together.",
            )
        if wanted.keep is not None and wanted.keep.worth is not None and wanted.keep.extra:
            yield Fault(
                where=place((*path, "keep", "worth")),
                found="both worth and extra",
                expected="worth (what each will bring or save altogether), or extra (on top of "
                "its price)",
            )
        if wanted.need is None and wanted.value_after is not None:
            yield Fault(
                where=place((*path, "value_after")),
                found="a value_after without a need",
                expected="need: how many are worth the full value",
                repair="Without need it is not used.",
                severity=Severity.WARNING,
            )
        if wanted.value_after is not None and _is_above(wanted.value_after, wanted.value):
            yield Fault(
                where=place((*path, "value_after")),
                found="a value_after above the value",
                expected="what each one past need is worth, no more than the value",
            )
        for key in ("value", "value_after"):
            value = getattr(wanted, key)
            if isinstance(value, BySex) and value.female is None and value.male is None:
                yield Fault(
                    where=place((*path, key)),
                    found="a value for neither sex",
                    expected="a number, or {female: number, male: number}",
                )


def _by_checks(settings: Settings, place: Place) -> Iterator[Fault]:
    """Check the years of wishes that may wait."""
    year = settings.season.pair_from.year
    for number, wanted in enumerate(settings.values.wanted):
        path: Path = ("values", "wanted", number, "by")
        if wanted.by is None:
            continue
        if not year < wanted.by <= year + MOST_YEARS:
            yield Fault(
                where=place(path),
                found=str(wanted.by),
                expected=f"a year from {year + 1} to {year + MOST_YEARS}, the last in which the "
                "first of them may hatch",
            )
        if wanted.chance is not None:
            yield Fault(
                where=place(path),
                found="both chance and by",
                expected="chance, asked of this season's own young, or by, which gives the wish "
                "until that year",
                repair="Remove one.",
            )


def _price_checks(values: Values, place: Place) -> Iterator[Fault]:
    """Check prices that stand outside the wishes."""
    wishes = {fold_morph(wanted.morph): wanted.morph for wanted in values.wanted}
    for morph in values.combinations:
        if fold_morph(morph) in wishes:
            yield Fault(
                where=place(("values", "combinations", morph)),
                found=f"{quote(morph)}, which is wanted already",
                expected="a price in one of the two places",
                repair="Remove one.",
            )
    if isinstance(values.possible_hets, dict):
        labels = sorted({100: 1.0, **values.possible_hets}.items())
        for (low, less), (high, more) in itertools.pairwise(labels):
            if less > more:
                yield Fault(
                    where=place(("values", "possible_hets")),
                    found=f"{low}% at {plain_number(less)}, {high}% at {plain_number(more)}",
                    expected="no larger share for a lower label",
                )


def _is_above(one: float | BySex, other: float | BySex) -> bool:
    """Say whether one value is above the other for a sex that both give."""
    pairs = [(_of(one, sex), _of(other, sex)) for sex in ("female", "male")]
    return any(a is not None and b is not None and a > b for a, b in pairs)


def _of(value: float | BySex, sex: str) -> float | None:
    found: float | None = getattr(value, sex) if isinstance(value, BySex) else value
    return found


def _lock_clashes(locks: Locks, place: Place) -> Iterator[Fault]:
    made: dict[str, str] = {}
    for number, (dam, sire) in enumerate(locks.already_paired):
        if made.setdefault(dam, sire) != sire:
            yield Fault(
                where=place(("locks", "already_paired", number)),
                found=f"{dam} x {sire}, and {dam} x {made[dam]} before it",
                expected="one male for a female in a season",
                repair="Keep the male that is most likely the sire.",
            )


def check_locks(locks: Locks, herd: Herd, place: Place) -> list[Fault]:
    """Check the ids of the locks against the animals, and the order dam, sire."""
    faults = []
    for key in PAIR_LISTS:
        for number, pair in enumerate(getattr(locks, key)):
            faults.extend(_check_pair(pair, ("locks", key, number), herd, place))
    for number, name in enumerate(locks.sit_out):
        if name not in herd.known:
            faults.append(_unknown_id(name, ("locks", "sit_out", number), herd, place))
    for dam, sires in locks.sires.items():
        for sire in sires:
            faults.extend(_check_pair((dam, sire), ("locks", "sires", dam), herd, place))
        if not any(sires.values()):
            faults.append(
                Fault(
                    where=place(("locks", "sires", dam)),
                    found="no chance for any male",
                    expected="a share for each male that may be the sire, such as {M01: 0.7}",
                )
            )
    return faults


def _check_pair(pair: tuple[str, str], path: Path, herd: Herd, place: Place) -> list[Fault]:
    unknown = [
        _unknown_id(name, (*path, side), herd, place, role="sire" if side else "dam")
        for side, name in enumerate(pair)
        if name not in herd.known
    ]
    if unknown:
        return unknown
    dam, sire = (herd.by_id[name] for name in pair)
    if dam.sex is Sex.MALE and sire.sex is Sex.FEMALE:
        return [
            Fault(
                where=place(path),
                found=f"[{dam.id}, {sire.id}]: sire and dam swapped",
                expected="[dam, sire]",
                repair=f"Write [{sire.id}, {dam.id}].",
            )
        ]
    return [
        Fault(
            where=place((*path, side)),
            found=f"{quote(animal.id)}, a {wrong.value}",
            expected=words,
        )
        for side, (animal, wrong, words) in enumerate(
            ((dam, Sex.MALE, "a female as dam"), (sire, Sex.FEMALE, "a male as sire"))
        )
        if animal.sex is wrong
    ]


def _unknown_id(name: str, path: Path, herd: Herd, place: Place, role: str = "") -> Fault:
    fit = [known for known in herd.known.ids if not role or herd.may_be(known, role)]
    close = herd.known.nearest(name)
    hint = f"Did you mean {quote(close)}?" if close in fit else did_you_mean(name, fit)
    return Fault(
        where=place(path), found=quote(name), expected="an id of the animals table", repair=hint
    )
