"""What every pair brings and takes in expectation, all pairs at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.sheets import Expected
from brumal.pipeline import Prepared
from brumal.planner.pairs.columns import PairColumns, named
from brumal.planner.wishes.mean_spread import swing
from brumal.planner.wishes.terms import Counted

_DECIMALS = 6
"""Money is rounded to this many decimals, so that equal pairs tie on every machine."""


def figures_of(
    prepared: Prepared,
    clutches: Sequence[ClutchForecast],
    expected: Expected,
    terms: Sequence[Counted],
    watched: NDArray[np.bool_],
    penalties: Mapping[str, float],
) -> PairColumns:
    """Return the figures of pairs: ``expected`` is of one hatchling of each, in their order.

    All clutches of a dam must share her part of the forecast, but for the chance of going.
    ``penalties`` is money that soft rules take off, by animal; of the wishes that count young those
    ``watched``, shape (terms,), have means.
    """
    settings, kinship = prepared.records.settings, prepared.kinship
    costs = prepared.costs
    dams, dam = named([clutch.dam for clutch in clutches])
    sires, sire = named([clutch.sire for clutch in clutches])
    mothers = np.array([kinship.index[name] for name in dams], dtype=np.intp)
    fathers = np.array([kinship.index[name] for name in sires], dtype=np.intp)
    inbreeding = kinship.matrix[np.ix_(mothers, fathers)][dam, sire]
    by_dam = {clutch.dam: clutch for clutch in clutches}
    hers = [by_dam[name] for name in dams]
    eggs, box_eggs = (
        np.array(figures)[dam]
        for figures in ([each.eggs for each in hers], [each.eggs_p90 for each in hers])
    )
    goes = np.array([clutch.goes for clutch in clutches])
    swings = _swings(clutches)
    laid = goes * eggs
    young = laid * np.array([clutch.fertile for clutch in clutches])
    young *= np.array([clutch.hatched for clutch in clutches])
    means = young[:, None] * expected.taken
    paid = costs.pairing + costs.egg * laid
    soft = [np.array([penalties[name] for name in names]) for names in (dams, sires)]
    penalty = soft[0][dam] + soft[1][sire] + settings.kin.penalty_per_F * inbreeding
    kept = means @ np.array([float(each.kept) for each in terms])
    near = kinship.matrix.sum(axis=1) / max(1, len(kinship.ids))
    kin = (near[mothers][dam] + near[fathers][sire]) / 2
    return PairColumns(
        pairs=[(clutch.dam, clutch.sire) for clutch in clutches],
        dams=dams,
        dam=dam,
        sires=sires,
        sire=sire,
        value=(young * (expected.values - costs.hatchling) - paid).round(_DECIMALS),
        extra=(means @ np.array([each.full_extra for each in terms])).round(_DECIMALS),
        penalty=penalty.round(_DECIMALS),
        young=young.round(9),
        eggs=eggs,
        box_eggs=box_eggs,
        F=inbreeding,
        spend=paid + costs.hatchling * young,
        kept=kept,
        kin=np.where(kept > 0, kin, 0.0),
        swing=swings,
        means=means * watched,
    )


def _swings(clutches: Sequence[ClutchForecast]) -> NDArray[np.float64]:
    """Return the swing of each clutch's eggs; those of a dam that go alike share it."""
    known: dict[tuple[str, float], float] = {}
    for each in clutches:
        if (each.dam, each.goes) not in known:
            known[each.dam, each.goes] = swing(each.eggs_pmf, each.goes)
    return np.array([known[each.dam, each.goes] for each in clutches])
