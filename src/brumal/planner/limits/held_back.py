"""Young held back: their mean kinship, and the share of one sire among them.

Shares and means are multiplied out by all that are kept, which makes them linear in the plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from brumal.planner.limits.limit import Limit, More, or_facts
from brumal.planner.problem import Problem


def limits(problem: Problem) -> Iterator[Limit]:
    """Yield the row of mean kinship, and a row for each sire with young to hold back."""
    columns = problem.columns
    held = np.flatnonzero(columns.kept)
    kept = columns.kept[held]
    if problem.max_kin is not None:
        most, amounts = f"{problem.max_kin:.4f}", kept * (columns.kin[held] - problem.max_kin)
        yield Limit(
            id="max_kept_kinship",
            setting="max_kept_kinship",
            problem=problem,
            members=held,
            amounts=amounts,
            most=or_facts(problem, 0.0, held, amounts),
            said=f"young held back have a mean kinship of at most {most}",
            named=f"a mean kinship of at most {most} among young held back",
            full=f"young held back may have a mean kinship of {most} at most",
            without=partial(replace, problem, max_kin=None),
        )
    if problem.sire_share is not None:
        share = f"{problem.sire_share:.0%}"
        for place in np.unique(columns.sire[held]).tolist():
            sire = columns.sires[place]
            amounts = kept * ((columns.sire[held] == place) - problem.sire_share)
            yield Limit(
                id=f"sire_share[{sire}]",
                setting="sire_share",
                problem=problem,
                members=held,
                amounts=amounts,
                most=or_facts(problem, 0.0, held, amounts),
                said=f"{{owner}} sires at most {share} of young held back",
                named=f"at most {share} of young held back from one sire",
                full=f"no more than {share} of young held back may be of {{owner}}",
                without=partial(replace, problem, sire_share=None),
                owner=sire,
            )


def more(problem: Problem) -> Iterator[More]:  # noqa: ARG001 - every kind is asked alike
    """Yield nothing: neither is a thing to buy more of."""
    yield from ()
