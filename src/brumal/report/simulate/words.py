"""The words of simulated seasons and of how steady a plan is."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.insight.simulate.season_room import RoomUse
from brumal.insight.simulate.seasons import Band, LookLuck, Simulation, TargetLuck
from brumal.insight.why.steadiness import Steady
from brumal.insight.why.whole import Subject
from brumal.report.words import estimate, figure, percent

STEADY_FROM = 0.8
"""A pair or sit-out that stays in so large a share is told as steady."""
MOST_OTHERS = 6


def mean_line(luck: Simulation, subject: Subject) -> str:
    """Say how the mean of the seasons stands to what the plan expects."""
    expected = estimate(luck.expected, subject.currency, luck.error)
    mean = estimate(luck.money.mean, subject.currency, luck.error)
    return (
        f"The plan expects {expected}; these seasons bring {mean} on average (standard error "
        f"{figure(luck.error)})."
    )


def band_words(band: Band) -> str:
    """Write a band as one in ten, half and nine in ten."""
    return f"{figure(band.p10)} - {figure(band.p50)} - {figure(band.p90)}"


def target_row(target: TargetLuck) -> tuple[str, ...]:
    """Return morph, chance of one, asked, sold under it, needed, chance of all needed."""
    return (
        target.morph,
        percent(target.chance),
        "" if target.asked is None else percent(target.asked),
        band_words(target.sold),
        "" if target.need is None else str(target.need),
        "" if target.filled is None else percent(target.filled),
    )


def look_row(look: LookLuck) -> tuple[str, ...]:
    """Return look, young, mean and chance of one."""
    return look.look, band_words(look.young), figure(look.young.mean), percent(look.chance)


def room_rows(luck: Simulation) -> list[tuple[str, ...]]:
    """Return what is used, the limit, one in ten, half, nine in ten, the most, how often over."""
    parts = (
        ("boxes in use at once", luck.room.boxes),
        ("boxes if all clutches are in at once", luck.room.together),
        ("hatchling tubs in use at once", luck.room.tubs),
    )
    return [(name, *_use(use)) for name, use in parts]


def _use(use: RoomUse) -> tuple[str, ...]:
    return (
        "" if use.limit is None else str(use.limit),
        f"{use.p10} - {use.p50} - {use.p90}",
        str(use.largest),
        "" if use.over is None else percent(use.over),
    )


def steady_head(steady: Steady) -> str:
    """Say what was drawn and how often the plan came out the same."""
    ranges = steady.ranges
    return (
        f"Planned again {steady.plans} times, with prices up to {percent(ranges.price)} off either "
        f"way, eggs up to {percent(ranges.eggs)} and hatching up to {percent(ranges.hatched)} "
        f"(ranges): the same pairs {steady.same} times."
    )


def steady_lines(steady: Steady, subject: Subject) -> list[str]:
    """Say which pairs and sit-outs are steady, which are not, and what comes instead."""
    names = subject.names
    pairs = [(f"{names[dam]} x {names[sire]}", s) for (dam, sire), s in steady.pairs.items()]
    rests = [(f"{names[dam]} rests", share) for dam, share in steady.resting.items()]
    told = sorted([*pairs, *rests], key=lambda each: -each[1])
    firm = [each for each in told if each[1] >= STEADY_FROM]
    loose = [each for each in told if each[1] < STEADY_FROM]
    others = [
        (f"{names[dam]} x {names[sire]}", share)
        for (dam, sire), share in steady.others[:MOST_OTHERS]
    ]
    lines = []
    for words, part in (("Steady", firm), ("Not steady", loose), ("Instead came", others)):
        if part:
            lines.append(f"{words}: {_shares(part)}.")
    return lines


def _shares(told: Sequence[tuple[str, float]]) -> str:
    return "; ".join(f"{words} {percent(share)}" for words, share in told)


def bars(luck: Simulation, rows: int = 12, width: int = 40) -> list[tuple[str, str, str]]:
    """Return the histogram in so many rows: from, a bar of letters, the share of seasons."""
    histogram = luck.histogram(rows)
    most = max((count for _, count in histogram), default=0) or 1
    return [
        (f"{start:,.0f}", "#" * round(width * count / most), percent(count / luck.seasons))
        for start, count in histogram
    ]
