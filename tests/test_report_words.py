"""Control characters shown, and names of the other writing direction set apart."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import escape

from brumal.cli import main
from brumal.report.bidi import isolator
from brumal.report.page import render
from brumal.report.words import visible
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
