"""Settings that were others in an earlier brumal: keys that took another's place, new defaults."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from brumal.records.faults import Fault, Severity, Where
from brumal.records.yaml_text import Path

REPLACED: Mapping[Path, str] = {
    ("dates", "to_ovulation"): "Ovulation no longer counts from the first visit. State "
    "dates.ovulation instead: the days of the year between which eight in ten females ovulate, "
    "such as [02-10, 04-07].",
    ("dates", "to_lay"): "It is two stages now: dates.to_shed, from ovulation to the pre-lay shed, "
    "and dates.shed_to_laying.",
    ("checks", "after_laying_days"): "It counted from the middle of the window. State "
    "checks.look_over_days instead: days after she has laid.",
}
"""Keys that measured something else than those which take their place."""


def known_now(data: Mapping[str, object]) -> dict[str, object]:
    """Return settings that an earlier brumal wrote down, without keys that others replaced."""
    return {
        group: {key: each for key, each in found.items() if (group, key) not in REPLACED}
        if isinstance(found, Mapping)
        else found
        for group, found in data.items()
    }


def new_defaults(data: Mapping[str, object], place: Callable[[Path], Where]) -> Iterator[Fault]:
    """Yield a notice where a default that was another before decides, until the key is stated."""
    limits = data.get("limits")
    if not isinstance(limits, Mapping) or limits.get("boxes") is None or "weekly" in limits:
        return
    yield Fault(
        where=place(("limits", "boxes")),
        found="boxes, and nothing on how clutches are counted in them",
        expected="limits.weekly",
        repair="They are counted week by week: no week lacks a box in nine seasons of ten. Write "
        "weekly: 0.9 to keep it so, or weekly: false to count all clutches as being in at once, "
        "as earlier versions did.",
        severity=Severity.NOTICE,
    )
