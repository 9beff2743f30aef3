"""Limits that guard health have floors: a setting below one is a fault."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from brumal.records.faults import Fault, Where
from brumal.records.plain_values import plain_number
from brumal.records.settings import RuleLimits, Settings
from brumal.records.yaml_text import Path

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """The least (``most``: the greatest) that a key of ``rules`` may be set to, and why.

    ``place`` is the place in a list of two, as in ``rules.condition``.
    """

    key: str
    bound: float
    why: str
    place: int | None = None
    most: bool = False

    @property
    def words(self) -> str:
        """Return the bound in words."""
        return f"{plain_number(self.bound)} or {'less' if self.most else 'more'}"

    def value(self, limits: RuleLimits) -> float | None:
        """Return what the keeper set, ``None`` where nothing."""
        found = getattr(limits, self.key)
        value: float | None = found if self.place is None else found[self.place]
        return value


FLOORS = (
    Floor(
        key="female_weight_g",
        bound=1200,
        why=f"the least that keepers use, 1,200 to 1,500 g ({NO_SOURCE}); 783 captive clutches "
        "came from females over 1,500 g (Morrill et al. 2011, summary read)",
    ),
    Floor(
        key="proven_female_weight_g",
        bound=1200,
        why=f"as for a first clutch ({NO_SOURCE})",
    ),
    Floor(
        key="male_weight_g",
        bound=400,
        why=f"four fifths of the usual 500 g, as 1,200 g is of 1,500 g ({NO_SOURCE})",
    ),
    Floor(
        key="female_age_months",
        bound=24,
        why=f"the least that keepers use, 2 to 4 years ({NO_SOURCE})",
    ),
    Floor(
        key="male_age_months",
        bound=10,
        why=f"four fifths of the usual year, as 24 months are of 30 ({NO_SOURCE})",
    ),
    Floor(
        key="condition",
        place=0,
        bound=2,
        why=f"1 is thin and 3 ideal: under 2 is nearer thin ({NO_SOURCE})",
    ),
    Floor(
        key="condition",
        place=1,
        bound=4.5,
        most=True,
        why=f"5 is obese ({NO_SOURCE})",
    ),
    Floor(
        key="first_clutch_condition",
        place=0,
        bound=2,
        why=f"as for a female that has laid ({NO_SOURCE})",
    ),
    Floor(
        key="first_clutch_condition",
        place=1,
        bound=4.5,
        most=True,
        why=f"as for a female that has laid ({NO_SOURCE})",
    ),
    Floor(
        key="recovered_share",
        bound=0.8,
        why=f"about a third of the mass goes at laying; most of it must be back ({NO_SOURCE})",
    ),
    Floor(
        key="quarantine_days",
        bound=60,
        why="90 to 180 days are advised, and 90 may miss carriers (veterinary teaching wiki, "
        f"weak); 60 leaves room for a vet's word ({NO_SOURCE})",
    ),
)


def floor_faults(settings: Settings, place: Callable[[Path], Where]) -> Iterator[Fault]:
    """Yield a fault for each limit that is set looser than its floor."""
    for floor in FLOORS:
        value = floor.value(settings.rules)
        if value is None or (value <= floor.bound if floor.most else value >= floor.bound):
            continue
        yield Fault(
            where=place(("rules", floor.key)),
            found=plain_number(value),
            expected=floor.words,
            repair=f"It guards the animals' health: {floor.why}.",
        )
    yield from _proven_above_first(settings.rules, place)


def _proven_above_first(rules: RuleLimits, place: Callable[[Path], Where]) -> Iterator[Fault]:
    """Yield a fault where a female would pass for want of a clutch on record."""
    proven = rules.proven_female_weight_g
    if proven is not None and proven > rules.female_weight_g:
        yield Fault(
            where=place(("rules", "proven_female_weight_g")),
            found=plain_number(proven),
            expected=f"at most female_weight_g ({plain_number(rules.female_weight_g)})",
            repair="Else less would be asked of a female whose clutch is not on record.",
        )
