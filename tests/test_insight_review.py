"""A season looked back on: against figures by hand (docs/small-season.md) and SciPy's laws."""

from __future__ import annotations

import csv
import json
import math
import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest
from scipy.stats import betabinom, binom

from brumal import library
from brumal.cli import main
from brumal.insight.review.money import drawn_money
from brumal.insight.review.next_year import next_year
from brumal.insight.review.season import Review, parts_of, review
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.visiting import Visiting
from brumal.records.read import read_season
from season_outputs import ROOT

HEAD = "date,animal,event,with,count,slugs,morphs\n"
LATE = date(2027, 9, 1)
ENDS = ("low", "high")
EVENTS = (
    "2026-12-05,F1,visit,M2,,,\n2027-03-20,F1,laid,,6,1,\n"
    "2027-05-20,F1,hatched,,4,,2 Mojave Clown; 1 female Clown; 1 Clown\n"
    "2026-12-08,F2,visit,M1,,,\n"
)


def small(tmp_path: Path, events: str) -> Path:
    folder = tmp_path / "small"
    shutil.copytree(ROOT / "scenarios" / "small", folder)
    (folder / "events.csv").write_text(HEAD + events)
    return folder


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open() as stream:
        return list(csv.DictReader(stream))


def reviewed(folder: Path, on: date = LATE) -> Review:
    now = library.read(folder, on, LATE)
    return review(now, library.read(folder, now.records.settings.season.pair_from, LATE))


def test_a_pair_against_figures_by_hand(tmp_path: Path) -> None:
    """F1 x M2: half the young Mojave Clown at 140, half Clown at 120; the pair is worth 350."""
    found = reviewed(small(tmp_path, EVENTS))
    thaw, dew = found.clutches
    assert (thaw.dam, thaw.sire, thaw.went, dew.went) == ("F1", "M2", True, False)
    assert thaw.money.mean == pytest.approx(350)
    assert thaw.money.came == pytest.approx(2 * 140 + 2 * 120 - 5 - 6 * 1 - 4 * 10)
    assert dew.money.came == -5
    told = [(each.look, each.chance, each.expected, each.came) for each in thaw.looks]
    assert told == [("Mojave Clown", 0.5, 2.0, 2), ("Clown", 0.5, 2.0, 2)]
    assert found.goes == (pytest.approx(1.6), 1, 2)


def test_windows_are_those_of_the_laws(tmp_path: Path) -> None:
    """Eggs of 6.25 lie on 6 and 7; of 6 laid the fertile are binomial, of 5 the hatched."""
    thaw = reviewed(small(tmp_path, EVENTS)).clutches[0]
    assert thaw.eggs is not None and thaw.fertile is not None and thaw.hatched is not None
    assert (thaw.eggs.low, thaw.eggs.high, thaw.eggs.mean) == (6, 7, 6.25)
    for figure, law in ((thaw.fertile, binom(6, 0.8)), (thaw.hatched, binom(5, 0.75))):
        assert (figure.low, figure.high) == (law.ppf(0.1), law.ppf(0.9))
        assert figure.mean == pytest.approx(law.mean())
        assert figure.held


def test_forecast_shares_are_beta_binomial(tmp_path: Path) -> None:
    folder = small(tmp_path, EVENTS)
    path = folder / "season.yaml"
    path.write_text(path.read_text().replace("fertile: 0.8, ", ""))
    thaw = reviewed(folder).clutches[0]
    mean, strength = library.read(folder, date(2026, 12, 1), LATE).forecasts.fertile.of("F1", "M2")
    law = betabinom(6, mean * strength, (1 - mean) * strength)
    assert thaw.fertile is not None
    assert (thaw.fertile.low, thaw.fertile.high) == (law.ppf(0.1), law.ppf(0.9))


def money_law() -> dict[float, float]:
    """Return the law of F1 x M2's money, walked: whether she goes, eggs, fertile, young, looks."""
    law = {-5.0: 0.2}
    for eggs, share in ((6, 0.75), (7, 0.25)):
        for young in range(eggs + 1):
            for mojaves in range(young + 1):
                chance = binom(eggs, 0.8 * 0.75).pmf(young) * binom(young, 0.5).pmf(mojaves)
                money = 120.0 * young + 20 * mojaves - 5 - eggs - 10 * young
                law[money] = law.get(money, 0.0) + 0.8 * share * chance
    return law


