"""The readiness report: terminal, page, table and pictures."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date
from xml.etree import ElementTree as Xml

import pytest
from rich.console import Console

from brumal.cli import main
from brumal.forecast.clutch import forecast_clutches
from brumal.records.animals import Clutch, Weighing
from brumal.records.folder import SeasonRecords
from brumal.report.ready.files import ready_json
from brumal.report.ready.pictures import weight_picture
from brumal.report.ready.report import print_ready, ready_csv, ready_page, summary
from brumal.report.ready.words import facts, outlook, reasons
from brumal.rules.readiness import Readiness, readiness
from brumal.rules.table import rule_context
from records_by_hand import PAIR_FROM, female, male, records, weighed

LAST = date(2026, 11, 14)
HOSTILE = [
    "<script>alert(1)</script>",
    '=HYPERLINK("x")',
    "@SUM(A1)",
    "+1+1",
    "a" * 300,
    "\u202eright to left",
    '\U0001f40d & "quotes" \' <b>',
]


def judged(season: SeasonRecords) -> tuple[Readiness, ...]:
    return readiness(season, rule_context(season), forecast_clutches(season))


def herd(names: list[str] | None = None) -> SeasonRecords:
    named = [
        female(f"F{at}", name=name, hatched=date(2022, 7, 1), condition=3.0)
        for at, name in enumerate(names or ["Frost", "Ivy"])
    ]
    him = male("M1", name="Thyme", weight_g=900.0, weighed=LAST, hatched=date(2022, 7, 1))
    scales = [
        point
        for at, her in enumerate(named)
        for point in weighed(her.id, *(grams + 130 * at for grams in GRAMS), last=LAST)
    ]
    return records([*named, him], scales)


GRAMS = (1314, 1336, 1358, 1380)


def test_words_of_one_animal() -> None:
    one = judged(herd())[0]
    assert facts(one, PAIR_FROM) == (
        "female; 53 months on 2026-12-01; 1,380 g (2026-11-14); +0.7 g a day; condition 3"
    )
    assert reasons(one) == [
        "Frost weighs 1,380 g on 2026-11-14; 1,500 g is the least for a first clutch: 120 g "
        "missing. At her present gain of 0.7 g a day she reaches it about 2027-04-27."
    ]
    assert outlook(one) == (
        "That should be met about 2027-04-27, too late or not surely enough to count on this "
        "season."
    )


def test_outlook_of_those_that_are_ready() -> None:
    stated = female("F9", weight_g=1800.0, weighed=LAST, hatched=date(2022, 7, 1), expected_eggs=7)
    found = {one.animal.id: one for one in judged(records([*herd().animals, stated]))}
    assert outlook(found["F9"]) == (
        "Goes in 70% of seasons; 7 eggs as you state them. The chance is taken from what is "
        "usual, before her first clutch."
    )
    assert outlook(found["M1"]).startswith(
        "Up to 4 females: common practice under 30 months or under"
    )
    forecast = female("F9", weight_g=1800.0, weighed=LAST, hatched=date(2022, 7, 1))
    (one,) = judged(records([forecast]))
    assert re.fullmatch(
        r"Goes in 70% of seasons; 5\.\d+ eggs expected, 8 or fewer in nine of ten clutches\. "
        r"The chance is taken from what is usual, before her first clutch; the number of eggs from "
        r"what is usual at her weight, none of hers is on record\.",
        outlook(one),
    )


def test_terminal_is_readable_at_80_columns_without_colour() -> None:
    out = io.StringIO()
    screen = Console(file=out, width=80, highlight=False, markup=False, emoji=False)
    found = judged(herd())
    print_ready(found, "Test", PAIR_FROM, screen)
    text = out.getvalue()
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80
    assert "\x1b" not in text
    assert text.index("Not ready, the nearest first (1)") < text.index("Ready (1)")
    assert text.splitlines()[1] == summary(found)
    assert summary(found) == "3 animals: 1 not ready, 1 ready, but look first, 1 ready."


def test_page_keeps_hostile_names_inert_and_whole() -> None:
    page = ready_page(judged(herd(HOSTILE)), "Test <i>", PAIR_FROM)
    assert "<script" not in page
    assert "<b>" not in page
    assert "Test &lt;i&gt;" in page
    assert "a" * 300 in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")


def test_table_keeps_hostile_names_inert() -> None:
    rows = list(csv.DictReader(io.StringIO(ready_csv(judged(herd(HOSTILE))))))
    assert len(rows) == len(HOSTILE) + 1
    for row in rows:
        for cell in row.values():
            assert cell[:1] not in ("=", "@")
            assert not re.match(r"\+\D|\+1\+", cell)
    assert {'\'=HYPERLINK("x")', "'@SUM(A1)", "'+1+1"} <= {row["name"] for row in rows}


def test_table_holds_the_figures() -> None:
    first, *_ = csv.DictReader(io.StringIO(ready_csv(judged(herd()))))
    assert {key: first[key] for key in ("id", "state", "ready_on", "weight_g", "asked_g")} == {
        "id": "F0",
        "state": "not ready",
        "ready_on": "2027-04-27",
        "weight_g": "1380",
        "asked_g": "1500",
    }
    assert (first["missing_g"], first["rules_failed"]) == ("120", "weight")


def test_same_records_same_bytes_whatever_the_order_of_rows() -> None:
    season = herd()
    other = records(season.animals[::-1], season.weighings[::-1])
    one, two = judged(season), judged(other)
    assert ready_page(one, "Test", PAIR_FROM) == ready_page(two, "Test", PAIR_FROM)
    assert ready_csv(one) == ready_csv(two)


def test_picture_tells_shapes_apart_and_describes_itself() -> None:
    her = female("F1", name="Frost", last_laid=date(2026, 4, 20), hatched=date(2020, 7, 1))
    days = [(2026, 1, 15), (2026, 4, 10), (2026, 5, 1), (2026, 8, 1), (2026, 10, 1), (2026, 11, 1)]
    scales = [
        Weighing(animal="F1", date=date(*day), grams=grams)
        for day, grams in zip(days, (2000, 2200, 1430, 1600, 1700, 1760), strict=True)
    ]
    (one,) = judged(records([her], scales))
    image = weight_picture(one, PAIR_FROM)
    assert image is not None
    root = Xml.fromstring(str(image))
    tags = [element.tag.split("}")[1] for element in root.iter()]
    # The weighings of 15 January and 10 April stand in the 100 days before she laid.
    assert (tags.count("rect"), tags.count("circle")) == (2, 3)
    described = [element.text for element in root if element.tag.endswith("desc")]
    assert described[0] is not None
    assert described[0].startswith(
        "6 weighings from 2,000 g on 2026-01-15 to 1,760 g on 2026-11-01. The limit is 1,800 g."
    )
    words = [element.text for element in root.iter() if element.tag.endswith("text")]
    assert "broken line: 1,800 g asked for" in words


def test_no_series_no_picture() -> None:
    (one,) = judged(records([female("F1", weight_g=1700.0)]))
    assert weight_picture(one, PAIR_FROM) is None


@pytest.mark.parametrize("season", ["demo", "small"])
def test_command_writes_page_and_table(
    season: str, tmp_path, capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> None:
    folder = request.config.rootpath / "scenarios" / season
    assert main(["ready", str(folder), "--out", str(tmp_path / "out")]) == 0
    printed = capsys.readouterr().out
    assert "who is ready on" in printed
    assert max(len(line.rstrip()) for line in printed.splitlines()) <= 80
    assert (tmp_path / "out" / "ready.html").read_text("utf-8").startswith("<!doctype html>")
    rows = (tmp_path / "out" / "ready.csv").read_text("utf-8").splitlines()
    assert rows[0].startswith("id,name,sex,state,ready_on")


def test_the_page_tells_her_seasons_and_shared_cautions_once() -> None:
    laid = [Clutch(dam="F0", laid=date(2025, 4, 20), eggs=6)]
    herd_ = [
        female(f"F{at}", weight_g=1900.0, weighed=LAST, hatched=date(2019, 7, 1)) for at in (0, 1)
    ]
    found = judged(records(herd_, clutches=laid))
    page = ready_page(found, "Test", PAIR_FROM)
    assert page.count("No body condition is recorded: ") == 1
    assert "recorded: F0 (2.5 to 4 asked for), F1 (3 to 4 asked for). Look at each" in page
    assert page.count("Seasons: 2026 nothing on record, 2025 laid.") == 1
    assert "No body condition is recorded for F1" not in page
    assert "No body condition is recorded for F1" in ready_csv(found)


def test_the_data_says_what_the_table_says() -> None:
    found = judged(herd())
    content = json.loads(ready_json(found, "Test", PAIR_FROM, PAIR_FROM))
    rows = list(csv.DictReader(io.StringIO(ready_csv(found))))
    assert (content["version"], content["as_of"]) == (1, PAIR_FROM.isoformat())
    assert [one["id"] for one in content["animals"]] == [row["id"] for row in rows]
    for one, row in zip(content["animals"], rows, strict=True):
        assert (one["may_start"] or "") == row["may_start"]
        assert (one["held_by"] or "") == row["held_by"]
        assert " ".join(one["rules_failed"]) == row["rules_failed"]
