"""The page with its worker at work: the command line's plan, other tabs, killed workers, edits."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from brumal.cli import main
from brumal.insight.why.counterfactuals import Questions
from brumal.insight.why.shadow_prices import LONGER, shadow_prices
from brumal.page import words
from brumal.page.desk import Desk
from brumal.page.doors import Doors
from brumal.page.fields import MORE
from brumal.page.paper import fill
from brumal.page.pencil import Kind, Mark
from brumal.page.server import application
from brumal.page.sheet import sheet_of
from brumal.page.worker import solved_reply
from brumal.pipeline import prepare
from brumal.planner.limits.males import PAIRING
from brumal.planner.season import solve_season
from brumal.records.read import read_season
from brumal.report.words import visible
from long_forms import thinned
from season_outputs import HOSTILE, ROOT, SEASON_NAME, hostile_season

SMALL = ROOT / "scenarios" / "small"
HOST = "127.0.0.1:8620"
OURS = f"http://{HOST}"
PATIENCE = 60.0


class Browser:
    """One tab that is let in, and the desk behind it."""

    def __init__(self, folder: Path) -> None:
        records, _ = read_season(folder)
        assert records is not None
        self.folder = folder
        self.store = folder.parent / "out" / "pencil.json"
        self.desk = Desk(folder, records, self.store)
        doors = partial(Doors, hosts=(HOST,), port=8620, key="key")
        self.client = TestClient(application(self.desk, doors), base_url=OURS)

    def __enter__(self) -> Browser:
        self.client.__enter__()
        assert self.client.get("/?key=key").status_code == 200
        return self

    def __exit__(self, *raised: object) -> None:
        self.client.__exit__(None, None, None)

    def until(self, is_so: Callable[[], bool]) -> None:
        end = time.monotonic() + PATIENCE
        while not is_so():
            assert time.monotonic() < end, "no answer came"
            time.sleep(0.02)

    def settle(self) -> None:
        self.until(lambda: self.desk.shown.is_final)

    def post(self, address: str, **form: str) -> None:
        headers = {"origin": OURS, "x-page": "script"}
        answer = self.client.post(address, data=form, headers=headers)
        assert answer.status_code == 200

    def hand(self, animal: str, what: str) -> None:
        self.post("/pencil", kind="hand", animal=animal, what=what)

    def plan(self) -> bytes:
        self.settle()
        answer = self.client.get("/plan.json")
        assert answer.status_code == 200
        return answer.content


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return Path(shutil.copytree(SMALL, tmp_path / "small"))


@pytest.fixture
def browser(small: Path) -> Iterator[Browser]:
    with Browser(small) as opened:
        yield opened


def by_command(folder: Path, out: Path) -> bytes:
    assert main(["plan", str(folder), "--out", str(out)]) == 0
    return (out / "plan.json").read_bytes()


def test_the_page_plans_as_the_command_does(browser: Browser, tmp_path: Path) -> None:
    """The small season, worked out by hand in docs/small-season.md: 885, F1 M2, F2 M1, F3 M2."""
    assert browser.plan() == by_command(browser.folder, tmp_path / "plan")
    sheet = sheet_of(browser.desk)
    assert sheet.money == "885 EUR" or sheet.money.startswith("88"), sheet.money

    browser.hand("F3", "rest")
    browser.post("/pencil", kind="set", path='["limits", "pairings_per_male"]', value="1")
    ours = browser.plan()
    text = (browser.folder / "season.yaml").read_text(encoding="utf-8")
    (browser.folder / "what-if").mkdir(exist_ok=True)
    assert (browser.folder / "season.yaml").read_text(encoding="utf-8") == text
    page = browser.client.get("/").text
    assert "rests" in page and "Undo" in page and "against the season as it stands" in page
    assert ours != by_command(browser.folder, tmp_path / "plan")

    browser.post("/undo")
    assert browser.plan() == by_command(browser.folder, tmp_path / "plan")
    assert not browser.desk.marks


def test_pencil_outlives_the_command_and_stands_in_every_tab(small: Path) -> None:
    with Browser(small) as first:
        first.hand("F3", "rest")
        first.settle()
        assert "F3" in first.client.get("/").text
    with Browser(small) as second:
        assert second.desk.marks == (Mark(Kind.REST, ("F3",)),)
        second.settle()
        # The season without the pencil is asked for as well, so that what moved can be told.
        second.until(lambda: second.desk.unmarked.solved is not None)
        # Between two answers what more of a limit brings may come: until then the tabs differ.
        second.until(lambda: len({second.client.get("/").text for _ in range(2)}) == 1)
        assert "against the season as it stands" in second.client.get("/").text
        page = second.client.get("/why", params={"animal": "F3"}).text
        assert "rests because you asked for it" in page


def test_a_worker_that_is_killed_begins_again(browser: Browser) -> None:
    browser.settle()
    for _ in range(2):
        worker = browser.desk.worker
        assert worker is not None
        # Held still, it cannot have answered before it is killed.
        os.kill(worker, signal.SIGSTOP)
        browser.hand("F1", "rest")
        os.kill(worker, signal.SIGKILL)
        browser.settle()
        assert not browser.desk.shown.faults
        assert browser.desk.worker != worker
        browser.post("/undo")
    browser.hand("F2", "rest")
    assert b'"F2"' in browser.plan()


def test_a_folder_that_changes_is_read_again_and_a_broken_one_told(
    browser: Browser, tmp_path: Path
) -> None:
    browser.settle()
    season = browser.folder / "season.yaml"
    right = season.read_text(encoding="utf-8")
    season.write_text(right.replace("boxes:", "boxs:"), encoding="utf-8")
    page = browser.client.get("/").text
    assert "can no longer be read" in page and "boxs" in page
    season.write_text(right.replace("name: ", "name: New "), encoding="utf-8")
    page = browser.client.get("/").text
    assert "can no longer be read" not in page and "New " in page
    assert browser.plan() == by_command(browser.folder, tmp_path / "plan")


def test_an_animal_is_explained(browser: Browser) -> None:
    browser.settle()
    page = browser.client.get("/why", params={"animal": "F3"}).text
    assert "is paired with" in page
    assert browser.client.get("/why", params={"animal": "nobody"}).status_code == 404


def more_of(browser: Browser) -> dict[tuple[str, str, float], float]:
    """Wait until what one more of each limit would bring is known, and return it."""

    def is_so() -> bool:
        more = browser.desk.shown.more
        return more is not None and any(price.thing == LONGER for price in more.prices)

    browser.until(is_so)
    assert browser.desk.shown.more is not None
    return {
        (price.thing, price.animal, price.step): price.gain
        for price in browser.desk.shown.more.prices
    }


def test_limits_say_what_one_more_would_bring_after_every_answer(browser: Browser) -> None:
    """The prices of `brumal why`, each beside its limit; pencil and questions come before them."""
    found = more_of(browser)
    season = solve_season(prepare(browser.folder))
    own = {
        (price.thing, price.animal, price.step): price.gain
        for price in shadow_prices(Questions(season))
        if (price.thing, price.animal, price.step) in found
    }
    assert found == own and {"incubator box", PAIRING} <= {key[0] for key in own}
    assert browser.client.get("/").text.count('class="more"') == len(found)

    for limit, value in (("tubs", "30"), ("resting", "1"), ("spend", "900")):
        browser.post("/pencil", kind="set", path=f'["limits", "{limit}"]', value=value)
    browser.settle()
    assert "no plan yet" not in browser.client.get("/why", params={"animal": "F1"}).text
    assert {thing for thing, *_ in more_of(browser)} == {*MORE, PAIRING}
    page = browser.client.get("/").text
    for told in words.more_words(browser.desk.shown.more).values():
        assert told in page
    browser.post("/undo")
    assert browser.desk.shown.is_final and browser.desk.shown.more is None
    assert more_of(browser) == found


def test_animals_come_and_go_in_pencil_alone(browser: Browser) -> None:
    browser.settle()
    before = (browser.folder / "animals.csv").read_bytes()
    told = {"sex": "male", "morph": "Clown", "hatched": "2022-07-01", "weight_g": "900"}
    told |= {"weighed": "2026-11-10", "condition": "3", "status": "breeder", "paid": "400"}
    browser.post("/pencil", kind="animal", animal="X1", name="Solace", **told)
    browser.post("/pencil", kind="animal", animal="M1", status="outside", received="250")
    browser.settle()
    page = browser.client.get("/").text
    assert "Solace" in page and "150.00 EUR are paid once" in page
    assert not browser.desk.shown.faults
    solved = browser.desk.shown.solved
    assert solved is not None
    assert {pair.sire for pair in solved.plan.pairs} <= {"X1", "M2"}
    browser.post("/pencil", kind="animal", animal="F4", weight_g="+100")
    browser.settle()
    assert browser.desk.shown.solved is not None and not browser.desk.shown.faults
    assert (browser.folder / "animals.csv").read_bytes() == before


def test_the_newest_question_alone_is_answered(browser: Browser) -> None:
    for _ in range(5):
        browser.hand("F1", "rest")
        browser.hand("F1", "free")
        browser.hand("F2", "rest")
    browser.settle()
    shown = browser.desk.shown
    assert shown.solved is not None
    assert {rest.id for rest in shown.solved.plan.resting if rest.by == "lock"} == {"F2"}


class Elements(HTMLParser):
    """Gathers tags with their attributes, and the text a reader sees."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attributes)))

    def handle_data(self, data: str) -> None:
        self.text += data


