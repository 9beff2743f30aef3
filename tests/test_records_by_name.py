"""What keepers write is met where it stands: names as ids, fitting hints, one fault a cause."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.cli import main
from brumal.pipeline import prepare
from brumal.records.column_hints import likely_column
from brumal.records.faults import Fault, InputError, Severity, Where, grouped
from brumal.records.overlays import overlays_of
from brumal.records.plain_values import parse_number, parse_period
from brumal.records.read import read_season
from brumal.records.variant import variant_of
from season_folders import season_folder

SEASON = "season: {name: T, pair_from: 2026-12-01, pair_to: 2027-03-31}\n"
ANIMALS = """id,name,sex,morph,hatched,dam,sire
F1,Bramble,female,Clown,2019-07-14,,
F2,Nettle,female,Clown,2021-08-22,bramble,ROOK
M1,Rook,male,Clown,2018-06-30,,
"""


def folder(tmp_path: Path, **files: str) -> Path:
    return season_folder(tmp_path, **({"animals": ANIMALS, "season": SEASON} | files))


def faults_of(path: Path) -> list[str]:
    return [str(fault) for fault in read_season(path)[1] if fault.severity is Severity.ERROR]


def test_names_stand_for_ids_in_tables_and_locks(tmp_path: Path) -> None:
    path = folder(
        tmp_path,
        weights="animal,date,grams\nNettle,2026-10-01,1500\n",
        clutches="dam,sire,laid,eggs\nbramble,Rook,2025-05-01,6\n",
        season=SEASON + "locks: {must_pair: [[Nettle, rook]], sit_out: [Bramble]}\n",
    )
    records, faults = read_season(path)
    assert records is not None, faults
    nettle = records.animals[1]
    assert (nettle.dam, nettle.sire) == ("F1", "M1")
    assert records.weighings[0].animal == "F2"
    assert (records.clutches[0].dam, records.clutches[0].sire) == ("F1", "M1")
    assert records.settings.locks.must_pair == (("F2", "M1"),)
    assert records.settings.locks.sit_out == ("F1",)
    assert prepare(path).records == records


def test_names_stand_for_ids_under_offers_and_kin(tmp_path: Path) -> None:
    season = SEASON + (
        "offers: {sell: {nettle: 300}, buy: {Rook: 150}}\n"
        "kin: {founder_F: {Bramble: 0.125}, founder_kinship: [[rook, F1, 0.1]],\n"
        "  exceptions: [[Nettle, Rook, an old line]]}\n"
    )
    records, faults = read_season(folder(tmp_path, season=season))
    assert records is not None, faults
    settings = records.settings
    assert (settings.offers.sell, settings.offers.buy) == ({"F2": 300}, {"M1": 150})
    assert settings.kin.founder_F == {"F1": 0.125}
    assert settings.kin.founder_kinship == (("M1", "F1", 0.1),)
    assert settings.kin.exceptions == (("F2", "M1", "an old line"),)


def test_one_animal_offered_under_id_and_name_is_a_fault(tmp_path: Path) -> None:
    path = folder(tmp_path, season=SEASON + "offers: {sell: {F2: 300, Nettle: 250}}\n")
    with pytest.raises(InputError) as stopped:
        prepare(path)
    assert any("offers.sell: found 'Nettle'" in str(fault) for fault in stopped.value.faults)


def test_names_stand_for_ids_in_what_ifs(tmp_path: Path) -> None:
    path = folder(tmp_path)
    (path / "what-if").mkdir()
    (path / "what-if" / "a.yaml").write_text("locks: {sit_out: [Nettle]}\n")
    records, _ = read_season(path)
    assert records is not None
    variant = variant_of(records, overlays_of(records), ["a"])
    assert variant.records is not None, variant.faults
    assert variant.records.settings.locks.sit_out == ("F2",)


def test_a_name_that_two_bear_is_a_fault_that_names_both(tmp_path: Path) -> None:
    animals = ANIMALS + "F3,Bramble,female,Clown,2019-07-14,,\n"
    (fault,) = faults_of(folder(tmp_path, animals=animals))
    assert "the name of 2 animals" in fault
    assert "'F1' or 'F3'" in fault


def test_an_id_goes_before_a_name(tmp_path: Path) -> None:
    animals = ANIMALS + "Rook,Kestrel,male,Clown,2018-06-30,,\n"
    records, _ = read_season(folder(tmp_path, animals=animals.replace("ROOK", "Rook")))
    assert records is not None
    assert records.animals[1].sire == "Rook"


def test_the_nearest_spelling_of_a_dam_is_no_male(tmp_path: Path) -> None:
    animals = ANIMALS.replace("bramble", "M-01x")
    records, faults = read_season(folder(tmp_path, animals=animals.replace("M-01x", "M 1")))
    assert records is not None
    assert not any("'M1'" in fault.repair for fault in faults)
    locks = SEASON + "locks: {must_pair: [[M 1, M1]]}\n"
    (fault,) = faults_of(folder(tmp_path, animals=ANIMALS, season=locks))
    assert "'M1'?" not in fault


@pytest.mark.parametrize(
    ("heading", "absent", "meant"),
    [
        ("dad", ("dam", "sire"), "sire"),
        ("mum", ("dam", "sire"), "dam"),
        ("dad", ("dam",), ""),
        ("paid", ("id",), ""),
        ("hatchd", ("hatched",), "hatched"),
        ("siree", ("sire",), "sire"),
        ("dob", ("hatched",), "hatched"),
    ],
)
def test_a_heading_is_met_with_the_column_it_means(
    heading: str, absent: tuple[str, ...], meant: str
) -> None:
    assert likely_column(heading, absent) == meant


def test_a_workbook_as_it_is_points_to_import(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = folder(tmp_path, animals="My snakes 2026\nName,Paid\nAda,80\n")
    (fault,) = faults_of(path)
    assert "brumal import" in fault
    for command in ("check", "plan"):
        assert main([command, str(path / "animals.csv")]) == 1
        said = capsys.readouterr()
        assert "brumal import" in " ".join((said.out + said.err).split())


def test_a_mistyped_command_is_met_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["chekc", "folder"])
    assert stopped.value.code == 1
    assert "Did you mean 'check'" in capsys.readouterr().err


def test_dates_in_another_form_are_one_fault_with_their_rows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = "".join(f"X{n},female,Clown,5/{n}/2022\n" for n in range(13, 29))
    path = folder(tmp_path, animals=f"id,sex,morph,hatched\n{rows}")
    assert len(faults_of(path)) == 16
    assert main(["check", str(path)]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "1 error" in told
    assert "in 16 rows (2-17)" in told


def test_only_faults_of_one_cause_are_told_as_one() -> None:
    def fault(row: int, repair: str = "") -> Fault:
        where = Where(file="animals.csv", row=row, column="sex")
        return Fault(where=where, found=f"'{row}'", expected="a sex", repair=repair)

    alike = [fault(row) for row in (2, 3, 4, 9)]
    (one,) = grouped(alike)
    assert "(2-4, 9)" in one.found
    assert grouped(alike[:3]) == tuple(alike[:3])
    other = [fault(row, f"repair {row}") for row in range(5)]
    assert grouped(other) == tuple(other)


def test_five_thousand_is_asked_back_and_not_read_as_five(tmp_path: Path) -> None:
    values = 'values: {wanted: [{morph: Clown, value: "5,000"}]}\n'
    (fault,) = faults_of(folder(tmp_path, season=SEASON + values))
    assert "It may mean 5000 or 5: write the one that is meant." in fault
    assert parse_number("5,000")[0] is None
    assert parse_number("2,5")[0] == 2.5


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2021", date(2021, 1, 1), date(2021, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2022-12", date(2022, 12, 1), date(2022, 12, 31)),
        ("2022-03-14", date(2022, 3, 14), date(2022, 3, 14)),
        ("2022-13", None, None),
    ],
)
def test_a_month_or_year_is_its_first_and_last_day(
    text: str, first: date | None, last: date | None
) -> None:
    assert parse_period(text)[:2] == (first, last)


def test_a_hatching_year_is_kept_as_it_is_known(tmp_path: Path) -> None:
    animals = ANIMALS.replace("2019-07-14", "2019").replace("2021-08-22", "2021-08")
    weights = "animal,date,grams\nF1,2019-09-01,100\n"
    records, faults = read_season(folder(tmp_path, animals=animals, weights=weights))
    assert records is not None, faults
    first, second, _ = records.animals
    assert (first.hatched, first.hatched_first) == (date(2019, 12, 31), date(2019, 1, 1))
    assert (first.hatched_written, second.hatched_written) == ("2019", "2021-08")
