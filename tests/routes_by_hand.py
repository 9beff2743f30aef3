"""Best policies over a few seasons by plain enumeration, with exact fractions.

Shares no code with the tool. Two recessive loci; an animal is (sex, copies at the first locus,
copies at the second). Every decision is tried and every clutch is listed young by young; what the
keeper knows is the history of looks, so that the chances of what hidden animals are follow from
Bayes over everything seen. A target is a young with two copies at both loci (of one sex if asked).
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache

Animal = tuple[str, int, int]
World = tuple[Animal, ...]
"""What every animal at hand is: founders first, then those held, in the order they were held."""
Beliefs = tuple[tuple[World, Fraction], ...]

HALF = Fraction(1, 2)


@dataclass(frozen=True)
class Case:
    """Founders with their sexes and what they may be; clutches of so many young."""

    sexes: tuple[str, ...]
    beliefs: Beliefs
    young: tuple[tuple[int, Fraction], ...]
    seasons: int
    hold: int
    serves: int = 1
    lag: tuple[int, int] = (1, 1)
    target_sex: str | None = None
    genotypes_known: bool = False
    hold_sex: str | None = None
    related: frozenset[tuple[int, int]] = field(default_factory=frozenset)
    rest: int = 0
    in_a_row: int = 0
    runs: tuple[int, ...] = ()
    discount: Fraction = Fraction(0)


@dataclass(frozen=True)
class Beast:
    """A place in the world: sex, first season, and the seasons in which she was paired."""

    name: int
    sex: str
    ready: int
    paired: tuple[int, ...] = ()


def may_pair(case: Case, beast: Beast, season: int) -> bool:
    """Say whether a female neither rests after a pairing nor has had too many in a row."""
    if any(season - case.rest <= before < season for before in beast.paired):
        return False
    row = 0
    while season - 1 - row in beast.paired:
        row += 1
    return not case.in_a_row or row < case.in_a_row


def best_chance(case: Case) -> Fraction:
    """Return the greatest chance of at least one target of any policy."""
    return _most(replace(case, discount=Fraction(0)), 1, _founders(case), case.beliefs)


def first_seasons(case: Case) -> dict[tuple[tuple[int, int], ...], tuple[Fraction, Fraction]]:
    """Return what every way to pair the founders in the first season brings.

    That is the expected number of targets of that season, and the best worth of a first target in
    later ones, which counts less by the share ``discount`` for each season that it comes later.
    """
    founders = _founders(case)
    return {
        pairs: (
            _expected(case, pairs),
            _worth_with(case, 1, founders, case.beliefs, pairs)
            - (1 - _none_hatch(case, case.beliefs, pairs)),
        )
        for pairs in _pairings(case, 1, founders)
    }


def _founders(case: Case) -> tuple[Beast, ...]:
    return tuple(
        Beast(at, sex, 1, tuple(range(1 - case.runs[at], 1)) if case.runs else ())
        for at, sex in enumerate(case.sexes)
    )


def _expected(case: Case, pairs: tuple[tuple[int, int], ...]) -> Fraction:
    mean = sum((number * share for number, share in case.young), Fraction(0))
    return mean * sum(
        (
            chance * share
            for world, chance in case.beliefs
            for dam, sire in pairs
            for young, share in _one_young(world[dam], world[sire]).items()
            if _is_target(case, young)
        ),
        Fraction(0),
    )


@cache
def _most(case: Case, season: int, beasts: tuple[Beast, ...], beliefs: Beliefs) -> Fraction:
    """Return the most that a first target can be worth from a season on."""
    if season > case.seasons:
        return Fraction(0)
    return max(
        _worth_with(case, season, beasts, beliefs, pairs)
        for pairs in _pairings(case, season, beasts)
    )


def _pairings(
    case: Case, season: int, beasts: Sequence[Beast]
) -> Iterator[tuple[tuple[int, int], ...]]:
    dams = [at for at, b in enumerate(beasts) if _can(case, b, "f", season)]
    sires = [at for at, b in enumerate(beasts) if _can(case, b, "m", season)]
    for chosen in itertools.product([None, *sires], repeat=len(dams)):
        pairs = tuple((d, s) for d, s in zip(dams, chosen, strict=True) if s is not None)
        if any(count > case.serves for count in Counter(s for _, s in pairs).values()):
            continue
        if any((d, s) in case.related for d, s in pairs):
            continue
        yield pairs


def _can(case: Case, beast: Beast, sex: str, season: int) -> bool:
    return beast.sex == sex and beast.ready <= season and may_pair(case, beast, season)


def _none_hatch(case: Case, beliefs: Beliefs, pairs: tuple[tuple[int, int], ...]) -> Fraction:
    return sum((c * _no_target(case, world, pairs) for world, c in beliefs), Fraction(0))


def _worth_with(
    case: Case,
    season: int,
    beasts: tuple[Beast, ...],
    beliefs: Beliefs,
    pairs: tuple[tuple[int, int], ...],
) -> Fraction:
    """Gather what may be seen; for each, hold what is best held (nothing in the last season)."""
    now = 1 - _none_hatch(case, beliefs, pairs)
    if season == case.seasons:
        return now
    paired = {dam for dam, _ in pairs}
    beasts = tuple(
        replace(beast, paired=(*beast.paired, season)) if at in paired else beast
        for at, beast in enumerate(beasts)
    )
    seen: dict[object, dict[tuple[World, tuple[Animal, ...]], Fraction]] = {}
    for world, chance in beliefs:
        for young, share in _clutches(case, world, pairs):
            if any(_is_target(case, animal) for _, animal in young):
                continue
            ordered = sorted(young, key=lambda each: (each[0], _look(case, each[1])))
            looks = tuple((place, _look(case, animal)) for place, animal in ordered)
            into = seen.setdefault(looks, {})
            key = (world, tuple(animal for _, animal in ordered))
            into[key] = into.get(key, Fraction(0)) + chance * share
    later = sum((_best_hold(case, season, beasts, each) for each in seen.values()), Fraction(0))
    return now + (1 - case.discount) * later


def _no_target(case: Case, world: World, pairs: tuple[tuple[int, int], ...]) -> Fraction:
    chance = Fraction(1)
    for dam, sire in pairs:
        chance *= sum(
            (
                share
                for animals, share in _clutch(world[dam], world[sire], case.young)
                if not any(_is_target(case, animal) for animal in animals)
            ),
            Fraction(0),
        )
    return chance


def _best_hold(
    case: Case,
    season: int,
    beasts: tuple[Beast, ...],
    worlds: dict[tuple[World, tuple[Animal, ...]], Fraction],
) -> Fraction:
    founders = len(case.sexes)
    sample = next(iter(worlds))[1]
    places = [("held", at) for at in range(founders, len(beasts))]
    places += [
        ("young", at)
        for at, animal in enumerate(sample)
        if case.hold_sex in (None, animal[0])
        and season + case.lag[animal[0] == "m"] <= case.seasons
    ]
    best = None
    for size in range(min(case.hold, len(places)) + 1):
        for chosen in itertools.combinations(places, size):
            after: dict[World, Fraction] = {}
            for (world, young), chance in worlds.items():
                kept = tuple(world[a] if kind == "held" else young[a] for kind, a in chosen)
                key = (*world[:founders], *kept)
                after[key] = after.get(key, Fraction(0)) + chance
            held = tuple(
                beasts[a]
                if kind == "held"
                else Beast(0, sample[a][0], season + case.lag[sample[a][0] == "m"])
                for kind, a in chosen
            )
            worth = _scaled(case, season + 1, (*beasts[:founders], *held), after)
            best = worth if best is None else max(best, worth)
    assert best is not None
    return best


def _scaled(
    case: Case, season: int, beasts: tuple[Beast, ...], worlds: dict[World, Fraction]
) -> Fraction:
    total = sum(worlds.values(), Fraction(0))
    if total == 0:
        return total
    beliefs = tuple(sorted((world, chance / total) for world, chance in worlds.items()))
    return total * _most(case, season, beasts, beliefs)


def _clutches(
    case: Case, world: World, pairs: tuple[tuple[int, int], ...]
) -> Iterator[tuple[tuple[tuple[int, Animal], ...], Fraction]]:
    """Yield every list of young of a season with its chance."""
    tables = [
        [
            (tuple((place, animal) for animal in animals), chance)
            for animals, chance in _clutch(world[dam], world[sire], case.young)
        ]
        for place, (dam, sire) in enumerate(pairs)
    ]
    for parts in itertools.product(*tables):
        chance = Fraction(1)
        for _, share in parts:
            chance *= share
        yield tuple(each for young, _ in parts for each in young), chance


@cache
def _clutch(
    dam: Animal, sire: Animal, young: tuple[tuple[int, Fraction], ...]
) -> tuple[tuple[tuple[Animal, ...], Fraction], ...]:
    found: Counter[tuple[Animal, ...]] = Counter()
    one = _one_young(dam, sire)
    for number, chance in young:
        for animals in itertools.product(one.items(), repeat=number):
            share = chance
            for _, each in animals:
                share *= each
            # In the order they are picked up: those that look alike do not tell themselves apart.
            found[tuple(animal for animal, _ in animals)] += share  # type: ignore[assignment]
    return tuple(found.items())  # type: ignore[arg-type]


def _one_young(dam: Animal, sire: Animal) -> dict[Animal, Fraction]:
    found: Counter[Animal] = Counter()
    for sex in "fm":
        for first, p in _copies(dam[1], sire[1]).items():
            for second, q in _copies(dam[2], sire[2]).items():
                found[sex, first, second] += HALF * p * q  # type: ignore[assignment]
    return dict(found)  # type: ignore[arg-type]


def _copies(one: int, other: int) -> dict[int, Fraction]:
    """Return the copies of an allele in a young of parents with so many copies."""
    found: dict[int, Fraction] = {}
    for a, b in itertools.product((0, 1), repeat=2):
        p = (Fraction(one, 2) if a else 1 - Fraction(one, 2)) * (
            Fraction(other, 2) if b else 1 - Fraction(other, 2)
        )
        if p:
            found[a + b] = found.get(a + b, Fraction(0)) + p
    return found


def _is_target(case: Case, animal: Animal) -> bool:
    return animal[1:] == (2, 2) and case.target_sex in (None, animal[0])


def _look(case: Case, animal: Animal) -> tuple[object, ...]:
    if case.genotypes_known:
        return animal
    return (animal[0], animal[1] == 2, animal[2] == 2)
