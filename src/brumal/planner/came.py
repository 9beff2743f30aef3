"""What the young that hatched come to at the prices of the season, by the looks written down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from brumal.genetics.evidence.clutch_evidence import Look, look_of
from brumal.genetics.genotypes import Morph
from brumal.genetics.notation.parse import parse_morph
from brumal.pipeline import Prepared
from brumal.planner.plan import Came, Outcome
from brumal.records.season_facts import SeasonClutch


@dataclass(frozen=True, slots=True, kw_only=True)
class LookCame:
    """A look: the chance that one young has it, how many were to be expected, how many came.

    ``value`` is what such a hatchling is worth; ``chance`` 0 says that the parents cannot have it.
    """

    look: str
    chance: float
    expected: float
    came: int
    value: float


def came_of(
    prepared: Prepared, clutch: SeasonClutch | None, outcomes: tuple[Outcome, ...]
) -> Came | None:
    """Return what hatched of a pair whose young's looks are written down, ``None`` before that."""
    looks = looks_came(prepared, clutch, [(1.0, outcomes)])
    mean = sum(each.chance * each.value for each in outcomes)
    money = money_came(prepared, clutch, looks, mean)
    if not looks or money is None:
        return None
    return Came(looks=tuple((each.look, each.came) for each in looks), money=money)


def looks_came(
    before: Prepared,
    clutch: SeasonClutch | None,
    mixed: Sequence[tuple[float, tuple[Outcome, ...]]],
) -> tuple[LookCame, ...]:
    """Return the looks that came, those worth most first; ``mixed`` has each sire's chance."""
    if clutch is None or not clutch.young:
        return ()
    odds: dict[Look, list[float]] = {}
    for share, outcomes in mixed:
        for outcome in outcomes:
            entry = odds.setdefault(_shown(before, outcome.morph), [0.0, 0.0])
            entry[0] += share * outcome.chance
            entry[1] += share * outcome.chance * outcome.value
    counts: dict[Look, tuple[str, int]] = {}
    for count, text, _ in clutch.young:
        look = _shown(before, text)
        name, sofar = counts.get(look, (text, 0))
        counts[look] = (name, sofar + count)
    total = sum(count for count, _, _ in clutch.young)
    found = []
    for look, (name, count) in counts.items():
        chance, worth = odds.get(look, [0.0, 0.0])
        found.append(
            LookCame(
                look=name,
                chance=chance,
                expected=chance * total,
                came=count,
                value=worth / chance if chance > 0 else 0.0,
            )
        )
    return tuple(sorted(found, key=lambda each: (-each.value, each.look)))


def _shown(before: Prepared, text: str) -> Look:
    possible = before.records.settings.notation.possible
    morph, _ = parse_morph(text, before.catalogue, possible)
    return look_of(morph or Morph(), before.catalogue)


def money_came(
    before: Prepared, clutch: SeasonClutch | None, looks: Iterable[LookCame], mean: float
) -> float | None:
    """Return the money of the young that hatched; those of untold looks count at the ``mean``."""
    if clutch is None or clutch.hatched is None:
        return None
    told = list(looks)
    rest = max(clutch.hatched - sum(each.came for each in told), 0)
    worth = sum(each.came * each.value for each in told) + rest * mean
    average = worth / clutch.hatched if clutch.hatched else 0.0
    return money_of(before, float(clutch.eggs or 0), float(clutch.hatched), average)


def money_of(before: Prepared, eggs: float, young: float, mean: float) -> float:
    """Return the money of so many eggs and young worth ``mean`` each, costs taken off."""
    costs = before.costs
    return young * (mean - costs.hatchling) - costs.pairing - eggs * costs.egg