def test_the_window_of_money_is_that_of_all_outcomes(tmp_path: Path) -> None:
    """Drawn cuts lie where the law, walked, has a tenth and nine tenths, but for luck."""
    thaw = reviewed(small(tmp_path, EVENTS)).clutches[0]
    law = money_law()
    assert sum(law.values()) == pytest.approx(1)
    assert sum(money * chance for money, chance in law.items()) == pytest.approx(thaw.money.mean)
    for cut, share in ((thaw.money.low, 0.1), (thaw.money.high, 0.9)):
        below = sum(chance for money, chance in law.items() if money < cut - 1e-9)
        upto = sum(chance for money, chance in law.items() if money < cut + 1e-9)
        assert below - 0.015 <= share <= upto + 0.015
    assert thaw.money.held is (thaw.money.low <= 469 <= thaw.money.high)


def test_money_in_all_is_that_of_settled_pairs(tmp_path: Path) -> None:
    found = reviewed(small(tmp_path, EVENTS))
    assert found.money is not None
    assert found.money.mean == pytest.approx(sum(each.money.mean for each in found.clutches))
    assert found.money.came == pytest.approx(469 - 5)
    lows, highs = (sum(getattr(each.money, end) for each in found.clutches) for end in ENDS)
    # Luck of two clutches evens out in part.
    assert lows < found.money.low < found.money.mean < found.money.high < highs
    held = {each.what: each for each in found.held}
    assert held["money"].of == 2


def test_drawn_money_has_the_mean_that_is_expected(tmp_path: Path) -> None:
    """Where prices part by need, sex and label, and several males may be the sire."""
    folder = tmp_path / "march"
    shutil.copytree(ROOT / "scenarios" / "demo-march", folder)
    now = library.read(folder, date(2027, 3, 8), LATE)
    before = library.read(folder, now.records.settings.season.pair_from, LATE)
    drawn = drawn_money(before, parts_of(now, before))
    for each in review(now, before).clutches:
        money = drawn[each.dam]
        assert abs(money.mean() - each.money.mean) < 4 * money.std() / math.sqrt(money.size)


def test_windows_of_days_are_those_of_all_stages_walked(tmp_path: Path) -> None:
    """Stages last any whole number of days alike; the hatching is foreseen on the day she laid."""
    folder = small(tmp_path, EVENTS)
    thaw = reviewed(folder).clutches[0]
    assert thaw.shed is None
    assert thaw.laying is not None and thaw.hatching is not None
    assert (thaw.hatching.low, thaw.hatching.high) == (date(2027, 5, 14), date(2027, 5, 19))
    assert not thaw.hatching.held
    before = library.read(folder, date(2026, 12, 1), LATE)
    days = Visiting.of(before).ordinary("F1", date(2026, 12, 1)).ovulation
    stages = before.records.settings.dates
    laws: dict[date, float] = {}
    for at, chance in enumerate(days.chances.tolist()):
        for one in range(stages.to_shed[0], stages.to_shed[1] + 1):
            for two in range(stages.shed_to_laying[0], stages.shed_to_laying[1] + 1):
                day = days.first + timedelta(days=at + one + two)
                laws[day] = laws.get(day, 0.0) + chance
    total, reached, cuts = sum(laws.values()), 0.0, []
    for day in sorted(laws):
        before_it, reached = reached, reached + laws[day] / total
        cuts += [day for cut in (0.1, 0.5, 0.9) if before_it < cut - 1e-12 <= reached]
    assert [thaw.laying.low, thaw.laying.mean, thaw.laying.high] == cuts
    held = {each.what: (each.held, each.of) for each in reviewed(folder).held}
    assert held["laying"] == (int(cuts[0] <= date(2027, 3, 20) <= cuts[2]), 1)
    assert held["hatching"] == (0, 1)
    assert "shed" not in held


def test_the_forecast_is_that_of_the_plan_on_the_first_day(tmp_path: Path) -> None:
    folder = small(tmp_path, EVENTS)
    path = folder / "season.yaml"
    path.write_text(path.read_text().replace("goes: 0.8, ", ""))
    found = find_candidates(library.read(folder, date(2026, 12, 1), LATE))
    priced = {each.pair: each for each in found.open}
    for each in reviewed(folder).clutches:
        pair = (each.dam, each.sire)
        assert each.goes == found.clutches[pair].goes
        assert each.money.mean == pytest.approx(priced[pair].value, abs=1e-5)


