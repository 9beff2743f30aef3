"""YAML changed by spans: the value is the one meant, every other byte and comment stays."""

from __future__ import annotations

import re

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from brumal.records.yaml_edit import NotByHandError, comments_of, with_list, with_value
from brumal.records.yaml_text import read_yaml

TEXT = """# head
season: {name: 'A # b', pair_from: 2026-12-01}   # flow
limits:
  boxes: 9                # the tightest
  tubs: 60

  # between
locks:
  must_pair:
    - [F1, M1]            # promised
    - [F2, M2]
  sit_out: [F3, "F 4"]    # rest
  never_pair:
empty: {}
values:
  wanted:
    - morph: Pastel       # two buyers
      value: {female: 430, male: 340}
    - {morph: Clown, value: 220}
# foot
"""


def data(text: str) -> object:
    read, faults = read_yaml(text, "x")
    assert read is not None, faults
    return read.data


@pytest.mark.parametrize(
    ("path", "value", "old", "new"),
    [
        (("limits", "boxes"), 12, "boxes: 9   ", "boxes: 12   "),
        (("limits", "max_F"), 0.03, "  tubs: 60\n", "  tubs: 60\n  max_F: 0.03\n"),
        (("season", "pair_to"), "x", "12-01}", "12-01, pair_to: x}"),
        (("empty", "a", "b"), 1, "{}", "{a: {b: 1}}"),
        (("locks", "never_pair"), [["F1", "M2"]], "never_pair:\n", "never_pair: [[F1, M2]]\n"),
        (("values", "wanted", 0, "value", "male"), 300, "male: 340", "male: 300"),
        (("values", "wanted", 1, "need"), 2, "value: 220}", "value: 220, need: 2}"),
        (
            ("values", "wanted", 0, "need"),
            2,
            "male: 340}\n",
            "male: 340}\n      need: 2\n",
        ),
        (("costs", "egg"), 2, "value: 220}\n", "value: 220}\ncosts: {egg: 2}\n"),
    ],
)
def test_one_value_changes_and_nothing_else(
    path: tuple[str | int, ...], value: object, old: str, new: str
) -> None:
    assert with_value(TEXT, path, value) == TEXT.replace(old, new, 1)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_stay(end: str) -> None:
    text = TEXT.replace("\n", end)
    after = with_value(text, ("limits", "max_F"), 0.03)
    assert after == text.replace(f"tubs: 60{end}", f"tubs: 60{end}  max_F: 0.03{end}")


def test_entries_come_and_go_one_by_one() -> None:
    must = [["F1", "M1"], ["F2", "M2"]]
    after = with_list(TEXT, ("locks", "must_pair"), must, [["F2", "M2"], ["F5", "M1"]])
    assert after == TEXT.replace(
        "    - [F1, M1]            # promised\n", "    # promised\n"
    ).replace("    - [F2, M2]\n", "    - [F2, M2]\n    - [F5, M1]\n")
    after = with_list(TEXT, ("locks", "sit_out"), ["F3", "F 4"], ["F 4", "F9"])
    assert after == TEXT.replace('[F3, "F 4"]', '["F 4", F9]')
    for new in ([], [["F9", "M1"]]):
        after = with_list(TEXT, ("locks", "must_pair"), must, new)
        assert comments_of(after) == comments_of(TEXT)
        assert data(after)["locks"]["must_pair"] == new  # type: ignore[index]


def test_what_cannot_be_changed_safely_is_said() -> None:
    text = "locks: {sit_out: [F1,  # first\n  F2]}\n"
    with pytest.raises(NotByHandError, match="comments inside"):
        with_list(text, ("locks", "sit_out"), ["F1", "F2"], ["F1"])
    with pytest.raises(NotByHandError, match="not written as a list"):
        with_list(text, ("locks", "sit_out"), ["F1"], [])


NAMES = st.sampled_from(("a", "b", "c"))
PLAIN = st.one_of(st.integers(0, 99), st.text("xyz#:-,'\" ", min_size=1, max_size=6))


@st.composite
def written(draw: st.DrawFn) -> str:
    """Draw a text of groups in both styles, with comments wherever one may stand."""
    lines, number = [], 0

    def comment() -> str:
        nonlocal number
        number += 1
        return draw(st.sampled_from(("", f"  # note {number} '\"{{")))

    for group in draw(st.lists(NAMES, unique=True, min_size=1)):
        keys = draw(st.dictionaries(NAMES, PLAIN, min_size=1))
        if draw(st.booleans()):
            flow = yaml.safe_dump(keys, default_flow_style=True, width=999).strip()
            lines.append(f"{group}: {flow}{comment()}")
            continue
        lines.append(f"{group}:{comment()}")
        for key, value in keys.items():
            lines.append(f"  {key}: {yaml.safe_dump(value).splitlines()[0]}{comment()}")
        lines.append(draw(st.sampled_from(("", "  # alone", "# outside"))))
    return "\n".join(lines) + draw(st.sampled_from(("", "\n", "\n\n")))


@given(written(), NAMES, NAMES, PLAIN)
def test_any_value_at_any_key_keeps_all_comments(
    text: str, group: str, key: str, value: object
) -> None:
    after = with_value(text, (group, key), value)
    meant = data(text)
    assert isinstance(meant, dict)
    meant.setdefault(group, {})[key] = str(value)
    assert data(after) == meant
    assert comments_of(after) == comments_of(text)
    # Notes bear numbers: what was taken out or doubled would show without any parser.
    assert re.findall(r"# note \d+", after) == re.findall(r"# note \d+", text)
