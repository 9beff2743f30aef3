"""What her clutches gone by give a vet to look at: all slugs, dead in egg, deformities, trouble.

Words are looked for in the ``trouble`` and ``note`` columns of the clutches table. Every bound here
is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from brumal.records.animals import Animal, Clutch, Sex
from brumal.records.folder import SeasonRecords

DEAD_SHARE = 0.5
"""From this share of the fertile eggs on, young that did not hatch are told."""

_NO = r"(?<!\bno )(?<!\bnot )(?<!\bnever )(?<!\bwithout )(?<!\bwithout any )(?<!\bno sign of )"
_DEFORMED = re.compile(
    _NO + r"\b(deform\w*|malform\w*|kink\w*|scolio\w*|cleft\w*|misshap\w*|crooked spines?)",
    re.IGNORECASE,
)
_COUNTED = re.compile(
    r"\b(\d+|one|two|three|four|five|six|seven|eight)\s+(?:\w+\s+)?"
    r"(?:deform|malform|kink|scolio|cleft|misshap)",
    re.IGNORECASE,
)
_BINDING = re.compile(
    _NO + r"\b(egg[ -]?b(?:ou|i)nd\w*|dystocia|retained eggs?|stuck eggs?|prolaps\w*"
    r"|strain(?:ed|ing)\b)",
    re.IGNORECASE,
)
_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")


class Sign(StrEnum):
    """A sign in a past clutch, in words that follow a date."""

    SLUGS = "all eggs were slugs"
    DEAD = "half of the fertile eggs or more died"
    DEFORMED = "deformed young"
    BINDING = "trouble at laying"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastSign:
    """A sign and the clutch it was seen in; ``words`` are the keeper's own, where there are any."""

    sign: Sign
    laid: date | None
    words: str = ""


def past_signs(clutches: Sequence[Clutch]) -> tuple[PastSign, ...]:
    """Return the signs in one female's clutches, in the order given.

    All slugs and dead in egg no longer stand once a later clutch came through: more than half of
    its fertile eggs hatched. The others stand until a vet clears her.
    """
    signs: list[PastSign] = []
    for clutch in clutches:
        if not clutch.eggs:
            continue
        if came_through(clutch):
            signs = [each for each in signs if each.sign not in (Sign.SLUGS, Sign.DEAD)]
        signs += _signs_of(clutch)
    return tuple(signs)


def _signs_of(clutch: Clutch) -> Iterable[PastSign]:
    if clutch.eggs and clutch.slugs == clutch.eggs:
        yield PastSign(sign=Sign.SLUGS, laid=clutch.laid)
    elif is_dead_in_egg(clutch):
        yield PastSign(sign=Sign.DEAD, laid=clutch.laid)
    if found := _first((clutch.trouble, clutch.note), _DEFORMED):
        yield PastSign(sign=Sign.DEFORMED, laid=clutch.laid, words=found)
    # Trouble in the column of its own has a rule of its own.
    if not clutch.trouble and (found := _first((clutch.note,), _BINDING)):
        yield PastSign(sign=Sign.BINDING, laid=clutch.laid, words=found)


def _first(texts: Iterable[str], words: re.Pattern[str]) -> str:
    return next((text for text in texts if words.search(text)), "")


def is_dead_in_egg(clutch: Clutch) -> bool:
    """Say whether half of the fertile eggs or more did not hatch.

    Slugs that were not counted may be dead eggs as well: what is not known is not taken as good.
    """
    if clutch.eggs is None or clutch.hatched is None:
        return False
    fertile = clutch.eggs - (clutch.slugs or 0)
    return fertile > 0 and fertile - clutch.hatched >= DEAD_SHARE * fertile


def came_through(clutch: Clutch) -> bool:
    """Say whether more than half of the fertile eggs of a clutch are known to have hatched."""
    return bool(clutch.eggs and clutch.hatched) and not is_dead_in_egg(clutch)


def deformed_young(clutch: Clutch) -> int:
    """Return how many deformed young a clutch is known to have had: one where no number stands."""
    text = f"{clutch.trouble}; {clutch.note}"
    if not _DEFORMED.search(text):
        return 0
    found = _COUNTED.search(text)
    if found is None:
        return 1
    number = found[1].casefold()
    return int(number) if number.isdigit() else _NUMBERS.index(number) + 1


def years_old(animal: Animal, on: date) -> float | None:
    """Return her age in years, ``None`` where the hatch date is not known."""
    return None if animal.hatched is None else (on - animal.hatched).days / 365.25


def is_of_great_age(animal: Animal, on: date, years: float) -> bool:
    """Say whether she is known to be ``years`` old or older."""
    age = years_old(animal, on)
    return age is not None and age >= years


def doubtful_dams(records: SeasonRecords) -> frozenset[str]:
    """Return the females of great age or with trouble at laying on record, cleared or not."""
    on, years = records.settings.season.pair_from, records.settings.rules.great_age_years
    old = {
        animal.id
        for animal in records.animals
        if animal.sex is not Sex.MALE and is_of_great_age(animal, on, years)
    }
    trouble = {
        clutch.dam
        for clutch in records.clutches
        if clutch.trouble or any(each.sign is Sign.BINDING for each in _signs_of(clutch))
    }
    return frozenset(old | trouble)
