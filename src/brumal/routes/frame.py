"""What a route may use: founders, seasons, room for holdbacks, and what is true of each animal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from brumal.records.animals import Sex
from brumal.routes.genes import Kind, Look, TargetGenes

Pmf = tuple[float, ...]
"""Chance of 0, 1, 2, ... hatched young of one pairing, that she does not go included."""
Rows = tuple[tuple[tuple[Kind, ...], float], ...]
"""Joint chances of what animals are: one kind for each of them, and the chance of it all."""
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Founder:
    """An animal that a route starts from.

    ``ready`` is the first season (counted from 1) in which it may breed, ``males`` how many females
    a male is given a season (young males of a route: see ``Frame.males``), ``given`` the sire with
    whom a female stands already in the first season. ``price`` is paid if the route uses it.
    ``run`` is how many seasons in a row a female has laid up to the first season.
    """

    id: str
    sex: Sex
    ready: int = 1
    given: str | None = None
    price: float = 0.0
    run: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A founder, or a young that a route holds back.

    ``born`` is the season it hatched in (0 for founders), ``dam`` and ``sire`` the numbers of its
    parents, ``same`` tells clutch mates of one look apart, ``behind`` holds the ids of the
    founders it descends from.
    """

    number: int
    sex: Sex
    ready: int
    born: int = 0
    dam: int = -1
    sire: int = -1
    look: Look = -1
    same: int = 0
    founder: Founder | None = None
    behind: tuple[str, ...] = ()


Barred = Callable[[Member, Member, float], bool]
Young = Callable[[Member, Member, int], Pmf]
Count = Callable[[Member, int], int]
Cost = Callable[[Member, Member, int], float]


def _no_cost(_dam: Member, _sire: Member, _season: int) -> float:
    return 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Frame:
    """The room within which a policy is looked for.

    ``prior`` holds the joint chances of what the founders are, one column for each of
    ``founders``. Seasons are 1 to ``seasons``. ``lag`` is the number of seasons from the one a
    young hatches in to the first it may breed in, by sex. ``hold`` is the most young held at once,
    ``hold_sex`` restricts them to one sex. ``young`` gives the chances of the number of hatched
    young of a pairing in a season, ``males`` how many females a male serves in a season, ``barred``
    whether two members may not meet, given F of their young, ``cost`` what a pairing costs.
    ``rest`` is the number of seasons a female rests after one in which she was paired, ``in_a_row``
    the most seasons in a row in which she is paired before she rests one (0: no such limit): a
    pairing counts as a laying, whatever comes of it. A first target counts less by the share
    ``discount`` for each season that it comes later (0: the chance by the last season decides).
    ``kinship`` maps (id, id), the lesser id first, to the kinship of founders (left out: none).
    """

    genes: TargetGenes
    founders: tuple[Founder, ...]
    prior: Rows
    seasons: int
    lag: Mapping[Sex, int]
    hold: int
    young: Young
    males: Count
    hold_sex: Sex | None = None
    kinship: Mapping[tuple[str, str], float] = field(default_factory=dict)
    barred: Barred = lambda _dam, _sire, _f: False
    cost: Cost = _no_cost
    rest: int = 0
    in_a_row: int = 0
    discount: float = 0.0


class Book:
    """The members of a frame by number, and their kinship."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.members: list[Member] = [
            Member(number=at, sex=f.sex, ready=f.ready, founder=f, behind=(f.id,))
            for at, f in enumerate(frame.founders)
        ]
        self._young: dict[tuple[int, int, int, Look, int], int] = {}
        self._phi: dict[tuple[int, int], float] = {}
        self._meet: dict[tuple[int, int], bool] = {}
        self._clutches: dict[tuple[int, int, int], Pmf] = {}

    def young(self, dam: int, sire: int, born: int, look: Look, same: int) -> int:
        """Return the number of a held young, given on the first time it is asked for."""
        key = (dam, sire, born, look, same)
        if key not in self._young:
            sex = self.frame.genes.seen(look).sex
            behind = {*self.members[dam].behind, *self.members[sire].behind}
            self._young[key] = len(self.members)
            self.members.append(
                Member(
                    number=len(self.members),
                    sex=sex,
                    ready=born + self.frame.lag[sex],
                    born=born,
                    dam=dam,
                    sire=sire,
                    look=look,
                    same=same,
                    behind=tuple(sorted(behind)),
                )
            )
        return self._young[key]

    def phi(self, one: int, other: int) -> float:
        """Return the kinship of two members: F of the young they would have."""
        key = (min(one, other), max(one, other))
        if key not in self._phi:
            self._phi[key] = self._kinship(*key)
        return self._phi[key]

    def _kinship(self, one: int, other: int) -> float:
        first, last = self.members[one], self.members[other]
        if last.founder is not None and first.founder is not None:
            ids = sorted((first.founder.id, last.founder.id))
            none = 0.5 if one == other else 0.0
            return self.frame.kinship.get((ids[0], ids[1]), none)
        if one == other:
            return (1.0 + self.phi(last.dam, last.sire)) / 2
        # Parents have lower numbers than their young, so the later one is taken to its parents.
        return (self.phi(one, last.dam) + self.phi(one, last.sire)) / 2

    def may_meet(self, dam: int, sire: int) -> bool:
        """Say whether rules let these two meet."""
        if (dam, sire) not in self._meet:
            self._meet[dam, sire] = not self.frame.barred(
                self.members[dam], self.members[sire], self.phi(dam, sire)
            )
        return self._meet[dam, sire]

    def clutch(self, dam: int, sire: int, season: int) -> Pmf:
        """Return the chances of the number of hatched young of two members in a season."""
        key = (dam, sire, season)
        if key not in self._clutches:
            pmf = self.frame.young(self.members[dam], self.members[sire], season)
            self._clutches[key] = pmf
        return self._clutches[key]

    def able(self, numbers: Iterable[int], season: int) -> list[Member]:
        """Return those of the members that are old enough to breed in a season."""
        return [self.members[at] for at in numbers if self.members[at].ready <= season]


def capped(max_f: float) -> Barred:
    """Return the bar on kinship alone: F of the young at most ``max_f``."""
    return lambda _dam, _sire, f: f - max_f > ROUNDING