def test_before_the_season_is_over_a_female_is_open(tmp_path: Path) -> None:
    folder = small(tmp_path, EVENTS)
    found = reviewed(folder, date(2027, 4, 1))
    assert [(each.dam, each.went, each.money.came) for each in found.clutches] == [
        ("F1", True, None),
        ("F2", None, None),
    ]
    assert found.goes == (pytest.approx(0.8), 1, 1)


def test_two_males_mix_until_the_young_tell(tmp_path: Path) -> None:
    """By M1 half the young are Pastel, by M2 half are Mojave: both looks leave neither."""
    two = EVENTS.replace("2027-03-20", "2026-12-20,F1,visit,M1,,,\n2027-03-20")
    found = reviewed(small(tmp_path, two)).clutches[0]
    assert found.sires == (("M2", 1.0), ("M1", 0.0))
    plain = two.replace("2 Mojave Clown; 1 female Clown; 1 Clown", "4 Clown")
    shutil.rmtree(tmp_path / "small")
    mixed = reviewed(small(tmp_path, plain)).clutches[0]
    assert dict(mixed.sires) == {"M1": pytest.approx(0.5), "M2": pytest.approx(0.5)}
    assert mixed.looks[0].chance == pytest.approx(0.5)


def test_rows_for_next_year_read_back_as_what_came(tmp_path: Path) -> None:
    folder = small(tmp_path, EVENTS)
    out = tmp_path / "out"
    assert main(["review", str(folder), "--on", LATE.isoformat(), "--out", str(out)]) == 0
    told = json.loads((out / "review.json").read_text())
    assert [each["went"] for each in told["clutches"]] == [True, False]
    rows = rows_of(out / "next-clutches.csv")
    assert [(row["dam"], row["sire"], row["eggs"]) for row in rows] == [
        ("F1", "M2", "6"),
        ("F2", "M1", "0"),
    ]
    young = rows_of(out / "next-young.csv")
    assert [row["morph"] for row in young] == ["Mojave Clown", "Mojave Clown", "Clown", "Clown"]
    shutil.copy(out / "next-clutches.csv", folder / "clutches.csv")
    (folder / "events.csv").unlink()
    text = (folder / "season.yaml").read_text()
    for year, next_one in (("2027-03-31", "2028-03-31"), ("2026-12-01", "2027-12-01")):
        text = text.replace(year, next_one)
    (folder / "season.yaml").write_text(text.replace("2026-11-15", "2027-11-15"))
    records, faults = read_season(folder, today=LATE)
    assert records is not None, faults
    clutch = records.clutches[0]
    assert (clutch.eggs, clutch.slugs, clutch.hatched) == (6, 1, 4)
    assert sum(count for count, _, _ in clutch.young) == 4


def test_rows_after_the_day_looked_back_from_are_set_aside(tmp_path: Path) -> None:
    folder, out = small(tmp_path, EVENTS), tmp_path / "out"
    text = (folder / "season.yaml").read_text()
    (folder / "season.yaml").write_text(text.replace("2026-11-15", LATE.isoformat()))
    assert main(["review", str(folder), "--on", "2027-04-01", "--out", str(out)]) == 0
    thaw = json.loads((out / "review.json").read_text())["clutches"][0]
    assert (thaw["laid"], thaw["money"]["came"]) == ("2027-03-20", None)


def test_a_clutch_written_in_the_table_is_not_written_again(tmp_path: Path) -> None:
    folder = small(tmp_path, EVENTS)
    row = "dam,sire,laid,eggs,slugs\nF1,M2,2027-03-20,6,1\n"
    (folder / "clutches.csv").write_text(row)
    now = library.read(folder, date(2027, 4, 1), LATE)
    found = review(now, library.read(folder, date(2026, 12, 1), LATE))
    rows = next_year(now.records, found)
    assert rows.clutches == ()
    assert [(each["id"], each["last_laid"]) for each in rows.animals] == [("F1", "2027-03-20")]


def test_texts_of_the_keeper_cannot_act_on_the_page(tmp_path: Path) -> None:
    folder = small(tmp_path, EVENTS)
    path = folder / "animals.csv"
    path.write_text(path.read_text().replace("Thaw", "<script>x</script>"))
    out = tmp_path / "out"
    assert main(["review", str(folder), "--on", LATE.isoformat(), "--out", str(out)]) == 0
    page = (out / "review.html").read_text()
    assert 'Seen from <span class="day">2027-09-01</span>.' in page
    assert "<script" not in page
    assert "&lt;script&gt;" in page
