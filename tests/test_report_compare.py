"""The forms of a comparison: data, tables, page and terminal, with hostile names in them."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from rich.console import Console

from brumal.cli import main
from brumal.insight.compare.comparison import Comparison, Request, compare
from brumal.insight.compare.differences import differences
from brumal.insight.compare.parallel import Bench
from brumal.insight.compare.sweeps import Step, Sweep
from brumal.pipeline import prepare
from brumal.planner.solver.answer import EXACT, Verdict
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.proof import Proof
from brumal.records.last_plan import read_last_plan
from brumal.records.sweep_range import SweepAxis, axis_of_text
from brumal.report.compare import words
from brumal.report.compare.files import compare_csv, compare_json, decisions_csv, sweep_csv
from brumal.report.compare.page import compare_page
from brumal.report.compare.pictures import bars_picture, curve_picture
from brumal.report.compare.terminal import print_comparison
from brumal.report.plan.files import plan_json
from solved_seasons import best_plan
from what_if_seasons import put, season, write_season

TEXTS = {
    "boxes": "option: true\npaid: 120\nnote: A second shelf.\nlimits: {boxes: 3}",
    "buy": "option: true\nanimals:\n  M9: {sex: male, morph: Super Mojave Clown, "
    "hatched: 2020-07-01, weight_g: 900, weighed: 2026-11-15, condition: 3, "
    "arrived: 2026-08-20, paid: 100}\n",
    "wrong": "limits: {boxs: 3}",
    "clash": "locks: {must_pair: [[F4, M1]]}",
    "sit": "extends: boxes\nlocks: {sit_out: [F1]}",
    "room": "sweep: {limits.boxes: {from: 0, to: 4}}",
    "grid": "sweep: {limits.boxes: [1, 2], limits.tubs: [5, 9]}",
}


@pytest.fixture(scope="module")
def comparison(tmp_path_factory: pytest.TempPathFactory) -> Comparison:
    records = season(tmp_path_factory.mktemp("now"), TEXTS)
    then = write_season(tmp_path_factory.mktemp("then"), {})
    put(then / "season.yaml", "boxes: 2", "boxes: 3")
    put(then / "animals.csv", "1450", "1550")
    (then / "plan.json").write_text(plan_json(best_plan(prepare(then))), encoding="utf-8")
    request = Request(
        names=tuple(TEXTS), options=("boxes", "buy"), last=read_last_plan(then / "plan.json")
    )
    return compare(Bench(base=records, options=EXACT, workers=1), request)


def test_the_json_holds_what_is_promised(comparison: Comparison) -> None:
    content = json.loads(compare_json(comparison))
    assert content["version"] == 1
    by_name = {each["name"]: each for each in content["scenarios"]}
    assert list(by_name) == ["base", "boxes", "buy", "wrong", "clash", "sit"]
    for each in by_name.values():
        assert {"name", "verdict", "objective", "pairs", "resting", "changes"} <= set(each)
    assert by_name["wrong"]["verdict"] == "faults"
    assert by_name["wrong"]["objective"] is None
    assert len(by_name["wrong"]["faults"]) == 1
    assert by_name["clash"]["verdict"] == "impossible"
    assert by_name["clash"]["clashes"]
    boxes = by_name["boxes"]
    assert boxes["changes"] == [
        {"key": "limits.boxes", "old": "2", "new": "3", "by": "boxes"},
    ]
    assert boxes["net"] == pytest.approx(boxes["objective"] - 120)
    assert sum(boxes["money"].values()) == pytest.approx(boxes["objective"], abs=1e-4)
    assert boxes["spread"]["p10"] <= boxes["spread"]["p50"] <= boxes["spread"]["p90"]
    assert [each["by"] for each in by_name["sit"]["changes"]] == ["boxes", "sit"]
    assert by_name["buy"]["earnings"][0]["id"] == "M9"
    assert [sweep["name"] for sweep in content["sweeps"]] == ["room", "grid"]
    assert len(content["decisions"]["sets"]) == 4
    assert content["since_last"]["untold"] == ["animals.csv"]


def test_pairs_are_written_as_in_plan_json(comparison: Comparison, tmp_path: Path) -> None:
    content = json.loads(compare_json(comparison))
    plan = json.loads(plan_json(best_plan(prepare(write_season(tmp_path, {})))))
    for key in ("pairs", "resting", "males", "targets", "money", "room"):
        assert content["scenarios"][0][key] == plan[key]


def test_every_key_of_the_json_is_documented(comparison: Comparison) -> None:
    docs = (Path(__file__).parent.parent / "docs" / "what-if.md").read_text(encoding="utf-8")

    def keys(node: object, inside: str = "") -> set[str]:
        if isinstance(node, list):
            return set().union(*(keys(each, inside) for each in node)) if node else set()
        if not isinstance(node, dict) or inside in ("fingerprints", "pairs", "resting", "males"):
            return set()
        skipped = {"targets", "money", "room", "offers", "clashes"}
        return set(node) | set().union(
            *(keys(value, key) for key, value in node.items() if key not in skipped)
        )

    undocumented = [
        key for key in keys(json.loads(compare_json(comparison))) if f"`{key}`" not in docs
    ]
    assert undocumented == []


def test_the_table_has_a_column_a_scenario_and_a_row_a_female(comparison: Comparison) -> None:
    rows = list(csv.reader(io.StringIO(compare_csv(comparison))))
    head = rows[0]
    assert head == ["what", "id", "name", "base", "boxes", "buy", "wrong", "clash", "sit"]
    assert {len(row) for row in rows} == {len(head)}
    females = {row[1]: dict(zip(head[3:], row[3:], strict=True)) for row in rows if row[1]}
    assert females["F1"]["sit"] == "rests: lock"
    assert females["F1"]["wrong"] == "no plan"
    nets = next(row for row in rows if row[0] == "net")
    assert nets[3] == f"{comparison.columns[0].net:.2f}"
    assert nets[6] == ""


def test_sweeps_and_decisions_have_tables_of_their_own(comparison: Comparison) -> None:
    rows = list(csv.reader(io.StringIO(sweep_csv(comparison.sweeps))))
    assert len(rows) == 1 + 5 + 4
    assert rows[1][:3] == ["room", "limits.boxes", "0"]
    assert rows[6][:5] == ["grid", "limits.boxes", "1", "limits.tubs", "5"]
    assert sum("bend" in row[-1] for row in rows) == 1
    assert comparison.decisions is not None
    sheet = list(csv.reader(io.StringIO(decisions_csv(comparison.decisions))))
    assert sheet[0][:3] == ["rank", "boxes", "buy"]
    assert [row[0] for row in sheet[1:]] == ["1", "2", "3", "4"]


class _Tags(HTMLParser):
    """Open tags of a page, each with its attributes; asserts that all are closed."""

    EMPTY = ("meta", "br", "path", "rect", "circle", "link", "hr")

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.EMPTY:
            assert self.open.pop() == tag


def test_the_page_is_whole_quiet_and_has_its_pictures(comparison: Comparison) -> None:
    page = compare_page(comparison)
    tags = _Tags()
    tags.feed(page)
    assert tags.open == []
    names = [tag for tag, _ in tags.found]
    assert "script" not in names
    assert not re.search(r"(src|href)=\"(?!#)", page)
    pictures = re.findall(r"<svg.*?</svg>", page, re.S)
    assert len(pictures) == 2
    for drawn in pictures:
        root = Xml.fromstring(drawn)
        assert root.find("{http://www.w3.org/2000/svg}title") is not None
        assert root.find("{http://www.w3.org/2000/svg}desc") is not None
    for column in comparison.columns:
        assert f"<h3>{column.name}</h3>" in page
    assert "<strong>≠ " in page


def test_a_difference_is_never_told_by_colour_alone(comparison: Comparison) -> None:
    curve = next(sweep for sweep in comparison.sweeps if sweep.name == "room")
    drawn = str(curve_picture(curve, "EUR"))
    assert "bend at" in drawn
    assert "now 2" in drawn
    bars = str(bars_picture(comparison.columns, "EUR"))
    for column in comparison.columns:
        if column.net is not None:
            assert f">{column.net:,.0f}<" in bars


def _printed(comparison: Comparison) -> str:
    screen = Console(file=io.StringIO(), width=80, force_terminal=False)
    print_comparison(comparison, screen)
    assert isinstance(screen.file, io.StringIO)
    return screen.file.getvalue()


def test_the_terminal_keeps_to_80_columns(comparison: Comparison) -> None:
    text = _printed(comparison)
    assert max(map(len, text.splitlines())) <= 80
    for said in (
        "Since the earlier plan",
        "A second shelf.",
        "limits.boxes: 2 -> 3",
        "impossible",
        "an unknown key 'boxs'",
        "Best set:",
        "No pair stands in every plan",
        "Sweep room",
    ):
        assert said in text


HOSTILE = "=HYPERLINK(1)<script>alert(1)</script>"


def test_hostile_names_come_out_inert(comparison: Comparison) -> None:
    column = replace(comparison.columns[1], name=HOSTILE, note=HOSTILE)
    names = dict.fromkeys(comparison.names, HOSTILE)
    hostile = replace(comparison, columns=(column,), season=HOSTILE, names=names)
    page = compare_page(hostile)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "<script" not in str(bars_picture(hostile.columns, "EUR"))
    for row in csv.reader(io.StringIO(compare_csv(hostile))):
        assert not any(cell.startswith("=") for cell in row)
    assert json.loads(compare_json(hostile))["scenarios"][0]["note"] == HOSTILE


def _swept(*net: float | None) -> Sweep:
    steps = tuple(
        Step(at=(str(n),), verdict="proven" if each is not None else "impossible", net=each)
        for n, each in enumerate(net)
    )
    axis = SweepAxis(key="limits.boxes", path=("limits", "boxes"), steps=())
    return Sweep(name="s", axes=(axis,), steps=steps, base=(None,))


def test_curves_that_cannot_be_drawn() -> None:
    assert curve_picture(_swept(5.0), "EUR") is None
    assert curve_picture(_swept(None, None, 3.0), "EUR") is None
    assert curve_picture(_swept(3.0, 3.0), "EUR") is not None
    assert curve_picture(_swept(None, -3.0, 1e7), "EUR") is not None


def test_the_command_writes_its_files_and_tells_by_its_exit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write_season(tmp_path / "season", TEXTS)
    out = tmp_path / "out"
    asked = ["compare", str(folder), "boxes", "--workers", "1", "--out", str(out)]
    assert main([*asked, "--sweep", "limits.boxes=1:3", "--decide", "boxes", "buy"]) == 0
    assert sorted(path.name for path in out.iterdir() if not path.name.startswith(".")) == [
        "compare.csv",
        "compare.html",
        "compare.json",
        "decisions.csv",
        "sweeps.csv",
    ]
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    assert main([*asked, "--sweep", "limits.boxes=1:3", "--decide", "boxes", "buy"]) == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert main(["compare", str(folder), "boxes", "wrong", "--workers", "1", *asked[-2:]]) == 1
    names = [each["name"] for each in json.loads((out / "compare.json").read_text())["scenarios"]]
    assert names == ["base", "boxes", "wrong"]
    assert main(["compare", str(folder), "clash", "--no-base", "--workers", "1", *asked[-2:]]) == 2
    capsys.readouterr()


def test_a_solve_stopped_early_is_marked_everywhere(
    tmp_path: Path, comparison: Comparison, capsys: pytest.CaptureFixture[str]
) -> None:
    planned = comparison.columns[0].planned
    assert planned is not None
    assert planned.plan.objective is not None
    early = replace(
        planned.plan, verdict=Verdict.STOPPED, bound=planned.plan.objective + 12.5, gap=0.05
    )
    base = replace(comparison.columns[0], planned=replace(planned, plan=early))
    stopped = replace(comparison, columns=(base, *comparison.columns[1:]), since=None)
    (first, *_) = json.loads(compare_json(stopped))["scenarios"]
    assert (first["verdict"], first["gap"]) == ("stopped", 0.05)
    rows = {row[0]: row[3] for row in csv.reader(io.StringIO(compare_csv(stopped)))}
    assert rows["verdict"] == "stopped"
    assert float(rows["bound"]) == pytest.approx(float(rows["objective"]) + 12.5)
    page, screen = compare_page(stopped), _printed(stopped)
    for text in (" ".join(page.split()), " ".join(screen.split())):
        assert "Stopped before the proof: base." in text
        assert "not proven best (the best may bring up to 13 more)" in text
    assert re.search(r"^base +[\d.,]+ \*", screen, re.MULTILINE)


def test_a_time_limit_that_ends_a_solve_is_told_by_the_exit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_season(tmp_path / "season", {"boxes": "limits: {boxes: 3}"})
    monkeypatch.setattr(Clock, "is_over", lambda *_: True)
    monkeypatch.setattr(Proof, "agrees", lambda *_: False)
    asked = ["compare", str(folder), "--workers", "1", "--out", str(tmp_path / "out")]
    assert main([*asked, "--time-limit", "1"]) == 3
    told = capsys.readouterr().out
    assert "Stopped before the proof: base, boxes." in " ".join(told.split())
    found = json.loads((tmp_path / "out" / "compare.json").read_text(encoding="utf-8"))
    assert [each["verdict"] for each in found["scenarios"]] == ["stopped", "stopped"]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"What if"', '"Another"', "is of another season: Another, 2026-12-01 to 2027-03-31;"),
        (
            '"2026-12-01"|"2027-03-31"',
            '"2025-12-31"',
            "is of another season: What if, 2025-12-31 to 2025-12-31;",
        ),
        (r'"([FM])(\d)"', r'"\1X\2"', "None of its animals is in today's tables"),
    ],
)
def test_the_plan_of_another_season_is_said_to_be_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, told: str
) -> None:
    folder = write_season(tmp_path / "season", {})
    text, count = re.subn(old, new, plan_json(best_plan(prepare(folder))))
    assert count
    (tmp_path / "plan.json").write_text(text, encoding="utf-8")
    asked = ["compare", str(folder), "--last", str(tmp_path / "plan.json"), "--workers", "1"]
    assert main([*asked, "--out", str(tmp_path / "out")]) == 0
    assert told in " ".join(capsys.readouterr().out.split())
    page = unescape((tmp_path / "out" / "compare.html").read_text(encoding="utf-8"))
    assert told in " ".join(re.sub("<[^>]*>", "", page).split())


def test_a_plan_of_another_form_or_program_is_said_to_be_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write_season(tmp_path / "season", {})
    content = json.loads(plan_json(best_plan(prepare(folder))))
    asked = ["compare", str(folder), "--last", str(tmp_path / "plan.json"), "--workers", "1"]
    asked += ["--out", str(tmp_path / "out")]
    content["inputs"]["versions"]["brumal"] = "0.0.1"
    (tmp_path / "plan.json").write_text(json.dumps(content), encoding="utf-8")
    assert main(asked) == 0
    assert "The earlier plan was made by brumal 0.0.1" in capsys.readouterr().out
    content["version"] = 99
    (tmp_path / "plan.json").write_text(json.dumps(content), encoding="utf-8")
    assert main(asked) == 1
    assert "found a plan.json of version 99" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (("--sweep", "limits.boxes"), "--sweep, limits.boxes: found 'limits.boxes'"),
        (("--sweep", "a.b=1:2", "--sweep", "c.d=1:2", "--sweep", "e.f=1:2"), "found 3 keys"),
        (("--last", "no-such.json"), "no-such.json: found a file that cannot be read"),
        (("--decide",), "--decide: found no scenario marked as an option"),
        (("--decide", "boxs"), "--decide: found no scenario 'boxs'"),
        (("boxs",), "what-if: found no scenario 'boxs'"),
        (("boxes", "--sweep", "limits.boxs=1:3"), "an unknown key 'boxs'"),
    ],
)
def test_a_wrong_request_is_a_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], asked: tuple[str, ...], told: str
) -> None:
    folder = write_season(tmp_path / "season", {"boxes": "limits: {boxes: 3}"})
    names, options = asked[:1], asked[1:]
    out = tmp_path / "out"
    if asked[0].startswith("--"):
        names, options = (), asked
    asked = (str(folder), *names, "--workers", "1", "--out", str(out), *options)
    assert main(["compare", *asked]) == 1
    assert not out.exists()
    assert told in capsys.readouterr().err.replace("\n", " ").replace("  ", " ")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "something that is not JSON"),
        ("[]", "something else"),
        (
            '{"verdict": "impossible", "objective": null, "pairs": [], "resting": [], "males": [], '
            '"inputs": {"fingerprints": {}, "settings": {}, "versions": {}}}',
            "without a plan",
        ),
    ],
)
def test_an_earlier_plan_that_is_none_is_a_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, told: str
) -> None:
    folder = write_season(tmp_path / "season", {})
    (tmp_path / "plan.json").write_text(text, encoding="utf-8")
    assert main(["compare", str(folder), "--last", str(tmp_path / "plan.json")]) == 1
    assert told in capsys.readouterr().err


def test_a_season_without_what_ifs_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write_season(tmp_path / "season", {})
    assert main(["compare", str(folder)]) == 1
    assert "what-if: found no scenario" in capsys.readouterr().err


def test_an_axis_of_text_names_its_key() -> None:
    axis, _ = axis_of_text("values.wanted.Pastel Clown.value=1:2")
    assert axis is not None
    assert axis.path == ("values", "wanted", "Pastel Clown", "value")


def test_without_the_base_the_first_scenario_stands_in_its_place(comparison: Comparison) -> None:
    columns = tuple(each for each in comparison.columns if each.name in ("boxes", "buy"))
    told = replace(comparison, columns=columns, differences=differences(columns), since=None)
    for text in (_printed(told), compare_page(told)):
        assert re.search("against boxes", text, re.IGNORECASE)
        assert "the base:" not in text


def test_values_with_bad_seasons_taken_off_say_so(tmp_path: Path) -> None:
    careful = {"careful": "risk: {weight: 0.5, seasons: 50}"}
    folder = write_season(tmp_path / "season", careful)
    assert main(["compare", str(folder), "--workers", "1", "--out", str(tmp_path / "out")]) == 0
    page = (tmp_path / "out" / "compare.html").read_text(encoding="utf-8")
    assert "careful: what bad seasons take off is in its value." in page
    assert "base: what bad seasons" not in page


def test_a_bought_male_in_quarantine_says_why_he_earns_nothing(tmp_path: Path) -> None:
    texts = {
        "fresh": TEXTS["buy"].replace("2026-08-20", "2027-01-20"),
        "plain": TEXTS["buy"].replace("Super Mojave Clown", "Normal"),
    }
    found = compare(Bench(base=season(tmp_path, texts), options=EXACT, workers=1), Request())
    screen = Console(file=io.StringIO(), width=400)
    print_comparison(found, screen)
    printed = screen.file.getvalue()  # type: ignore[attr-defined]
    page = re.sub(r"<[^>]*>", "", unescape(compare_page(found)))
    reason = "M9 arrived on 2027-01-20; quarantine lasts 90 days"
    idle = "earns nothing against the 100.00 EUR it costs: "
    for text in (printed, page):
        assert f"M9 {idle}{reason}" in text
        assert f"M9 {idle}the best plan has no pair for it." in text


def test_pairs_are_told_in_so_many_plans(comparison: Comparison) -> None:
    lines = words.steady_lines(comparison)
    plans = comparison.steady[0].plans
    assert plans == sum(column.plan is not None for column in comparison.columns)
    for each in comparison.steady:
        pair = words.pair_words([each.pair], comparison.names)
        told = [line for line in lines if pair in line]
        if each.stands == plans:
            assert told == [
                line for line in lines if line.startswith(f"Safe pairs, in all {plans}")
            ]
        elif 2 * each.stands >= plans:
            (line,) = told
            assert line.startswith(f"In {each.stands} of {plans} plans: ")
        else:
            assert told == []
    assert any(1 < each.stands < plans for each in comparison.steady)
