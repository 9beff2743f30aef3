"""The pictures of a plan: what is drawn is what the plan says."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from xml.etree import ElementTree as Xml

import pytest

from brumal.forecast.occupancy import Load, WeekLoad
from brumal.insight.simulate.seasons import Band
from brumal.planner.plan import Plan, PlannedPair, Target
from brumal.report.plan.pictures import (
    MOST_ROWS,
    income_picture,
    pair_pictures,
    target_picture,
    week_picture,
)
from brumal.report.plan.season_picture import season_pictures
from brumal.report.svg import Picture, shorten
from season_outputs import HOSTILE, LONG, demo

NS = "{http://www.w3.org/2000/svg}"
MONDAY = date(2027, 3, 1)


def drawn(picture: Picture | None) -> Xml.Element:
    assert picture is not None
    return Xml.fromstring(str(picture))


def words(picture: Picture | None) -> list[str]:
    return [element.text or "" for element in drawn(picture).iter(f"{NS}text")]


def by_class(picture: Picture | None, name: str) -> list[Xml.Element]:
    return [e for e in drawn(picture).iter() if name in (e.get("class") or "").split()]


def plan_of(pairs: dict[tuple[str, str], float], names: dict[str, str] | None = None) -> Plan:
    """Return the demo's plan with other pairs in it."""
    plan = demo()[1]
    animals = sorted({animal for pair in pairs for animal in pair})
    males = [plan.males[0].__class__(id=m, pairings=1, limit=99, limit_from="") for m in animals]
    return plan.__class__(
        **{
            **{name: getattr(plan, name) for name in plan.__slots__},
            "pairs": tuple(
                PlannedPair(
                    dam=dam,
                    sire=sire,
                    value=value,
                    sd=1.0,
                    goes=0.8,
                    eggs=6.0,
                    box_eggs=8.0,
                    shares_box=False,
                    young=4.0,
                    F=0.0,
                    outcomes=(),
                )
                for (dam, sire), value in pairs.items()
            ),
            "males": tuple(males),
            "names": {animal: (names or {}).get(animal, animal) for animal in animals},
        }
    )


def test_each_pair_is_a_line_as_thick_as_its_value() -> None:
    plan = plan_of({("F1", "M1"): 600.0, ("F2", "M1"): 300.0, ("F3", "M2"): 0.0})
    (picture,) = pair_pictures(plan)
    widths = [float(line.get("stroke-width") or 0) for line in by_class(picture, "one")]
    assert widths == [6.0, 3.5, 1.0]
    assert {"F1", "600", "F2", "300", "F3", "0", "M1", "2 of 99", "M2", "1 of 99"} <= set(
        words(picture)
    )


def test_lines_of_one_sire_meet_and_those_of_others_do_not() -> None:
    plan = plan_of({("F1", "M1"): 600.0, ("F2", "M1"): 300.0, ("F3", "M2"): 100.0})
    (picture,) = pair_pictures(plan)
    ends = [(line.get("d") or "").split()[-2:] for line in by_class(picture, "one")]
    assert ends[0] == ends[1] != ends[2]


def test_many_pairs_are_parted_so_that_a_page_holds_each_picture() -> None:
    pairs = {(f"F{n}", f"M{n // 3}"): 10.0 for n in range(80)}
    pictures = pair_pictures(plan_of(pairs))
    lines = [len(by_class(picture, "one")) for picture in pictures]
    assert sum(lines) == 80 and max(lines) <= MOST_ROWS and len(pictures) == 3


def test_hostile_names_stay_text_in_pictures() -> None:
    names = {f"F{number}": name for number, name in enumerate(HOSTILE)}
    plan = plan_of({(name, "M1"): 5.0 for name in names}, names)
    (picture,) = pair_pictures(plan)
    tags = {element.tag.removeprefix(NS) for element in drawn(picture).iter()}
    assert tags == {"svg", "title", "desc", "text", "path"}
    description = drawn(picture).findtext(f"{NS}desc") or ""
    assert LONG in description
    assert max(len(label) for label in words(picture)) <= 19


