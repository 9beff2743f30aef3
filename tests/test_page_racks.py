"""Notes by the racks: into the keeper's tables once, refused with a reason, taken back."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from brumal.page.desk import Desk
from brumal.page.doors import Doors
from brumal.page.messages import BesideSoFar, Failed
from brumal.page.notes import BY_EVENT, FORMS
from brumal.page.racks import LOOKING, NO_PLAN, NOTHING
from brumal.page.server import application
from brumal.page.worker import solved_reply
from brumal.pipeline import prepare
from brumal.planner.season import solve_season
from brumal.records.event_table import USED_WITH
from brumal.records.faults import Fault, Where
from brumal.records.journal import JOURNAL
from brumal.records.read import read_season
from brumal.records.tables import read_table
from brumal.records.writer import SHAPES
from brumal.report.plan.words import second_line, state_words
from brumal.report.week.report import task_line
from season_outputs import DEMO, ROOT

HOST = "127.0.0.1:8620"
OURS = {"origin": f"http://{HOST}"}
TODAY = date.today()
ID = "0123456789ab"
VISIT = {"event": "visit", "animal": "F05", "with": "M05", "date": str(TODAY), "id": ID}


class Racks:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        records, _ = read_season(folder)
        assert records is not None
        self.desk = Desk(folder, records, folder.parent / "out" / "pencil.json")
        doors = partial(Doors, hosts=(HOST,), port=8620, key="key")
        app = application(self.desk, doors)
        self.client = TestClient(app, base_url=f"http://{HOST}", follow_redirects=False)
        self.client.get("/?key=key")

    def post(self, address: str, form: dict[str, str], script: bool = False) -> tuple[int, str]:
        headers = {**OURS, **({"x-page": "script"} if script else {})}
        answer = self.client.post(address, data=form, headers=headers)
        return answer.status_code, answer.text

    def rows(self, table: str) -> list[dict[str, str]]:
        read, faults = read_table(self.folder, SHAPES[table])
        assert not faults
        return [] if read is None else [dict(row.cells) for row in read.rows]


@pytest.fixture
def racks(tmp_path: Path) -> Iterator[Racks]:
    yield Racks(Path(shutil.copytree(DEMO, tmp_path / "demo")))


@pytest.fixture
def small(tmp_path: Path) -> Racks:
    return Racks(Path(shutil.copytree(ROOT / "scenarios" / "small", tmp_path / "small")))


def test_an_entry_sent_twice_stands_once(racks: Racks) -> None:
    others = {path: path.read_bytes() for path in racks.folder.iterdir() if path.is_file()}
    for script in (False, True, True):
        status, _ = racks.post("/enter", {**VISIT, "note": "calm"}, script)
        assert status == (200 if script else 303)
    (row,) = racks.rows("events")
    assert {key: value for key, value in row.items() if value} == {
        "date": str(TODAY),
        "animal": "F05",
        "event": "visit",
        "with": "M05",
        "note": "calm",
        "id": ID,
    }
    assert all(path.read_bytes() == before for path, before in others.items())
    page = racks.client.get("/week").text
    assert page.count("Take back") == 1 and "Icicle" in page


def test_every_form_of_the_page_can_be_entered(small: Racks) -> None:
    """A season of one female in order: visit, lock, ovulation, shed, clutch, hatching."""
    start = date(2026, 12, 1)
    days = {"visit": 0, "lock": 1, "follicles": 30, "ovulation": 40, "shed": 61, "laid": 90}
    days |= {"candled": 100, "hatched": 148, "ill": 150, "tested": 152, "cleared": 160}
    days |= {"sold": 170, "arrived": 180, "died": 190}
    told = {
        "follicles": {"count": "8", "mm": "41"},
        "laid": {"count": "7", "slugs": "1"},
        "candled": {"count": "6"},
        "hatched": {"count": "5", "morphs": "2 Clown; 3 Normal"},
        "ill": {"about": "illness"},
        "tested": {"genotype": "het Clown", "result": "negative"},
        "cleared": {"about": "illness"},
    }
    assert {*days} | {"refusal", "weight"} == set(BY_EVENT)
    small.desk.on = start + timedelta(days=200)
    for number, (event, day) in enumerate(days.items()):
        form = {"event": event, "animal": "F1", "date": str(start + timedelta(days=day))}
        form |= {"id": f"{ID}{number}", **told.get(event, {})}
        form |= {"with": "M1"} if event in ("visit", "lock") else {}
        status, text = small.post("/enter", form, script=True)
        assert status == 200, text
    rows = small.rows("events")
    assert [row["event"] for row in rows] == list(days)
    assert [row["about"] for row in rows if row["about"]] == ["illness", "het Clown", "illness"]


def test_every_form_opens_with_the_fields_of_its_event(small: Racks) -> None:
    for form in FORMS:
        page = small.client.get("/week", params={"event": form.event}).text
        names = set(re.findall(r'id="entry-(\w+)"', page))
        assert names == {"animal", "date", "note", *(field.name for field in form.fields)}
        of_table = {column for column, kinds in USED_WITH.items() if form.event in kinds}
        assert names & {*USED_WITH} == of_table


def test_an_illness_noted_bars_and_a_clearance_opens_again(small: Racks) -> None:
    small.desk.on = TODAY
    form = {"event": "ill", "animal": "F1", "date": str(TODAY), "about": "illness", "id": ID}
    assert small.post("/enter", form, script=True)[0] == 200
    assert not solve_season(prepare(small.folder, TODAY)).found.may_breed("F1")
    without = {"event": "cleared", "animal": "F1", "date": str(TODAY), "id": f"{ID}1"}
    status, text = small.post("/enter", without)
    assert status == 422 and "about" in text
    assert small.post("/enter", {**without, "about": "illness"}, script=True)[0] == 200
    assert solve_season(prepare(small.folder, TODAY)).found.may_breed("F1")


def test_a_week_without_tasks_says_why(small: Racks) -> None:
    assert LOOKING in html.unescape(small.client.get("/week").text)
    desk, number = small.desk, small.desk.shown.number
    fault = Fault(where=Where(file="season.yaml"), found="this", expected="that", repair="")
    desk.take(Failed(number=number, faults=(fault,)))
    page = html.unescape(small.client.get("/week").text)
    assert "cannot be planned" in page and "season.yaml" in page and LOOKING not in page
    desk.unmarked.faults = ()
    solved = solved_reply(number, solve_season(prepare(small.folder)))
    assert solved.week is not None
    desk.take(replace(solved, week=replace(solved.week, tasks=())))
    assert NOTHING in small.client.get("/week").text
    desk.take(replace(solved, week=None))
    assert NO_PLAN in small.client.get("/week").text


def test_what_cannot_be_is_refused_and_nothing_is_written(racks: Racks) -> None:
    before = {path.name: path.read_bytes() for path in racks.folder.iterdir() if path.is_file()}
    tomorrow = str(TODAY + timedelta(days=1))
    for wrong in (
        {"animal": "Nobody"},
        {"animal": ""},
        {"date": tomorrow},
        {"date": "soon"},
        {"with": "F12"},
    ):
        status, text = racks.post("/enter", {**VISIT, **wrong})
        assert status == 422 and "Not entered." in text, wrong
    for wrong in ({"event": "withdrawn"}, {"event": "sing"}, {"id": "../x"}, {"id": "a"}):
        assert racks.post("/enter", {**VISIT, **wrong})[0] == 400
    after = {path.name: path.read_bytes() for path in racks.folder.iterdir() if path.is_file()}
    assert after == before


def test_a_weight_and_taking_back(racks: Racks) -> None:
    weighed = {"event": "weight", "animal": "F05", "date": str(TODAY), "grams": "1930", "id": ID}
    before = racks.rows("weights")
    assert racks.post("/enter", weighed)[0] == 303
    assert len(racks.rows("weights")) == len(before) + 1
    assert racks.post("/take-back", {"id": ID})[0] == 303
    assert racks.rows("weights") == before
    assert racks.post("/enter", weighed)[0] == 303  # sent again by a page that did not know
    assert racks.rows("weights") == before

    assert racks.post("/enter", {**VISIT, "id": f"{ID}2"})[0] == 303
    assert racks.post("/take-back", {"id": f"{ID}2"})[0] == 303
    assert [row["event"] for row in racks.rows("events")] == ["visit", "withdrawn"]


def test_rows_that_vanished_are_offered_again(racks: Racks) -> None:
    racks.post("/enter", VISIT)
    table = racks.folder / "events.csv"
    table.write_text(table.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    page = racks.client.get("/week").text
    assert "gone from your tables" in page and "Enter again" in page
    racks.post("/enter", VISIT)
    assert len(racks.rows("events")) == 1
    assert "gone from your tables" not in racks.client.get("/week").text


def test_a_row_that_vanished_may_stay_out(racks: Racks) -> None:
    racks.post("/enter", VISIT)
    table = racks.folder / "events.csv"
    table.write_text(table.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    assert "Leave it out" in racks.client.get("/week").text
    assert racks.post("/let-go", {"id": ID})[0] == 303
    assert "gone from your tables" not in racks.client.get("/week").text
    assert not racks.rows("events")


def test_a_journal_that_cannot_be_read_is_told(racks: Racks) -> None:
    racks.post("/enter", VISIT)
    (racks.folder / JOURNAL).write_text("no entry\nno entry\n", encoding="utf-8")
    assert "the journal of entries as brumal left it" in racks.client.get("/week").text


def test_the_tasks_are_those_of_the_season_and_lead_to_their_form(racks: Racks) -> None:
    """The same list as `brumal week`, each task with the forms that fit it, filled in."""
    season = solve_season(prepare(racks.folder, date(2026, 12, 1)))
    racks.desk.take(solved_reply(racks.desk.shown.number, season))
    assert racks.desk.unmarked.solved is not None
    week = racks.desk.unmarked.solved.week
    assert week is not None
    page = html.unescape(racks.client.get("/week").text)
    assert [task for task in week.tasks if task_line(week, task) not in page] == []
    links = set(re.findall(r"/week\?event=(\w+)&animal=(\w+)&with=(\w*)#", page))
    assert links == {(each, t.animal, t.mate) for t in week.tasks for each in t.noted}
    assert {event for event, *_ in links} >= {"visit", "lock", "refusal", "weight"}
    asked = {"event": "visit", "animal": "F05", "with": "M05"}
    page = racks.client.get("/week", params=asked).text
    assert '<option value="F05" selected>' in page and '<option value="M05" selected>' in page
    assert f'value="{TODAY}"' in page and "data-queue" in page


def test_a_running_season_says_how_far_each_pair_has_come(tmp_path: Path) -> None:
    march = Racks(Path(shutil.copytree(ROOT / "scenarios" / "demo-march", tmp_path / "march")))
    prepared = prepare(march.folder)
    march.desk.take(solved_reply(march.desk.shown.number, solve_season(prepared)))
    assert march.desk.unmarked.solved is not None
    plan = march.desk.unmarked.solved.plan
    page = html.unescape(march.client.get("/").text)
    said = [state_words(plan, pair) for pair in plan.pairs]
    seconds = [second_line(plan, pair) for pair in plan.pairs]
    assert any(said) and any(len(pair.sires) > 1 for pair in plan.pairs)
    assert all(use.pairings <= use.limit for use in plan.males)
    (polaris,) = (use for use in plan.males if use.id == "M01")
    assert (polaris.pairings, polaris.limit) == (3, 3)
    held_out = " ".join(reason.text for rest in plan.resting for reason in rest.reasons)
    assert "all 3 pairings of Polaris (M01) are taken" in held_out
    assert [words for words in said if words[1:] not in page] == []
    assert [words for words in seconds if words not in page] == []

    march.desk.ask_beside()
    number = march.desk.beside.number
    march.desk.take(BesideSoFar(number=number, done=2, of=5, name="Two boxes more"))
    page = march.client.get("/beside").text
    assert "2 of 5 planned, the last one Two boxes more" in page
