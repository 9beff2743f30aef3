"""Which limits a plan fills to the last place, so that no further pair fits under them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from brumal.planner import model as models
from brumal.planner.problem import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Met:
    """One limit that the plan fills: the id of its statement in the model, and it in words."""

    id: str
    words: str


def limits_met(
    problem: Problem, chosen: Sequence[int], label: Callable[[str], str] = str
) -> tuple[Met, ...]:
    """Return the limits under which some pair that is left out no longer fits.

    Wishes for a chance are counted among them, because pairs may be chosen for their sake. The
    order is boxes, tubs, chances, males by id.
    """
    dams = {problem.candidates[n].dam for n in chosen}
    used = Counter(problem.candidates[n].sire for n in chosen)
    young = sum(problem.candidates[n].young for n in chosen)
    out = [n for n, each in enumerate(problem.candidates) if each.dam not in dams]
    met = []
    if problem.boxes is not None:
        full = any(problem.boxes_used((*chosen, n)) > problem.boxes for n in out)
        if full:
            met.append(Met(id=models.BOXES, words=f"{problem.boxes} incubator boxes"))
    if problem.tubs is not None:
        full = any(young + problem.candidates[n].young > problem.tubs for n in out)
        if full:
            met.append(Met(id=models.TUBS, words=f"{problem.tubs} hatchling tubs"))
    met += [Met(id=models.chance_statement(w.id), words=w.words) for w in problem.chances]
    for sire in sorted(used):
        limit = problem.male_limits.get(sire)
        if limit is not None and used[sire] >= limit:
            words = f"{limit} pairing{'' if limit == 1 else 's'} of {label(sire)}"
            met.append(Met(id=models.male_statement(sire), words=words))
    return tuple(met)