def test_the_chance_of_a_target_is_the_length_of_its_bar() -> None:
    targets = [
        Target(morph="Clown", need=None, asked_chance=0.5, expected=1.0, chance=0.25),
        Target(morph="Piebald", need=None, asked_chance=None, expected=1.0, chance=0.0),
    ]
    picture = target_picture(targets)
    troughs = [float(bar.get("width") or 0) for bar in by_class(picture, "trough")]
    (bar,) = by_class(picture, "fill-one")
    assert float(bar.get("width") or 0) == pytest.approx(troughs[0] / 4, abs=0.01)
    (mark,) = by_class(picture, "stop")
    x = float((mark.get("d") or "").split()[1])
    assert x == pytest.approx(2 + troughs[0] / 2, abs=0.01)
    assert words(picture) == ["Clown", "25%", "50% asked", "Piebald", "0%"]
    assert target_picture([]) is None


def week(at: int, mean: float, low: int, high: int) -> WeekLoad:
    none = Load(mean=0.0, low=0, high=0)
    load = Load(mean=mean, low=low, high=high)
    return WeekLoad(monday=MONDAY + timedelta(7 * at), boxes=load, tubs=none, eggs=none)


def test_weeks_are_drawn_with_mean_band_and_limit() -> None:
    weeks = [week(0, 0.0, 0, 0), week(1, 2.0, 1, 3), week(2, 4.0, 3, 6), week(3, 0.0, 0, 0)]
    picture = week_picture(weeks, [each.boxes for each in weeks], 5, "Boxes")
    mean = re.findall(r"([\d.]+) ([\d.]+)", by_class(picture, "one")[0].get("d") or "")
    heights = [float(y) for _, y in mean]
    assert len(heights) == 4
    limit = float((by_class(picture, "stop")[0].get("d") or "").split()[2])
    # Boxes count upwards from the axis at 136: 4 stand twice as high as 2, the limit of 5 above.
    assert 136 - heights[2] == pytest.approx(2 * (136 - heights[1]), abs=0.02)
    assert 136 - limit == pytest.approx(2.5 * (136 - heights[1]), abs=0.02)
    assert "limit 5" in words(picture)
    description = drawn(picture).findtext(f"{NS}desc") or ""
    assert "At most 4 expected, in the week of 2027-03-15; then between 3 and 6" in description
    band = by_class(picture, "band")[0].get("d") or ""
    assert len(re.findall(r"[\d.]+ [\d.]+", band)) == 2 * 2 * 4


def test_seasons_are_bars_and_three_marks() -> None:
    luck = replace(
        demo()[2].luck,
        edges=(0.0, 500.0, 1000.0),
        counts=(3, 1),
        seasons=4,
        money=Band(p10=100.0, p50=250.0, p90=900.0, mean=300.0),
    )
    picture = income_picture(luck, "EUR")
    heights = [float(bar.get("height") or 0) for bar in by_class(picture, "fill-one")]
    assert heights[0] == pytest.approx(3 * heights[1], abs=0.02)
    places = [float((mark.get("d") or "").split()[1]) for mark in by_class(picture, "stop")]
    assert places == pytest.approx([30 + 320 * share for share in (0.1, 0.25, 0.9)], abs=0.01)
    assert {"1 in 10 under 100", "half under 250", "1 in 10 over 900"} <= set(words(picture))
    assert {"0", "200", "1,000"} <= set(words(picture))
    assert income_picture(replace(luck, edges=(0.0, 0.0), counts=(4,)), "EUR") is None


def test_nothing_in_use_is_no_picture() -> None:
    weeks = [week(0, 0.01, 0, 0)]
    assert week_picture(weeks, [each.boxes for each in weeks], 5, "Boxes") is None


def test_shorten_keeps_what_fits() -> None:
    assert shorten("Frost (F01)", 11) == "Frost (F01)"
    assert shorten("Frost (F01)", 10) == "Frost (F0…"


def test_the_season_by_week_has_every_visit_and_every_window() -> None:
    _, plan, outlook = demo()
    (picture,) = season_pictures(plan, outlook)
    visits = sum(len(clutch.visits) for clutch in outlook.clutches)
    lanes = {height: 0 for height in ("4", "2.5")}
    for rect in drawn(picture).iter(f"{NS}rect"):
        if rect.get("height") in lanes and float(rect.get("x") or 0) >= 190 and rect.get("width"):
            lanes[str(rect.get("height"))] += 1
    # The legend has one of each lane; every female three windows.
    assert lanes == {"4": visits + 1, "2.5": 3 * len(outlook.clutches) + 3}
    told = drawn(picture).find(f"{NS}desc")
    assert told is not None and told.text
    for clutch in outlook.clutches:
        assert plan.names[clutch.dam] in told.text
        assert str(clutch.hatching.late) in told.text
