"""The planning page in Chromium: a winter by keyboard and by touch, without script, from outside.

Playwright drives the Chromium that is installed; axe-core looks at every state. Where either is
missing the checks are skipped with a notice, and fail where ``CI`` is set.
"""

from __future__ import annotations

import http.server
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from test_pages import missing, tools

from brumal.cli import main
from season_outputs import ROOT

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

__all__ = ["tools"]
pytestmark = pytest.mark.slow
SMALL = ROOT / "scenarios" / "small"
REBOUND = "--host-resolver-rules=MAP rebound.example 127.0.0.1"
WIDTHS = (360, 768, 1400)
PATIENCE = 60_000


@dataclass
class Opened:
    """A running ``brumal open`` on a copy of a season."""

    folder: Path
    address: str
    port: int

    @property
    def root(self) -> str:
        return f"http://127.0.0.1:{self.port}"


@contextmanager
def opened(folder: Path, out: Path) -> Iterator[Opened]:
    command = [sys.executable, "-c", "from brumal.cli import main; raise SystemExit(main())"]
    command += ["open", str(folder), "--no-browser", "--port", "0", "--out", str(out)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            for line in process.stdout:
                found = re.fullmatch(r"(http://127\.0\.0\.1:(\d+)/\?key=\S+)\s*", line)
                if found:
                    yield Opened(folder, found[1], int(found[2]))
                    break
            else:
                pytest.fail("no address was printed")
        finally:
            process.terminate()


@pytest.fixture
def season(tmp_path: Path) -> Iterator[Opened]:
    folder = Path(shutil.copytree(SMALL, tmp_path / "small"))
    with opened(folder, tmp_path / "out") as running:
        yield running


@pytest.fixture(scope="module")
def chromium(tools: tuple[str, str, Path]) -> Iterator[tuple[Browser, str]]:
    """Return a browser, and the text of axe-core."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright is missing")
    axe = (tools[2] / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=tools[1], args=["--no-sandbox", REBOUND])
        yield browser, axe
        browser.close()


class Tab:
    """A page with what it complained of."""

    def __init__(self, browser: Browser, season: Opened, **options: Any) -> None:
        self.context = browser.new_context(**options)
        self.page: Page = self.context.new_page()
        self.page.set_default_timeout(PATIENCE)
        self.messages: list[str] = []
        self.page.on("console", lambda message: self.messages.append(message.text))
        self.page.on("pageerror", lambda error: self.messages.append(str(error)))
        self.page.goto(season.address)
        assert self.page.url == f"{season.root}/"

    def settle(self) -> None:
        self.page.wait_for_selector("body[data-busy=no]")

    def marks(self, count: int) -> None:
        self.page.wait_for_function(
            "count => document.querySelectorAll('#pencil .marks > li').length === count", arg=count
        )
        self.settle()

    def fits(self) -> None:
        wide = "document.scrollingElement.scrollWidth <= document.documentElement.clientWidth"
        assert self.page.evaluate(wide)


def clean(tab: Tab, axe: str) -> None:
    """Look with axe-core from a world of its own, which the page's policy does not reach."""
    session = tab.context.new_cdp_session(tab.page)
    frame = session.send("Page.getFrameTree")["frameTree"]["frame"]["id"]
    world = session.send("Page.createIsolatedWorld", {"frameId": frame})["executionContextId"]
    asked = {"contextId": world, "awaitPromise": True, "returnByValue": True}
    session.send("Runtime.evaluate", {"expression": f"{axe};0", **asked})
    rules = "['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']"
    run = f"axe.run(document, {{runOnly: {rules}}}).then(found => JSON.stringify("
    run += (
        "{passes: found.passes.length, "
        "bad: found.violations.map(bad => [bad.id, bad.nodes[0].html])}))"
    )
    told = session.send("Runtime.evaluate", {"expression": run, **asked})["result"]["value"]
    assert '"bad":[]' in told, told
    assert int(re.search(r'"passes":(\d+)', told)[1]) > 10  # type: ignore[index]


def hand(tab: Tab, animal: str) -> Any:
    return tab.page.locator(f'form.hand:has(input[name=animal][value="{animal}"])')


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
def test_every_state_is_accessible_and_fits(
    chromium: tuple[Browser, str], season: Opened, width: int, scheme: str
) -> None:
    browser, axe = chromium
    options = {"viewport": {"width": width, "height": 800}, "color_scheme": scheme}
    tab = Tab(browser, season, **options)
    tab.settle()
    clean(tab, axe)
    tab.fits()

    hand(tab, "F3").locator("select").select_option("rest")
    hand(tab, "F3").locator("button").click()
    tab.marks(1)
    tab.page.locator("summary").first.click()
    tab.page.wait_for_selector("details[open] .why[data-loaded]:not([aria-busy])")
    clean(tab, axe)
    tab.fits()

    for line in ("#come", "#go", "#other"):
        tab.page.locator(f"{line} > summary").click()
    clean(tab, axe)
    tab.fits()

    tab.page.locator("#value-1-1").fill("many")
    tab.page.locator("#set-1-1").click()
    tab.page.wait_for_selector("[role=alert]")
    clean(tab, axe)

    for address in ("/ink", "/beside", "/week", "/week?event=lock"):
        tab.page.goto(f"{season.root}{address}")
        if address == "/beside":
            tab.page.wait_for_selector("table")
        clean(tab, axe)
        tab.fits()
    assert tab.messages == []


def test_a_workbook_dropped_on_the_sheet_is_read_and_asked_about(
    chromium: tuple[Browser, str], season: Opened
) -> None:
    browser, axe = chromium
    tab = Tab(browser, season, viewport={"width": 360, "height": 740})
    tab.settle()
    clean(tab, axe)
    dropped = tab.page.evaluate_handle(
        """text => {
          const held = new DataTransfer();
          held.items.add(new File([text], "mine.csv", { type: "text/csv" }));
          return held;
        }""",
        "Name,Sex,Morph,DOB\nMoss,female,Pastel,03/04/2022\nAsh,male,Clown,05/06/2021\n",
    )
    tab.page.dispatch_event("#females", "drop", {"dataTransfer": dropped})
    tab.page.wait_for_url(f"{season.root}/books")
    assert tab.page.locator("fieldset input").count() >= 2
    clean(tab, axe)
    tab.fits()
    tab.page.locator("fieldset input").first.fill("day first")
    tab.page.locator("#do-look").click()
    tab.page.wait_for_selector("#questions")
    assert "nothing written yet" in tab.page.locator("#state").inner_text()
    assert tab.messages == []


def test_a_winter_by_keyboard_alone(
    chromium: tuple[Browser, str], season: Opened, tmp_path: Path
) -> None:
    browser, _ = chromium
    tab = Tab(browser, season, viewport={"width": 1400, "height": 900})
    tab.settle()
    page = tab.page

    # From the top of the page, keys alone lead to the hand on the first female.
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.tagName") == "SELECT":
            break
    assert page.evaluate("document.activeElement.name") == "what"
    held = page.evaluate("document.activeElement.id")
    page.keyboard.press("ArrowDown")  # rests
    page.keyboard.press("Tab")
    button = page.evaluate("document.activeElement.id")
    page.keyboard.press("Enter")
    tab.marks(1)
    assert page.evaluate("document.activeElement.id") == button
    assert page.evaluate(f"document.getElementById('{held}').value") == "rest"
    assert "rests" in page.inner_text("#pencil")
    assert "against the season as it stands" in page.inner_text("#moved")

    page.locator("#value-1-1").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("+1")
    page.keyboard.press("Enter")
    tab.marks(2)
    scrolled = page.evaluate("scrollY")
    assert scrolled > 0

    other = tab.context.new_page()
    other.goto(season.root)
    other.wait_for_selector("#pencil .marks > li")
    assert other.inner_text("#pencil") == page.inner_text("#pencil")
    other.locator("#pencil .marks button").first.press("Enter")
    tab.marks(1)  # told to the first tab by the stream
    other.close()

    page.reload()
    tab.marks(1)
    page.get_by_role("link", name="Keep in the season").press("Enter")
    page.locator("#do-ink").press("Enter")
    page.wait_for_selector("#said")
    tab.settle()
    assert page.locator("#pencil .marks > li").count() == 0
    ours = page.evaluate("fetch('/plan.json').then(answer => answer.text())")
    assert main(["plan", str(season.folder), "--out", str(tmp_path / "plan")]) == 0
    assert ours == (tmp_path / "plan" / "plan.json").read_text(encoding="utf-8")
    assert tab.messages == []


def test_by_touch(chromium: tuple[Browser, str], season: Opened) -> None:
    browser, _ = chromium
    tab = Tab(browser, season, viewport={"width": 360, "height": 740}, has_touch=True)
    tab.settle()
    small = tab.page.evaluate(
        "[...document.querySelectorAll('button, select, main input')]"
        ".map(each => each.getBoundingClientRect().height).filter(h => h > 0 && h < 43).length"
    )
    assert small == 0
    hand(tab, "F3").locator("select").select_option("rest")
    hand(tab, "F3").locator("button").tap()
    tab.marks(1)
    tab.page.locator("#pencil .marks button").first.tap()
    tab.marks(0)
    assert tab.messages == []


def test_without_script(chromium: tuple[Browser, str], season: Opened) -> None:
    browser, _ = chromium
    tab = Tab(browser, season, java_script_enabled=False)
    hand(tab, "F3").locator("select").select_option("rest")
    hand(tab, "F3").locator("button").click()
    tab.page.wait_for_selector("#pencil .marks > li")
    tab.page.wait_for_selector("body[data-busy=no]")
    tab.page.locator("summary").first.click()
    tab.page.get_by_role("link", name="Why, and her other sires").first.click()
    assert tab.page.locator("#why p").count() >= 1
    tab.page.get_by_role("link", name="Back to the sheet").click()
    tab.page.locator("#pencil .marks button").first.click()
    tab.page.wait_for_selector("#pencil .marks", state="detached")


HOSTILE = """<!doctype html><body><form id=f method=post action="{root}/pencil" target=t>
<input name=kind value=hand><input name=animal value=F3><input name=what value=rest></form>
<iframe name=t></iframe><iframe src="{root}/"></iframe><img src="{root}/plan.json">
<script>
window.read = [];
for (const address of ["/", "/plan.json", "/answers"])
  fetch("{root}" + address, {{credentials: "include"}}).then(
    answer => answer.text()).then(text => read.push(text), () => 0);
fetch("{root}/pencil", {{method: "POST", mode: "no-cors", credentials: "include",
  body: new URLSearchParams({{kind: "hand", animal: "F3", what: "rest"}})}}).catch(() => 0);
document.getElementById("f").submit();
</script>"""


def test_a_hostile_page_on_another_origin_gets_nothing(
    chromium: tuple[Browser, str], season: Opened, tmp_path: Path
) -> None:
    browser, _ = chromium
    tab = Tab(browser, season)
    tab.settle()
    text = HOSTILE.format(root=season.root).encode()

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(text)

        def log_message(self, *_: object) -> None:
            return

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        evil = tab.context.new_page()  # the same browser, the cookie in its jar
        for name in ("127.0.0.1", "localhost"):
            evil.goto(f"http://{name}:{server.server_port}/")
            time.sleep(1.5)
            assert evil.evaluate("read") == []
            assert "Females" not in "".join(frame.content() for frame in evil.frames[1:])
    finally:
        server.shutdown()
        server.server_close()
    tab.page.reload()
    assert tab.page.locator("#pencil .marks > li").count() == 0
    assert not (tmp_path / "out").exists()


def test_a_name_that_is_pointed_at_this_machine_gets_nothing(
    chromium: tuple[Browser, str], season: Opened
) -> None:
    page = chromium[0].new_page()
    key = season.address.split("?")[1]
    answer = page.goto(f"http://rebound.example:{season.port}/?{key}")
    assert answer is not None and answer.status == 403
    assert "Not for this page" in page.content()
    page.close()
