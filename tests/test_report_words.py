"""Money as sure as its spread; control characters shown; names of the other direction set apart."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import escape

from brumal.cli import main
from brumal.records.plain_values import sure_money
from brumal.report.bidi import isolator
from brumal.report.page import render
from brumal.report.words import counted, difference, estimate, visible
from season_outputs import EMOJI, HEBREW, SEASON_NAME, TURNED, hostile_season


def test_control_characters_are_shown() -> None:
    assert visible("a\x07b\x1b[31m") == "a\u2407b\u241b[31m"
    assert visible("a\tb\nc\r\nd") == "a b c  d"
    assert visible("a\nb", kept="\n") == "a\nb"
    assert visible(TURNED) == "\ufffdturned\ufffd"
    assert visible(HEBREW) == HEBREW and visible(EMOJI) == EMOJI


@given(st.text())
def test_nothing_that_acts_is_left(text: str) -> None:
    shown = visible(text)
    assert len(shown) == len(text)
    acting = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
    assert not [c for c in shown if unicodedata.category(c) == "Cc"]
    assert not [c for c in shown if unicodedata.bidirectional(c) in acting]


def test_a_name_of_the_other_direction_is_set_apart() -> None:
    told = isolator([HEBREW, f"{HEBREW} (F1)", "Frost"])
    assert told(f"<{HEBREW} (F1)> and {HEBREW} weighs 5 g") == (
        f"&lt;<bdi>{HEBREW} (F1)</bdi>&gt; and <bdi>{HEBREW}</bdi> weighs 5 g"
    )


@given(
    st.text(alphabet="ab<&\u05d0\u05d1\x07", max_size=8),
    st.text(alphabet="ab<\u05d0 ", max_size=30),
)
def test_setting_apart_changes_no_letter(name: str, text: str) -> None:
    told = isolator([name])(text)
    assert told.replace("<bdi>", "").replace("</bdi>", "") == escape(visible(text))


def test_every_page_shows_control_characters() -> None:
    """The shell of all pages does it, whatever a report forgets."""
    page = render(
        "cards.html", plan=type("P", (), {"season": "a\x07b\u202e"}), told=str, cards=[], long=1
    )
    assert "a\u2407b\ufffd: cage cards" in page and "\x07" not in page


def test_no_control_character_reaches_the_terminal(
    tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, out = tmp_path_factory.mktemp("season"), tmp_path_factory.mktemp("out")
    main(["plan", str(hostile_season(folder)), "--out", str(out)])
    printed = capsys.readouterr()
    assert SEASON_NAME in printed.out
    for text in (printed.out, printed.err):
        assert "\x1b" not in text and "\x07" not in text and "\u202e" not in text
    assert "\u241b[31mred\u2407" in printed.out


@pytest.mark.parametrize(
    ("amount", "spread", "told"),
    [
        (20_792.70, 5_000.0, "20,800 EUR"),
        (755.25, 382.0, "760 EUR"),
        (1_615.73, 714.0, "1,620 EUR"),
        (34.51, 0.0, "35 EUR"),
        (8_883.26, 0.0, "8,880 EUR"),
        (-346.10, 0.0, "-346 EUR"),
        (7.5, 0.0, "7.50 EUR"),
        (0.0, 0.0, "0.00 EUR"),
        (3.0, 900.0, "0 EUR"),
        (120_480.0, 31_000.0, "120,000 EUR"),
    ],
)
def test_money_is_as_sure_as_its_spread(amount: float, spread: float, told: str) -> None:
    assert estimate(amount, "EUR", spread) == told


@given(st.floats(-1e6, 1e6), st.floats(0, 1e5))
def test_rounding_moves_money_by_less_than_a_twentieth_of_its_spread(
    amount: float, spread: float
) -> None:
    told = float(sure_money(amount, spread).replace(",", ""))
    largest = max(spread / 20, abs(amount) / 200 if spread == 0 else 0.0, 0.5)
    assert abs(told - amount) <= largest + 1e-9
    above = float(sure_money(amount, spread, up=True).replace(",", ""))
    assert above >= amount - 0.005


def test_differences_and_counts_in_words() -> None:
    assert [difference(each) for each in (34.51, -1_234.0, 0.001, 6.25)] == [
        "+35",
        "-1,230",
        "0",
        "+6.25",
    ]
    assert [counted(1, "pair"), counted(0, "pair"), counted(2, "egg is", "eggs are")] == [
        "1 pair",
        "0 pairs",
        "2 eggs are",
    ]
