"""``plan.html`` and ``cards.html``: order, self-containment, hostile names, the same bytes."""

from __future__ import annotations

import base64
import hashlib
import re
import shutil
from html.parser import HTMLParser
from pathlib import Path

import pytest

from brumal.report.plan.cards import plan_cards
from brumal.report.plan.page import SECTIONS, plan_page
from brumal.report.plan.season_words import settings_lines
from brumal.report.words import visible
from season_outputs import (
    FILES,
    HOSTILE,
    ROOT,
    SEASON_NAME,
    demo,
    demo_files,
    hostile_files,
    written,
)

VOID = {"meta", "br", "img", "link", "input", "hr"}


class Reader(HTMLParser):
    """Reads a page as a browser would: elements, attributes, and text outside style."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(page.decode())
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", "".join(self.words))


PAGES = [
    (source, name) for source in (demo_files, hostile_files) for name in ("plan.html", "cards.html")
]
IDS = [f"{source.__name__}-{name}" for source, name in PAGES]


@pytest.fixture(params=PAGES, ids=IDS)
def page(request: pytest.FixtureRequest) -> bytes:
    source, name = request.param
    return source()[name]


def test_every_element_is_closed_and_ids_are_single(page: bytes) -> None:
    read = Reader(page)
    assert read.open == []
    ids = [attributes["id"] for _, attributes in read.tags if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_nothing_is_fetched_and_nothing_runs(page: bytes) -> None:
    read = Reader(page)
    tags = {tag for tag, _ in read.tags}
    assert not tags & {"script", "img", "link", "iframe", "object", "form", "base", "foreignobject"}
    names = {name for _, attributes in read.tags for name in attributes}
    assert not {name for name in names if name.startswith("on")}
    assert not names & {"style", "src", "srcset", "action", "xlink:href"}
    links = [attributes["href"] for _, attributes in read.tags if "href" in attributes]
    assert all(link and link.startswith("#") for link in links)
    assert "url(" not in page.decode() and "@import" not in page.decode()


def test_the_policy_allows_this_style_and_nothing_else(page: bytes) -> None:
    (policy,) = [
        attributes["content"] or ""
        for tag, attributes in Reader(page).tags
        if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
    ]
    style = re.findall(r"<style>(.*?)</style>", page.decode(), re.S)
    digest = base64.b64encode(hashlib.sha256(style[0].encode()).digest()).decode()
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )


def test_sections_stand_in_the_order_in_which_a_keeper_asks() -> None:
    read = Reader(demo_files()["plan.html"])
    ids = [attributes["id"] for tag, attributes in read.tags if tag == "h2"]
    assert ids == [id_ for id_, _ in SECTIONS]
    links = [attributes["href"] for tag, attributes in read.tags if tag == "a"]
    assert links == ["#main", *(f"#{id_}" for id_ in ids)]


def test_every_pair_and_every_reason_is_told() -> None:
    _, plan, outlook = demo()
    text = Reader(demo_files()["plan.html"]).text
    for pair in plan.pairs:
        assert f"{pair.value:,.2f} ± {pair.sd:,.0f}" in text
    for rest in plan.resting:
        assert all(reason.text in text for reason in rest.reasons)
    for clutch in outlook.clutches:
        assert f"{clutch.laying.early} to {clutch.laying.late}" in text
    for digest in plan.inputs.fingerprints.values():
        assert digest in text
    for key, value in settings_lines(plan.inputs.settings):
        assert f"{key} {value}" in text


def test_pictures_have_a_title_and_a_description() -> None:
    page = demo_files()["plan.html"].decode()
    pictures = re.findall(r"<svg.*?</svg>", page, re.S)
    assert len(pictures) >= 6
    for picture in pictures:
        assert re.search(r'<svg[^>]* role="img"', picture)
        assert re.search(r"<title>[^<]+</title><desc>[^<]+</desc>", picture)


@pytest.mark.parametrize("name", ["plan.html", "cards.html"])
def test_hostile_names_come_out_inert_and_whole(name: str) -> None:
    read = Reader(hostile_files()[name])
    for hostile in (*HOSTILE, SEASON_NAME):
        assert visible(hostile) in read.text
    assert "49" not in re.findall(r"Season\S* (\S+)", read.text)


def test_the_same_plan_gives_the_same_bytes() -> None:
    _, plan, outlook = demo()
    assert plan_page(plan, outlook).encode() == demo_files()["plan.html"]
    assert plan_cards(plan, outlook).encode() == demo_files()["cards.html"]


def test_settings_are_told_by_their_keys() -> None:
    told = settings_lines(
        {
            "season": {"name": "x", "pair_to": None},
            "values": {"wanted": [{"morph": "Clown", "value": 250.0}], "base": 0.0},
            "rules": {"condition": [2.0, 4.5], "accept_welfare": []},
        }
    )
    assert told == [
        ("season.name", "x"),
        ("values.wanted[1].morph", "Clown"),
        ("values.wanted[1].value", "250"),
        ("values.base", "0"),
        ("rules.condition", "[2, 4.5]"),
    ]


def test_there_is_a_card_for_every_animal_of_the_plan() -> None:
    _, plan, outlook = demo()
    page = demo_files()["cards.html"].decode()
    cards = re.findall(r'<section class="card">(.*?)</section>', page, re.S)
    labels = [re.search(r"<h2[^>]*>(.*?)</h2>", card).group(1) for card in cards]  # type: ignore[union-attr]
    animals = [
        *(pair.dam for pair in plan.pairs),
        *(male.id for male in plan.males),
        *(rest.id for rest in plan.resting),
    ]
    assert labels == [plan.names[animal] for animal in animals]
    assert all("Emergency, my vet:" in card for card in cards)
    by_label = dict(zip(labels, cards, strict=True))
    for pair, clutch in zip(plan.pairs, outlook.clutches, strict=True):
        card = by_label[plan.names[pair.dam]]
        assert plan.names[pair.sire] in card and str(clutch.laying.late) in card
        assert all(str(visit.start) in card for visit in clutch.visits)
    for rest in plan.resting:
        assert "not paired this season" in by_label[plan.names[rest.id]]


def test_a_season_without_pairs_has_its_files_too(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "scenarios" / "small", tmp_path / "none")
    season = tmp_path / "none" / "season.yaml"
    season.write_text(season.read_text("utf-8").replace("boxes: 3", "boxes: 0"), "utf-8")
    files = written(tmp_path / "none")
    assert sorted(files) == sorted([*FILES, "plan-2026-11-15.json"])
    read = Reader(files["plan.html"])
    assert "No female is paired." in read.text and "No pairs, no dates." in read.text
    ids = [attributes["id"] for tag, attributes in read.tags if tag == "h2"]
    assert ids == [id_ for id_, _ in SECTIONS if id_ != "first"]
