"""One pair drawn in every season: who the sire is, the clutch, and its hatchlings."""

from __future__ import annotations

import numpy as np

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.value import PriceList
from brumal.pipeline import Prepared
from brumal.planner.pairs.mixed import parts_of
from brumal.planner.risk.clutch_draws import ClutchDraws, draw_clutch
from brumal.planner.risk.parent_draws import ParentDraws, choose, stream
from brumal.planner.risk.young_draws import Hatchlings, draw_young


def draw_pair(
    prepared: Prepared,
    prices: PriceList,
    parents: ParentDraws,
    forecast: ClutchForecast,
    seed: int,
    *,
    of_dam: bool = False,
    looks: bool = True,
) -> tuple[ClutchDraws, Hatchlings]:
    """Draw the clutch of a pair and its hatchlings in each season.

    Where several males may be the sire, he is drawn in each season. The luck of the clutch is the
    pair's, or with ``of_dam`` that of the dam whoever the sire is; ``looks`` as in ``draw_young``.
    """
    parts, seasons = parts_of(prepared, forecast), parents.seasons
    sire = np.zeros(seasons, dtype=np.intp)
    if len(parts) > 1:
        luck = stream(seed, "sire", forecast.dam).random(seasons)
        sire = choose(np.array([chance for chance, _ in parts]), luck)
    drawn = []
    for number, (_, part) in enumerate(parts):
        names = ("clutch", part.dam) if of_dam else ("pair", part.dam, part.sire)
        rng = stream(seed, *names)
        made, his = draw_clutch(part, seasons, rng), sire == number
        clutch = ClutchDraws(made.eggs * his, made.hatched * his)
        pair = (part.dam, part.sire)
        young = draw_young(prepared, prices, parents, pair, clutch.hatched, rng, looks)
        drawn.append((clutch, young))
    return drawn[0] if len(drawn) == 1 else _joined(drawn)


def _joined(drawn: list[tuple[ClutchDraws, Hatchlings]]) -> tuple[ClutchDraws, Hatchlings]:
    """Join the draws by each sire; in each season all but one have no clutch."""
    clutches, young = [clutch for clutch, _ in drawn], [each for _, each in drawn]
    first = np.cumsum([0, *(each.entry.size for each in young)])
    return (
        ClutchDraws(
            np.sum([each.eggs for each in clutches], axis=0),
            np.sum([each.hatched for each in clutches], axis=0),
        ),
        Hatchlings(
            season=np.concatenate([each.season for each in young]),
            kind=np.concatenate([e.kind + at for e, at in zip(young, first[:-1], strict=True)]),
            brings=np.concatenate([each.brings for each in young]),
            entry=np.concatenate([each.entry for each in young]),
            male=np.concatenate([each.male for each in young]),
            value=np.concatenate([each.value for each in young]),
            look=tuple(look for each in young for look in each.look),
            fits=np.concatenate([each.fits for each in young], axis=1),
        ),
    )
