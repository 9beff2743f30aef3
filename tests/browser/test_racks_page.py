"""Notes by the racks in Chromium without a connection: kept, sent later, never twice or lost."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from test_pages import tools
from test_planning_page import Opened, Tab, chromium, clean, season

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

__all__ = ["chromium", "season", "tools"]
pytestmark = pytest.mark.slow
NOTHING_WAITS = "() => document.getElementById('waiting').hidden"


def note(page: Page, grams: str, animal: str = "F1") -> None:
    page.locator("#entry-animal").select_option(animal)
    page.locator("#entry-grams").fill(grams)
    page.get_by_role("button", name="Enter", exact=True).tap()


def waits(page: Page, count: int) -> None:
    page.wait_for_function(
        "count => document.getElementById('waiting-title').textContent"
        " === `Waiting for a connection: ${count}`",
        arg=count,
    )


def grams(season: Opened) -> list[str]:
    """Return what the weights table holds; the small season has none of its own."""
    table = season.folder / "weights.csv"
    if not table.is_file():
        return []
    with table.open(encoding="utf-8", newline="") as file:
        return [row["grams"] for row in csv.DictReader(file)]


@pytest.fixture
def racks(chromium: tuple[Browser, str], season: Opened) -> Iterator[Tab]:
    phone = {"viewport": {"width": 360, "height": 740}, "has_touch": True}
    tab = Tab(chromium[0], season, **phone)
    tab.page.goto(f"{season.root}/week?event=weight")
    yield tab
    tab.context.close()


def test_entries_without_a_connection_are_sent_once_from_two_tabs(
    racks: Tab, chromium: tuple[Browser, str], season: Opened
) -> None:
    page = racks.page
    other = racks.context.new_page()
    other.goto(f"{season.root}/week?event=weight")
    racks.context.set_offline(True)
    note(page, "1910")
    waits(page, 1)
    waits(other, 1)  # told by the browser, not by the command
    note(other, "1600", "F3")
    waits(page, 2)
    assert page.locator("#entry-animal").input_value() == ""
    assert "1910" in page.locator("#waiting-lines").inner_text()
    clean(racks, chromium[1])
    racks.fits()
    assert grams(season) == []

    racks.context.set_offline(False)  # both tabs now send what waits
    for each in (page, other):
        each.wait_for_function(NOTHING_WAITS)
    assert sorted(grams(season)) == ["1600", "1910"]
    page.reload()
    page.wait_for_function(NOTHING_WAITS)
    assert sorted(grams(season)) == ["1600", "1910"]


def test_entries_outlive_a_closed_page_and_a_lost_answer(racks: Tab, season: Opened) -> None:
    """The command may have written an entry whose answer never came: it is not written again."""
    page = racks.page
    address = f"{season.root}/enter"

    def lose(route: object) -> None:
        route.fetch()  # type: ignore[attr-defined]
        route.abort("connectionreset")  # type: ignore[attr-defined]

    page.route(address, lose)
    note(page, "1910")
    waits(page, 1)
    assert grams(season) == ["1910"]
    page.unroute(address)
    page.route(address, lambda route: route.abort("internetdisconnected"))
    note(page, "1600", "F3")
    waits(page, 2)
    page.close()

    again = racks.context.new_page()
    again.goto(f"{season.root}/week")
    again.wait_for_function(NOTHING_WAITS)
    assert grams(season) == ["1910", "1600"]


def test_a_waiting_entry_that_is_refused_stays_with_its_reason(racks: Tab, season: Opened) -> None:
    page = racks.page
    racks.context.set_offline(True)
    note(page, "many")
    waits(page, 1)
    note(page, "1600", "F3")
    waits(page, 2)
    racks.context.set_offline(False)
    waits(page, 1)
    assert grams(season) == ["1600"]
    page.reload()
    waits(page, 1)
    assert "many" in page.locator("#waiting-lines").inner_text()
    page.wait_for_selector("#waiting-drop:visible")
    page.locator("#waiting-drop").tap()
    page.wait_for_function(NOTHING_WAITS)


def test_an_illness_is_noted_and_taken_back_by_touch(
    racks: Tab, chromium: tuple[Browser, str], season: Opened
) -> None:
    page = racks.page
    page.get_by_role("link", name="Ill", exact=True).tap()
    page.wait_for_url("**event=ill**")
    small = page.evaluate(
        "[...document.querySelectorAll('main button, main select, main input, main .button')]"
        ".map(each => each.getBoundingClientRect().height).filter(h => h > 0 && h < 43).length"
    )
    assert small == 0
    clean(racks, chromium[1])
    page.locator("#entry-animal").select_option("F2")
    page.get_by_role("button", name="Enter", exact=True).tap()
    page.wait_for_url("**/week?done=entered")
    events = (season.folder / "events.csv").read_text(encoding="utf-8")
    assert ",F2,ill," in events and "illness" in events
    page.get_by_role("button", name="Take back").tap()
    page.wait_for_url("**/week?done=back")
    # The tasks come by themselves once the plan does.
    page.wait_for_function("() => !document.getElementById('looking')")
    assert "withdrawn" in (season.folder / "events.csv").read_text(encoding="utf-8")
    assert racks.messages == []
