"""The closest relationship of two animals in words, from their sexes and lines of descent."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from brumal.pedigree.graph import Pedigree
from brumal.records.animals import Sex

#: Generations up to which a forebear is named with "great-".
FARTHEST_NAMED = 5
UNRELATED = "unrelated as far as recorded"
STATED = "no common ancestor recorded; kin through founders stated as related"


@dataclass(frozen=True, slots=True, kw_only=True)
class Relationship:
    """The closest relationship of two animals.

    ``words`` name it, the elder generation first ("aunt and nephew"); ``elder`` is the animal of
    that first word (``None`` among equals). ``up`` and ``down`` are the generations from the two
    animals to the nearest common ancestor, in the order asked. ``phi`` is the kinship of this
    relationship alone, its ancestors not inbred; more than that comes by other lines.
    """

    words: str
    elder: str | None = None
    up: int | None = None
    down: int | None = None
    phi: float = 0.0


def relationship(pedigree: Pedigree, one: str, other: str) -> Relationship:
    """Return the closest relationship: fewest generations between, full before half.

    Raises ``KeyError`` for an id that is not in the pedigree.
    """
    if one == other:
        return Relationship(words="the same animal", up=0, down=0, phi=0.5)
    lines = {name: _lines(pedigree, name) for name in (one, other)}
    spans = [
        (up + down, min(up, down), up, down)
        for ancestor in lines[one].keys() & lines[other].keys()
        for up in [min(lines[one][ancestor])]
        for down in [min(lines[other][ancestor])]
    ]
    if not spans:
        return Relationship(words=STATED if _stated(pedigree, lines, one, other) else UNRELATED)
    nearest = min(spans)[0]
    found = [
        _named(pedigree, one, other, up, down, lines)
        for up, down in sorted({span[2:] for span in spans if span[0] == nearest})
    ]
    return max(found, key=lambda relation: relation.phi)


def _lines(pedigree: Pedigree, name: str) -> dict[str, Counter[int]]:
    """Return, for the animal and each ancestor, the number of lines by generations between."""
    lines: dict[str, Counter[int]] = {name: Counter({0: 1})}
    members = [name, *_ancestors(pedigree, name)]
    for child in sorted(members, key=lambda one: -pedigree.index[one]):
        for parent in pedigree.parents(child):
            if parent is not None:
                tally = lines.setdefault(parent, Counter())
                for steps, count in lines[child].items():
                    tally[steps + 1] += count
    return lines


def _ancestors(pedigree: Pedigree, name: str) -> set[str]:
    found: set[str] = set()
    new = [name]
    while new:
        parents = {p for child in new for p in pedigree.parents(child) if p is not None}
        new = sorted(parents - found)
        found |= parents
    return found


def _stated(
    pedigree: Pedigree, lines: Mapping[str, Mapping[str, Counter[int]]], one: str, other: str
) -> bool:
    return any(
        phi > 0.0
        and ((a in lines[one] and b in lines[other]) or (b in lines[one] and a in lines[other]))
        for (a, b), phi in pedigree.founders.kinship.items()
    )


def _named(
    pedigree: Pedigree,
    one: str,
    other: str,
    up: int,
    down: int,
    lines: Mapping[str, Mapping[str, Counter[int]]],
) -> Relationship:
    """Name the relationship over common ancestors ``up`` and ``down`` generations away."""
    elder, younger = (one, other) if up <= down else (other, one)
    near, far = min(up, down), max(up, down)
    sexes = pedigree.sexes.get(elder), pedigree.sexes.get(younger)
    if near == 0:
        count = lines[younger][elder][far]
        words = _direct_words(far, *sexes) + (f", by {count} lines" if count > 1 else "")
    else:
        full, half = _links(pedigree, (elder, near), (younger, far), lines)
        count = 2 * full if full else half
        words = _collateral_words(near, far, full, half, *sexes)
        if near == far == 1 and not full:
            words += f" through their {_shared_parent(pedigree, one, other)}"
    return Relationship(
        words=words,
        elder=elder if near != far else None,
        up=up,
        down=down,
        phi=count * 0.5 ** (up + down + 1),
    )


def _links(
    pedigree: Pedigree,
    elder: tuple[str, int],
    younger: tuple[str, int],
    lines: Mapping[str, Mapping[str, Counter[int]]],
) -> tuple[int, int]:
    """Count the pairs of siblings through which two animals are kin: (full, half).

    One sibling stands ``near - 1`` generations above the elder animal, the other ``far - 1`` above
    the younger; each pair counts once for every way up to it.
    """
    (first, near), (second, far) = elder, younger
    full = half = 0
    above_first = [name for name, tally in lines[first].items() if tally[near - 1]]
    above_second = [name for name, tally in lines[second].items() if tally[far - 1]]
    for one in sorted(above_first):
        for other in sorted(above_second):
            if one == other:
                continue
            shared = _shared(pedigree, one, other)
            ways = lines[first][one][near - 1] * lines[second][other][far - 1]
            full += ways * (shared == 2)
            half += ways * (shared == 1)
    return full, half


def _shared(pedigree: Pedigree, one: str, other: str) -> int:
    """Return how many known parents two animals share."""
    pairs = zip(pedigree.parents(one), pedigree.parents(other), strict=True)
    return sum(mine is not None and mine == theirs for mine, theirs in pairs)


def _shared_parent(pedigree: Pedigree, one: str, other: str) -> str:
    same_dam = pedigree.parents(one)[0] == pedigree.parents(other)[0] is not None
    return "dam" if same_dam else "sire"


def _by_sex(sex: Sex | None, female: str, male: str, either: str) -> str:
    return {Sex.FEMALE: female, Sex.MALE: male, None: either}[sex]


def _direct_words(generations: int, elder: Sex | None, younger: Sex | None) -> str:
    above = _by_sex(elder, "dam", "sire", "parent")
    if generations == 1:
        return f"{above} and {_by_sex(younger, 'daughter', 'son', 'young')}"
    if generations > FARTHEST_NAMED:
        return f"ancestor {generations} generations back and descendant"
    below = _by_sex(younger, "granddaughter", "grandson", "grandchild")
    great = "great-" * (generations - 2)
    return f"{great}grand{above} and {great}{below}"


def _collateral_words(
    near: int, far: int, full: int, half: int, elder: Sex | None, younger: Sex | None
) -> str:
    kind = "" if full else "half "
    times = _times(full or half)
    if near == far == 1:
        return "full siblings" if full else "half siblings"
    if near == 1:
        great = "great-" * (far - 2)
        aunt = _by_sex(elder, "aunt", "uncle", "aunt or uncle")
        niece = _by_sex(younger, "niece", "nephew", "niece or nephew")
        return f"{times}{kind}{great}{aunt} and {great}{niece}"
    removed = {0: "", 1: " once removed", 2: " twice removed"}.get(
        far - near, f" {far - near} times removed"
    )
    return f"{times}{kind}{_ordinal(near - 1)} cousins{removed}"


def _times(count: int) -> str:
    return {1: "", 2: "double ", 3: "triple ", 4: "quadruple "}.get(count, f"{count}-fold ")


def _ordinal(number: int) -> str:
    words = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
    if number <= len(words):
        return words[number - 1]
    last = 0 if 10 < number % 100 < 14 else number % 10
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(last, 'th') }"
