"""A season in which each rule bars an animal, as rows that can be deleted and cells to empty."""

from __future__ import annotations

from pathlib import Path

ANIMALS = (
    "id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,last_laid,"
    "max_pairings,expected_eggs,arrived,vet_cleared"
)
SEASON = """season: {name: Bars, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2026-11-15}
values:
  base: 40
  wanted:
    - {morph: Clown, value: 200, need: 2, value_after: 90}
"""
FIT = ("F1", "F2", "M1", "M2")

HERD = [
    # id, sex, hatched, morph, grams, condition, status, last_laid, arrived
    ("F1", "female", "2020-06-01", "Clown", 1900, 3, "breeder", "", "2021-05-01"),
    ("F2", "female", "2021-06-01", "het Clown", 1800, 3, "breeder", "", "2022-05-01"),
    ("M1", "male", "2020-06-01", "Clown", 900, 3, "breeder", "", "2021-05-01"),
    ("M2", "male", "2020-07-01", "Pastel", 950, 3, "breeder", "", "2021-05-01"),
    ("light", "female", "2021-06-01", "Clown", 1390, 3, "breeder", "", "2022-05-01"),
    ("young", "female", "2025-01-05", "Clown", 1600, 3, "breeder", "", "2025-04-01"),
    ("thin", "female", "2021-06-01", "Clown", 1700, 1.5, "breeder", "", "2022-05-01"),
    ("laid", "female", "2020-06-01", "Clown", 1600, 3, "breeder", "2026-04-20", "2021-05-01"),
    ("unweighed", "female", "2020-06-01", "Clown", 2000, 3, "breeder", "2026-04-20", "2021-05-01"),
    ("bound", "female", "2020-06-01", "Clown", 1900, 3, "breeder", "2025-05-02", "2021-05-01"),
    ("undated", "female", "2020-06-01", "Clown", 1900, 3, "breeder", "", "2021-05-01"),
    ("ill", "female", "2020-06-01", "Clown", 1900, 3, "breeder", "", "2021-05-01"),
    ("tested", "male", "2020-06-01", "Clown", 900, 3, "breeder", "", "2021-05-01"),
    ("wasting", "male", "2020-06-01", "Clown", 760, 3, "breeder", "", "2021-05-01"),
    ("new", "male", "2020-06-01", "Clown", 900, 3, "breeder", "", "2026-10-20"),
    ("loan", "male", "2020-06-01", "Clown", 900, 3, "loan", "", ""),
    ("desert", "female", "2020-06-01", "Desert", 1900, 3, "breeder", "", "2021-05-01"),
    ("spider", "male", "2020-06-01", "Spider", 900, 3, "breeder", "", "2021-05-01"),
    ("retired", "female", "2020-06-01", "Clown", 1900, 3, "retired", "", "2021-05-01"),
    ("dead", "male", "2020-06-01", "Clown", 900, 3, "died", "", "2021-05-01"),
    ("sold", "female", "2020-06-01", "Clown", 1900, 3, "sold", "", "2021-05-01"),
    ("unsexed", "", "2020-06-01", "Clown", 1900, 3, "breeder", "", "2021-05-01"),
]
WEIGHED = {"unweighed": "2026-03-01"}
BARRED = tuple(row[0] for row in HERD if row[0] not in FIT)

Tables = dict[str, list[list[str]]]


def barred_season() -> Tables:
    """Return the tables, the header of each as its first row."""
    animals = [ANIMALS.split(",")]
    weights = [["animal", "date", "grams", "note"]]
    for id_, sex, hatched, morph, grams, condition, status, laid, arrived in HERD:
        day = WEIGHED.get(id_, "2026-11-08")
        cells = [id_, "", sex, hatched, "", "", morph, str(grams), day, str(condition), status]
        animals.append([*cells, laid, "", "", arrived, ""])
        weights.append([id_, day, str(grams), ""])
    weights += [
        ["laid", "2025-08-20", "1650", ""],
        ["laid", "2025-12-20", "2100", ""],
        ["unweighed", "2025-12-20", "2000", ""],
        ["wasting", "2026-07-05", "1000", ""],
        ["wasting", "2026-09-05", "880", ""],
    ]
    clutches = [
        ["dam", "sire", "laid", "eggs", "slugs", "hatched", "morphs", "trouble", "note"],
        ["laid", "M1", "2026-04-20", "7", "0", "", "", "", ""],
        ["unweighed", "M1", "2026-04-20", "6", "0", "", "", "", ""],
        ["bound", "M1", "2025-05-02", "6", "1", "", "", "egg binding", ""],
        ["undated", "M1", "", "6", "1", "", "", "", ""],
    ]
    events = [
        ["date", "animal", "event", "result", "about", "id", "note"],
        ["2026-08-01", "ill", "ill", "", "laying", "", ""],
        ["2026-08-20", "ill", "cleared", "", "laying", "", ""],
        ["2026-09-01", "tested", "tested", "positive", "illness", "", ""],
        ["2026-10-01", "tested", "tested", "negative", "laying", "", ""],
        ["2026-05-01", "dead", "died", "", "", "", ""],
        ["2026-05-02", "sold", "sold", "", "", "", ""],
    ]
    return {"animals": animals, "weights": weights, "clutches": clutches, "events": events}


def write(folder: Path, tables: Tables, season: str = SEASON) -> Path:
    """Write the folder."""
    folder.mkdir(exist_ok=True)
    for stem, rows in tables.items():
        text = "".join(",".join(row) + "\n" for row in rows)
        (folder / f"{stem}.csv").write_text(text, encoding="utf-8")
    (folder / "season.yaml").write_text(season, encoding="utf-8")
    return folder
