"""The plan in words and as data: sentences word for word, keys and columns as documented."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from datetime import date

import pytest
from openpyxl import load_workbook
from rich.console import Console

from brumal.insight.simulate.season_room import RoomUse
from brumal.insight.simulate.seasons import Band
from brumal.planner.plan import BadSeasons, Money, Offer, Plan, Room
from brumal.planner.solver.answer import Verdict
from brumal.report.plan.files import CSV_COLUMNS
from brumal.report.plan.page import plan_page
from brumal.report.plan.room_words import over_line, room_line, spend_line
from brumal.report.plan.terminal import print_plan
from brumal.report.plan.words import (
    count_line,
    luck_line,
    money_line,
    money_parts,
    offer_line,
    outcome_words,
    risk_line,
    verdict_line,
    worst_line,
)
from season_outputs import ROOT, demo, demo_files, hostile_files

DAY = r"\d{4}-\d\d-\d\d"
REFERENCE = (ROOT / "docs" / "files.md").read_text("utf-8").split("## What `brumal plan` writes")[1]
ROOM = Room(boxes=9, boxes_limit=None, young=50.254, tubs=50.254, tubs_limit=None)
OFFERS = (
    Offer(id="M03", kind="borrow", money=150.0, taken=True),
    Offer(id="M04", kind="buy", money=900.0, taken=False),
    Offer(id="F05", kind="sell", money=400.0, taken=True),
    Offer(id="F02", kind="sell", money=80.0, taken=False),
)


def planned() -> Plan:
    return demo()[1]


@pytest.mark.parametrize(
    ("verdict", "gap", "sentence"),
    [
        (
            Verdict.PROVEN,
            0.0,
            "Proven best plan: 900 EUR expected.",
        ),
        (
            Verdict.PROVEN,
            0.01,
            "Within 9.00 EUR of the best plan there can be: 900 EUR expected.",
        ),
        (
            Verdict.STOPPED,
            0.01,
            "Stopped early, not proven best: 900 EUR expected; the best plan brings at most "
            "9.00 EUR more (gap 1.00%).",
        ),
        (Verdict.IMPOSSIBLE, 0.0, "No plan is possible: what you asked for clashes."),
    ],
)
def test_what_is_known_of_the_plan(verdict: Verdict, gap: float, sentence: str) -> None:
    plan = replace(planned(), verdict=verdict, gap=gap, objective=900.0, bound=909.0)
    assert verdict_line(plan) == sentence


def test_room_and_money_in_words() -> None:
    assert room_line(ROOM) == "Incubator boxes: 9. Hatchlings expected: 50.25."
    full = replace(ROOM, boxes_limit=12, tubs_limit=60, spend=80.5, spend_limit=100.0)
    assert room_line(full) == "Incubator boxes: 9 of 12. Hatchlings expected: 50.25 for 60 tubs."
    assert spend_line(ROOM, "EUR") == "Money out before any young is sold: 0.00 EUR."
    assert (
        spend_line(full, "EUR")
        == "Money out before any young is sold: 80 EUR of 100.00 EUR there are."
    )


def test_weeks_and_bad_seasons_in_words() -> None:
    weeks = replace(ROOM, boxes_limit=12, tubs=38.1, tubs_limit=60, weekly=0.9)
    assert room_line(weeks) == (
        "Boxes, so that no week lacks one with a chance of 90%: 9 of 12. "
        "Hatchlings expected: 50.25, at most 38.1 at once for 60 tubs."
    )
    dated = replace(
        weeks,
        fullest=date(2027, 5, 24),
        in_fullest=6.84,
        high_in_fullest=8,
        enough=0.9312,
        with_fewer=0.839,
    )
    assert room_line(dated) == (
        "Boxes, so that no week lacks one with a chance of 90%: 9 of 12. In the fullest week, that "
        "of 2027-05-24, 6.8 are in use on average, 8 or fewer in nine seasons of ten. By its own "
        "females' dates the plan lacks none with a chance of at least 93% with your 12 boxes, 83% "
        "with 8. Agree beforehand where a clutch goes that finds no box free: eggs do not wait. "
        "Hatchlings expected: 50.25, at most 38.1 at once for 60 tubs."
    )
    over = replace(dated, boxes_limit=5, enough=0.0912, with_fewer=None, with_counted=0.9999)
    assert "with a chance of at least 9% with your 5 boxes, 99% with 9. Hatch" in room_line(over)
    bad = BadSeasons(weight=0.5, share=0.1, seasons=1000, expected=900.0, mean=500.0)
    assert risk_line(planned()) == ""
    careful = replace(planned(), bad_seasons=bad, objective=700.0, bound=700.0, gap=0.0)
    assert risk_line(careful) == (
        "900 EUR are expected; the worst 10% of 1000 sampled seasons bring 500 EUR on "
        "average, and 50% of the difference is taken off."
    )
    assert verdict_line(careful).startswith("Proven best plan: 700 EUR with bad seasons counted")
    assert risk_line(careful) in money_line(careful)
    assert risk_line(careful) in plan_page(careful, demo()[2])


def test_the_spread_in_words() -> None:
    money = Band(p10=700.0, p50=900.0, p90=1234.5, mean=0.0)
    luck = replace(demo()[2].luck, money=money, worst=-20.0, loss=0.25, seasons=5000, seed=3)
    assert luck_line(luck, "EUR") == (
        "One season in ten brings 700 EUR or less, half bring 900 EUR or less, and one in "
        "ten brings more than 1,230 EUR."
    )
    assert worst_line(luck, "EUR") == (
        "The worst tenth bring -20 EUR on average. 25% lose money. These figures come from 5,000 "
        "simulated seasons of this plan (seed 3); young held back count at what they are worth to "
        "you."
    )
    assert "None of them loses money" in worst_line(replace(luck, loss=0.0), "EUR")


def test_how_often_room_runs_short() -> None:
    use = RoomUse(limit=9, p10=5, p50=6, p90=8, largest=10, over=0.02)
    luck = demo()[2].luck
    room = replace(luck.room, boxes=use, tubs=replace(use, limit=None, over=None))
    assert over_line(replace(luck, room=room)) == "Too few in simulated seasons: 9 boxes in 2.0%."
    free = replace(room, boxes=room.tubs)
    assert over_line(replace(luck, room=free)) == ""


def test_the_parts_of_the_objective() -> None:
    money = Money(pairs=900.0, holdbacks=0.0, saturation=-50.0, rules=-0.001, offers=-150.0)
    assert money_line(replace(planned(), money=money)) == (
        "Made of: pairs at full prices, less costs +900, more than is needed of a morph -50, "
        "animals bought, borrowed or sold -150."
    )
    assert sum(amount for _, amount in money_parts(planned().money)) == pytest.approx(
        planned().objective
    )


def test_counts_add_up() -> None:
    plan = planned()
    by_rule = sum(rest.by == "rule" for rest in plan.resting)
    by_choice = len(plan.resting) - by_rule
    assert count_line(plan) == (
        f"{len(plan.pairs)} females are paired, {len(plan.resting)} rest ({by_rule} by rule, "
        f"{by_choice} by choice of the plan)."
    )


def test_animals_that_money_decides_on() -> None:
    assert [offer_line(planned(), offer) for offer in OFFERS] == [
        "Borrow Altair (M03) for 150.00 EUR.",
        "Do not buy Hoar (M04): not worth 900.00 EUR in this plan.",
        "Sell Icicle (F05) for 400.00 EUR.",
        "Keep Snowdrop (F02): worth more than 80.00 EUR in this plan.",
    ]


def test_offers_are_told_on_the_page_and_on_the_terminal() -> None:
    plan = replace(planned(), offers=OFFERS)
    screen = Console(file=io.StringIO(), width=80)
    print_plan(plan, screen)
    printed = screen.file.getvalue()  # type: ignore[attr-defined]
    page = plan_page(plan, demo()[2])
    for offer in OFFERS:
        assert offer_line(plan, offer) in page
        assert offer_line(plan, offer) in printed


def test_the_dearest_young_first_and_the_rest_together() -> None:
    pair = max(planned().pairs, key=lambda each: len(each.outcomes))
    told = outcome_words(pair, shown=2)
    assert told.startswith(pair.outcomes[0].morph)
    assert re.search(rf"; {len(pair.outcomes) - 2} other looks \([\d.]+% together\)$", told)
    assert outcome_words(pair, shown=99).count(";") == len(pair.outcomes) - 1


def test_lines_of_the_terminal_fit_eighty_columns() -> None:
    screen = Console(file=io.StringIO(), width=80)
    print_plan(planned(), screen)
    assert max(map(len, screen.file.getvalue().splitlines())) <= 80  # type: ignore[attr-defined]


def test_a_long_pair_heading_wraps_under_itself() -> None:
    plan = planned()
    pair = plan.pairs[0]
    long = {**plan.names, pair.dam: "A name of many words " * 4, pair.sire: "And another one " * 4}
    screen = Console(file=io.StringIO(), width=80)
    print_plan(replace(plan, names=long), screen)
    lines = screen.file.getvalue().splitlines()  # type: ignore[attr-defined]
    first = next(at for at, line in enumerate(lines) if line.startswith(" 1. A name of many"))
    assert len(lines[first]) <= 80
    assert lines[first + 1].startswith("    ")
    assert "value" not in lines[first + 1]


def test_every_key_of_the_plan_is_documented() -> None:
    content = json.loads(demo_files()["plan.json"])
    named = set(re.findall(r"`([\w.]+)`", REFERENCE))
    rows = dict(re.findall(r"^\| `(\w+)`[^|]*\| (.*) \|$", REFERENCE, re.M))
    assert set(content) <= named
    for key, value in content.items():
        part = value[0] if isinstance(value, list) and value else value
        if isinstance(part, dict):
            assert set(part) <= set(re.findall(r"`(\w+)`", rows[key])), key


def test_columns_sheets_and_files_are_documented() -> None:
    assert all(f"`{column}`" in REFERENCE for column in CSV_COLUMNS)
    assert all(f"`{re.sub(DAY, 'DATE', name)}`" in REFERENCE for name in demo_files())
    sheets = load_workbook(io.BytesIO(demo_files()["plan.xlsx"])).sheetnames
    assert all(f"`{sheet}`" in REFERENCE for sheet in sheets)


def test_the_table_has_a_row_for_each_pair_and_each_female_that_rests() -> None:
    rows = list(csv.DictReader(io.StringIO(demo_files()["plan.csv"].decode())))
    assert [row["id"] for row in rows if row["kind"] == "pair"] == [p.dam for p in planned().pairs]
    assert [row["id"] for row in rows if row["kind"] == "rests"] == [
        r.id for r in planned().resting
    ]
    for row, pair in zip(rows, planned().pairs, strict=False):
        assert float(row["value"]) == pytest.approx(pair.value, abs=0.005)


def test_no_cell_of_the_hostile_table_begins_a_formula() -> None:
    rows = list(csv.reader(io.StringIO(hostile_files()["plan.csv"].decode())))
    cells = [cell for row in rows for cell in row]
    assert any(cell.startswith("'=HYPERLINK") for cell in cells)
    assert not [cell for cell in cells if cell.startswith(("=", "@", "+"))]
