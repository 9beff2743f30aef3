"""The words for what a plan fills and lays out: boxes, tubs, money before sales."""

from __future__ import annotations

import math

from brumal.insight.simulate.seasons import Simulation
from brumal.planner.plan import Room
from brumal.report.words import counted, estimate, figure, money, percent

SURE = 0.99
"""No estimate is told as surer than this."""
ROUNDING = 1e-9


def room_line(room: Room) -> str:
    """Say what the plan fills."""
    boxes = (
        f"{room.boxes} of {room.boxes_limit}" if room.boxes_limit is not None else f"{room.boxes}"
    )
    tubs = f" for {room.tubs_limit} tubs" if room.tubs_limit is not None else ""
    if room.weekly is None:
        return f"Incubator boxes: {boxes}. Hatchlings expected: {figure(room.young)}{tubs}."
    told = [f"Boxes, so that no week lacks one with a chance of {room.weekly:.0%}: {boxes}."]
    if room.fullest is not None:
        mean = figure(round(room.in_fullest, 1))
        told.append(
            f"In the fullest week, that of {room.fullest}, {mean} are in use on average, "
            f"{room.high_in_fullest} or fewer in nine seasons of ten."
        )
    if room.enough is not None:
        told.append(f"By its own females' dates the plan lacks none {_chances(room)}.")
    if room.enough is not None and not room.over:
        told.append(
            "Agree beforehand where a clutch goes that finds no box free: eggs do not wait."
        )
    young = f"{figure(room.young)}, at most {figure(room.tubs)} at once{tubs}"
    return f"{' '.join(told)} Hatchlings expected: {young}."


def _chances(room: Room) -> str:
    """Say how sure the keeper's boxes are, and as many as are counted or one fewer."""
    yours = counted(room.boxes_limit or 0, "box", "boxes")
    told = f"with a chance of at least {_sure(room.enough or 0.0)} with your {yours}"
    if room.with_counted is not None:
        return f"{told}, {_sure(room.with_counted)} with {room.boxes}"
    if room.with_fewer is not None:
        return f"{told}, {_sure(room.with_fewer)} with {room.boxes - 1}"
    return told


def _sure(chance: float) -> str:
    """Write a chance that is at least so much: rounded down, and never as certain."""
    return f"{math.floor(100 * min(chance, SURE) + ROUNDING)}%"


def spend_line(room: Room, currency: str) -> str:
    """Say what goes out before any young is sold."""
    limit = "" if room.spend_limit is None else f" of {money(room.spend_limit, currency)} there are"
    return f"Money out before any young is sold: {estimate(room.spend, currency)}{limit}."


def over_line(luck: Simulation) -> str:
    """Say how often room should run short."""
    told = [
        f"{use.limit} {what} in {percent(use.over)}"
        for use, what in ((luck.room.boxes, "boxes"), (luck.room.tubs, "hatchling tubs"))
        if use.limit is not None and use.over is not None
    ]
    return f"Too few in simulated seasons: {', '.join(told)}." if told else ""
