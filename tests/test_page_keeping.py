"""Trials laid aside and marks kept in the season: shown first, nothing of the keeper's lost."""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from brumal.page.desk import lay
from brumal.page.ink import Inking, inking, may_be_inked, write_ink
from brumal.page.pencil import Kind, Mark, made
from brumal.page.trials import lay_aside
from brumal.records.faults import InputError
from brumal.records.folder import SeasonRecords
from brumal.records.overlays import overlays_of
from brumal.records.read import read_season
from brumal.records.variant import variant_of
from season_outputs import DEMO
from test_page_server import Browser, by_command

DAMS, SIRES = ("F05", "F12", "F16"), ("M01", "M03")
MARKS = st.one_of(
    st.builds(
        Mark,
        st.sampled_from((Kind.WITH, Kind.APART, Kind.LIFT)),
        st.tuples(st.sampled_from(DAMS), st.sampled_from(SIRES)),
    ),
    st.builds(Mark, st.sampled_from((Kind.REST, Kind.FREE)), st.tuples(st.sampled_from(DAMS))),
    st.builds(
        Mark,
        st.just(Kind.SET),
        st.sampled_from(
            (
                ("limits", "boxes"),
                ("limits", "resting"),
                ("values", "base"),
                ("values", "wanted", "Pastel Clown", "value"),
                ("values", "wanted", "Piebald", "need"),
                ("values", "extra", "het", "Clown"),
                ("costs", "pairing"),
                ("checks", "weigh_every_days"),
            )
        ),
        st.sampled_from(("+1", "7", "-10%", "12")),
    ),
)


def records_of(folder: Path) -> SeasonRecords:
    records, faults = read_season(folder)
    assert records is not None, faults
    return records


def copy_of(folder: Path, into: Path, locks: str = "") -> Path:
    made_copy = Path(shutil.copytree(folder, into))
    with (made_copy / "season.yaml").open("a", encoding="utf-8") as file:
        file.write(locks)
    return made_copy


def ink_of(folder: Path, marks: tuple[Mark, ...]) -> Inking:
    records = records_of(folder)
    under = lay(records, [mark for mark in marks if may_be_inked(mark)]).records
    assert under is not None
    return inking(folder, records, marks, under.settings, None)


LOCKS = """
locks:
  must_pair:              # 900: mine
    - [F05, M01]          # 901: promised
  # 902: between
  sit_out: [Yarrow]       # 903: by name
  never_pair:
    - [F12, M01]
    - [F12, M03]  # 904: they fought
"""


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(MARKS, min_size=1, max_size=6), st.booleans())
@example([Mark(Kind.WITH, ("F12", "M01")), Mark(Kind.WITH, ("F05", "M01"))], True)
def test_inking_makes_exactly_the_settings_meant_and_keeps_all_else(
    tmp_path_factory: pytest.TempPathFactory, marks: list[Mark], with_locks: bool
) -> None:
    folder = copy_of(DEMO, tmp_path_factory.mktemp("ink") / "demo", LOCKS if with_locks else "")
    records = records_of(folder)
    standing: tuple[Mark, ...] = ()
    for mark in marks:
        later = made(standing, mark, records.settings.locks)
        standing = later if lay(records, later).records else standing
    meant = lay(records, standing).records
    assert meant is not None
    before = (folder / "season.yaml").read_text(encoding="utf-8")
    ink = ink_of(folder, standing)
    assert (folder / "season.yaml").read_text(encoding="utf-8") == before
    kept = write_ink(folder, ink)
    after = (folder / "season.yaml").read_text(encoding="utf-8")
    assert records_of(folder).settings == meant.settings
    assert (folder / kept).read_text(encoding="utf-8") == before
    # Comments counted without any parser: in the demo no `#` stands inside a text.
    assert re.findall(r"#.*", after) == re.findall(r"#.*", before)
    others = [path.name for path in DEMO.iterdir() if path.is_file() and path.stem != "season"]
    assert all((folder / name).read_bytes() == (DEMO / name).read_bytes() for name in others)


def test_what_is_on_disk_wins_over_what_was_shown(tmp_path: Path) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    ink = ink_of(folder, (Mark(Kind.REST, ("F05",)),))
    edited = ink.before + b"# mine, meanwhile\n"
    (folder / "season.yaml").write_bytes(edited)
    with pytest.raises(InputError) as told:
        write_ink(folder, ink)
    assert "another text" in str(told.value.faults[0])
    assert (folder / "season.yaml").read_bytes() == edited
    assert not list(folder.glob("*.before*"))


def test_older_versions_are_never_written_over(tmp_path: Path) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    texts = []
    for boxes in ("10", "11", "12"):
        texts.append((folder / "season.yaml").read_bytes())
        write_ink(folder, ink_of(folder, (Mark(Kind.SET, ("limits", "boxes"), boxes),)))
    kept = sorted(folder.glob("season.yaml.before*"))
    assert [path.read_bytes() for path in kept] == texts


def test_writing_that_fails_leaves_the_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    ink = ink_of(folder, (Mark(Kind.REST, ("F05",)),))
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    moves = 0
    real = Path.replace

    def fails(self: Path, target: Path) -> Path:
        nonlocal moves
        moves += 1
        if moves == 2:
            raise OSError("the disk is full")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", fails)
    with pytest.raises(InputError):
        write_ink(folder, ink)
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == before


