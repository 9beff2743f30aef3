"""A route: its steps in the words of a keeper, its chances, and what it asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from brumal.records.animals import Sex
from brumal.routes.frame import Frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A young to hold back from a pair.

    ``look`` is its trade name, possible hets with their chance; ``odds`` is the share of the young
    of the pair that look so and are of this sex, ``count`` how many are held at most, ``chance``
    that one is held if the pair is made, ``ready`` the first year whose young may be its own.
    ``name`` is what later steps call it. ``unproven`` says that it is a possible het, ``main`` that
    it belongs to the line that brings most of the route's chance.
    """

    name: str
    look: str
    sex: Sex
    count: int
    odds: float
    chance: float
    ready: int
    unproven: bool
    main: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A pair of a route: ``reached`` is the chance that it is made, no target hatched before.

    ``year`` is the calendar year in which its young hatch, ``target`` the share of targets among
    its young (whatever its parents turn out to be), ``F`` the inbreeding coefficient of the young.
    ``dam`` and ``sire`` are ids of the collection or names of young held before. ``main`` says that
    it belongs to the line that brings most of the route's chance.
    """

    season: int
    year: int
    dam: str
    sire: str
    keep: tuple[Kept, ...]
    reached: float
    target: float
    F: float
    main: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Route:
    """One way to a target.

    ``chance`` holds (year, chance of at least one target by its end), exact for the policy that
    ``steps`` tell. ``most`` is an upper bound on the final chance of any policy with the same
    founders, seasons and room. ``expected`` is the expected number of targets in the seasons up to
    the first that brings one, ``cost`` the expected cost of these seasons' clutches and what is
    bought. ``held`` is the most young held at once, ``clutches`` the most pairs of a season,
    ``F`` the greatest of its young. ``waiting`` are founders that are not ready on the first day of
    pairing and counted on later. ``labels`` gives what founders are called, ``morphs`` what they
    are at the target's genes. ``complete`` says that every policy of the frame was looked at.
    """

    frame: Frame
    founders: tuple[str, ...]
    labels: Mapping[str, str]
    morphs: Mapping[str, str]
    bought: tuple[str, ...]
    waiting: tuple[str, ...]
    seasons: int
    chance: tuple[tuple[int, float], ...]
    most: float
    expected: float
    held: int
    clutches: int
    cost: float
    F: float
    steps: tuple[Step, ...]
    complete: bool

    @property
    def final(self) -> float:
        """Return the chance of at least one target by the last season."""
        return self.chance[-1][1]

    @property
    def unproven(self) -> tuple[Kept, ...]:
        """Return the young held that are possible hets: what must be proved out on the way."""
        return tuple(kept for step in self.steps for kept in step.keep if kept.unproven)
