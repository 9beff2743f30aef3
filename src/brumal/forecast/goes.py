"""Does she go: the chance that a female with ordinary visits lays, and what it stands on.

Records that hold only clutches tell nothing of failures, and a single failure written down among
them tells that one female failed once. So seasons without a clutch count as recorded only where
the keeper says that all of them are (``records.failures``). Else the stated chance stands, and a
failure on record lowers the chance of that female alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from brumal.forecast.history import SeasonKind, SeasonsPaired
from brumal.records.settings import ClutchPrior

OWN_GOES_WORTH = 9.0
"""Her own seasons count against the collection as so many seasons."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Goes:
    """The chance that she lays if paired, and what it stands on.

    ``stated`` says that the keeper gave it, ``kind`` is the coming season's, ``doubtful`` says that
    great age or trouble at laying bounds it. ``recorded`` says that seasons without a clutch are
    recorded; ``seasons`` are then those of the collection. ``own_paired`` and ``own_laid`` are her
    own that counted.
    """

    chance: float
    stated: bool = False
    kind: SeasonKind = SeasonKind.LATER
    doubtful: bool = False
    recorded: bool = False
    seasons: int = 0
    own_paired: int = 0
    own_laid: int = 0


def forecast_goes(
    prior: ClutchPrior,
    seasons: Mapping[str, SeasonsPaired],
    dam: str,
    kind: SeasonKind,
    *,
    recorded: bool,
    doubtful: bool = False,
) -> Goes:
    """Return the chance that a paired female lays.

    ``seasons`` are those on record by dam. Two beta-binomial steps: the stated chance, counted as
    ``prior.worth`` seasons, takes in all seasons of the collection; the result, counted as
    ``OWN_GOES_WORTH`` seasons, takes in hers. Seasons of several kinds are brought to one footing
    by what is stated of each kind (indirect standardisation: observed over expected, any text of
    epidemiology). Where failures are not recorded, only hers count, and only downwards.
    """
    usual = _usual(prior, kind)
    own = seasons.get(dam, SeasonsPaired(laid=0, kinds=()))
    counted = seasons.values() if recorded else ()
    laid = sum(each.laid for each in counted)
    expected = sum(_usual(prior, each) for hers in counted for each in hers.kinds)
    scale = _share(prior.goes, prior.worth, laid, expected) / prior.goes if prior.goes else 1.0
    pooled = min(usual * scale, 1.0)
    chance = pooled
    counts = recorded or own.failed > 0
    if counts and pooled:
        hers = sum(min(_usual(prior, each) * scale, 1.0) for each in own.kinds)
        chance = _share(pooled, OWN_GOES_WORTH, own.laid, hers)
    if not recorded:
        chance = min(chance, usual)
    bounded = doubtful and prior.goes_doubtful < chance
    return Goes(
        chance=prior.goes_doubtful if bounded else chance,
        kind=kind,
        doubtful=bounded,
        recorded=recorded,
        seasons=sum(len(hers.kinds) for hers in counted),
        own_paired=len(own.kinds) if counts else 0,
        own_laid=own.laid if counts else 0,
    )


def _usual(prior: ClutchPrior, kind: SeasonKind) -> float:
    """Return the stated chance in a season of this kind."""
    stated = {
        SeasonKind.FIRST: prior.goes_first,
        SeasonKind.LATER: prior.goes,
        SeasonKind.AFTER_LAYING: prior.goes_after_laying,
    }
    return stated[kind]


def _share(stated: float, worth: float, laid: int, expected: float) -> float:
    """Return the beta-binomial mean; ``expected`` layings stand for expected / stated seasons."""
    seasons = max(expected / stated, laid)
    return (worth * stated + laid) / (worth + seasons)