@pytest.mark.parametrize("end", [b"\r\n", b"\n"])
@pytest.mark.parametrize("mark", [b"\xef\xbb\xbf", b""])
def test_line_ends_and_encoding_stay(tmp_path: Path, end: bytes, mark: bytes) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    path = folder / "season.yaml"
    path.write_bytes(mark + path.read_bytes().replace(b"\n", end))
    ink = ink_of(folder, (Mark(Kind.SET, ("limits", "resting"), "3"),))
    assert ink.after.startswith(mark + b"#")
    assert ink.after.count(b"\n") == ink.before.count(b"\n") + 1
    assert ink.after.count(b"\r\n") == ink.after.count(b"\n") * (end == b"\r\n")


def test_animals_and_weights_are_never_inked(tmp_path: Path) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    marks = (
        Mark(Kind.SET, ("animals", "F05", "weight_g"), "+200"),
        Mark(Kind.ANIMAL, ("X1",), "", (("sex", "male"), ("morph", "Clown"))),
    )
    ink = ink_of(folder, marks)
    assert ink.after == ink.before and ink.left == marks and not ink.lines


def test_a_trial_is_laid_aside_as_a_what_if_that_means_the_same(tmp_path: Path) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    records = records_of(folder)
    marks = (
        Mark(Kind.REST, ("F05",)),
        Mark(Kind.SET, ("limits", "boxes"), "+2"),
        Mark(Kind.SET, ("values", "wanted", "Clown", "value"), "-30%"),
    )
    on = records.as_of
    assert on is not None
    path = lay_aside(folder, records, marks, "two more boxes", 'a "note": #1', on)
    assert path == folder / "what-if" / "two more boxes.yaml"
    again = records_of(folder)
    variant = variant_of(again, overlays_of(again), ["two more boxes"])
    meant = lay(records, marks).records
    assert meant is not None and variant.records is not None, variant.faults
    assert variant.records.settings == meant.settings
    assert variant.note == 'a "note": #1'
    before = path.read_bytes()
    with pytest.raises(InputError) as told:
        lay_aside(folder, again, marks, "Two More Boxes", "", on)
    assert "no what-if has yet" in str(told.value.faults[0])
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        "../out",
        "a/b",
        "a\\b",
        "/etc/x",
        "base",
        "NUL",
        "com1",
        " a",
        "a\n",
        "x" * 61,
    ],
)
def test_a_name_that_is_no_plain_name_is_refused(tmp_path: Path, name: str) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    records = records_of(folder)
    before = sorted(path for path in tmp_path.rglob("*"))
    assert records.as_of is not None
    with pytest.raises(InputError):
        lay_aside(folder, records, (Mark(Kind.REST, ("F05",)),), name, "", records.as_of)
    assert sorted(path for path in tmp_path.rglob("*")) == before


@pytest.mark.skipif(os.name != "posix", reason="links to folders are a matter of rights elsewhere")
def test_a_what_if_folder_that_leads_elsewhere_is_not_followed(tmp_path: Path) -> None:
    folder = copy_of(DEMO, tmp_path / "demo")
    shutil.rmtree(folder / "what-if")
    (tmp_path / "elsewhere").mkdir()
    (folder / "what-if").symlink_to(tmp_path / "elsewhere")
    records = records_of(folder)
    assert records.as_of is not None
    with pytest.raises(InputError):
        lay_aside(folder, records, (Mark(Kind.REST, ("F05",)),), "new", "", records.as_of)
    assert not list((tmp_path / "elsewhere").iterdir())


def test_a_winter_on_the_page(tmp_path: Path) -> None:
    """Pencil, lay aside, set side by side, look at the ink, edit meanwhile, ink, and plan again."""
    folder = Path(shutil.copytree(DEMO.parent / "small", tmp_path / "small"))
    with Browser(folder) as browser:
        browser.hand("F3", "rest")
        browser.post("/pencil", kind="set", path='["limits", "boxes"]', value="+1")
        browser.settle()
        browser.post("/aside", name="rest F3", note="she laid small")
        assert (folder / "what-if" / "rest F3.yaml").is_file()
        assert "Laid aside as" in browser.client.get("/").text

        browser.until(
            lambda: browser.desk.shown.is_final and browser.desk.unmarked.solved is not None
        )
        browser.client.get("/beside")
        browser.until(lambda: browser.desk.beside.answer or browser.desk.beside.faults)
        page = browser.client.get("/beside").text
        assert "as pencilled now" in page and "rest F3" in page and "she laid small" in page
        assert "Females that differ" in page and "Pairs that stand in most" in page

        page = browser.client.get("/ink").text
        digest = re.search(r'name="digest" value="(\w+)"', page)
        assert digest is not None and "<ins>" in page
        season = folder / "season.yaml"
        season.write_text(season.read_text(encoding="utf-8") + "# meanwhile\n", encoding="utf-8")
        headers = {"origin": "http://127.0.0.1:8620"}
        answer = browser.client.post("/ink", data={"digest": digest[1]}, headers=headers)
        assert "changed since this was shown" in answer.text
        digest = re.search(r'name="digest" value="(\w+)"', answer.text)
        assert digest is not None
        ours = browser.plan()
        answer = browser.client.post("/ink", data={"digest": digest[1]}, headers=headers)
        assert "Kept in season.yaml" in answer.text
        assert "# meanwhile" in season.read_text(encoding="utf-8")
        assert not browser.desk.marks
        after = browser.plan()
        assert after == by_command(folder, tmp_path / "plan")
        # The plan in pencil was the plan in ink, but for the fingerprint of the file.
        fingerprint = re.compile(rb'"season.yaml": "\w{64}"')
        assert fingerprint.sub(b"", ours) == fingerprint.sub(b"", after)