def two_hundred(folder: Path) -> Path:
    """Write the hostile season with two hundred more females whose names try something."""
    hostile_season(folder)
    table = folder / "animals.csv"
    tries = (
        '"><script src=//x.invalid></script>{n}',
        "{{{{ {n} * 7 }}}}",
        "javascript:alert({n})",
        "' onfocus=alert({n}) autofocus='",
        "</select></form><form action=//x.invalid>{n}",
        "<svg/onload=alert({n})>",
        "../../etc/passwd{n}",
        "%0d%0aSet-Cookie: a={n}",
    )
    rows = [
        '"{}","{}",female,2018-07-01,Pastel,1900,2026-11-14,3,,'.format(
            f"X{number} {text}".replace('"', '""'), text.replace('"', '""')
        )
        for number in range(200)
        for text in [tries[number % len(tries)].format(n=number)]
    ]
    with table.open("a", encoding="utf-8", newline="") as file:
        file.write("\n".join(rows) + "\n")
    return folder


def test_two_hundred_hostile_names_are_inert(tmp_path: Path) -> None:
    folder = two_hundred(tmp_path)
    prepared = prepare(folder)
    desk = Desk(folder, prepared.records, tmp_path / "out" / "pencil.json")
    desk.take(solved_reply(desk.shown.number, solve_season(prepared)))
    desk.pencil(Mark(Kind.REST, ("F2",)))
    sheet = sheet_of(desk)
    read = Elements(fill("sheet.html", sheet=sheet, accept=".xlsx"))
    scripts = [attributes for tag, attributes in read.tags if tag == "script"]
    assert scripts == [{"src": "/page.js", "defer": None}]
    for tag, attributes in read.tags:
        assert not [name for name in attributes if name.startswith("on") or name == "style"]
        assert tag not in ("img", "iframe", "object", "b", "i") or tag == "i"
        if tag == "form":
            assert attributes["action"] in ("/pencil", "/undo", "/stop", "/aside", "/books")
        for name in ("href", "src", "data-why"):
            value = attributes.get(name) or "/"
            assert value.startswith(("/", "#")) and not value.startswith("//"), value
    for name in (*HOSTILE, SEASON_NAME):
        assert visible(name) in read.text
    ids = [attributes["id"] for _, attributes in read.tags if attributes.get("id")]
    assert len(ids) == len(set(ids))
    assert len(sheet.deciding) + len(sheet.barred) > 200


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent in another way there")
@pytest.mark.parametrize("after", thinned([0.5, 3.0], 2))
def test_ctrl_c_closes_the_page_without_complaint(tmp_path: Path, after: float) -> None:
    command = [sys.executable, "-c", "from brumal.cli import main; raise SystemExit(main())"]
    command += ["open", str(SMALL), "--no-browser", "--port", "0", "--out", str(tmp_path)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, start_new_session=True
    ) as page:
        assert page.stdout is not None
        while "Ctrl-C" not in page.stdout.readline():
            pass
        time.sleep(after)  # with and without a worker that still loads its modules
        os.killpg(page.pid, signal.SIGINT)
        told = page.communicate(timeout=60)[0]
    assert (told.strip(), page.returncode) == (
        "The page is closed. What you tried in pencil is kept.",
        0,
    )
