"""Checks of each animal's parents: sex, age at the hatching of the young."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from brumal.records.ages import months_old
from brumal.records.animals import Animal, Sex
from brumal.records.faults import Fault, Severity, Where

Parents = tuple[str | None, str | None]

#: Months below which a parent is taken for immature at the hatching of its young
#: (common practice, no source).
MATURE_MONTHS = {"dam": 18, "sire": 12}
SEX_OF = {"dam": Sex.FEMALE, "sire": Sex.MALE}


def check_parents(rows: Mapping[str, Animal], file: str) -> list[Fault]:
    """Return every fault in the dams and sires of ``rows`` (animals by id), in file order."""
    roles = _roles(rows)
    faults = []
    for animal in sorted(rows.values(), key=lambda row: (row.row, row.id)):
        if animal.dam is not None and animal.dam == animal.sire:
            faults.append(_same_parent(animal, file))
        for column, parent in (("dam", animal.dam), ("sire", animal.sire)):
            if parent is None:
                continue
            where = Where(file=file, row=animal.row or None, column=column)
            if animal.dam != animal.sire:
                faults += _wrong_sex(parent, column, rows.get(parent), roles, where)
            faults += _age(animal, column, rows.get(parent), where)
    return faults


def sexes_of(parents: Mapping[str, Parents], rows: Mapping[str, Animal]) -> dict[str, Sex]:
    """Return the recorded sex of each animal, or the one that its part as a parent implies."""
    known = {name: row.sex for name, row in rows.items() if row.sex is not None}
    implied = {}
    for dam, sire in parents.values():
        if dam:
            implied[dam] = Sex.FEMALE
        if sire:
            implied[sire] = Sex.MALE
    return {**implied, **known}


def _roles(rows: Mapping[str, Animal]) -> dict[str, dict[str, Animal]]:
    """Return, by parent id and column, the first animal in the file that names it so."""
    roles: dict[str, dict[str, Animal]] = {}
    for animal in sorted(rows.values(), key=lambda row: (row.row, row.id)):
        if animal.dam == animal.sire:
            continue
        for column, parent in (("dam", animal.dam), ("sire", animal.sire)):
            if parent is not None:
                roles.setdefault(parent, {}).setdefault(column, animal)
    return roles


def _same_parent(animal: Animal, file: str) -> Fault:
    return Fault(
        where=Where(file=file, row=animal.row or None, column="sire"),
        found=f"'{animal.sire}' as both dam and sire of '{animal.id}'",
        expected="two parents; leave the one that is not known empty",
    )


def _wrong_sex(
    parent: str,
    column: str,
    row: Animal | None,
    roles: Mapping[str, Mapping[str, Animal]],
    where: Where,
) -> Iterator[Fault]:
    wanted = SEX_OF[column]
    if row is not None and row.sex is not None:
        if row.sex is not wanted:
            place = f" (row {row.row})" if row.row else ""
            yield Fault(
                where=where,
                found=f"'{parent}', recorded as {row.sex}{place}",
                expected=f"a {wanted} as {column}",
                repair=f"Swap dam and sire, or correct the sex of '{parent}'.",
            )
    elif column == "sire" and "dam" in roles[parent]:
        other = roles[parent]["dam"]
        place = f" (row {other.row})" if other.row else ""
        yield Fault(
            where=where,
            found=f"'{parent}' as a sire; it is the dam of '{other.id}'{place}",
            expected="one sex for each animal",
            repair=f"Correct the parents, or record the sex of '{parent}'.",
        )


def _age(animal: Animal, column: str, parent: Animal | None, where: Where) -> Iterator[Fault]:
    born = parent.hatched_first if parent is not None else None
    if parent is None or born is None or animal.hatched is None:
        return
    if born >= animal.hatched:
        yield Fault(
            where=where,
            found=f"'{parent.id}', hatched {parent.hatched_written}, no older than its young "
            f"'{animal.id}', hatched {animal.hatched_written}",
            expected="a parent that hatched before its young",
            repair="Correct one of the two dates, or the parent.",
        )
        return
    months = months_old(born, animal.hatched)
    least = MATURE_MONTHS[column]
    if months < least:
        yield Fault(
            where=where,
            found=f"'{parent.id}', {months} months old when '{animal.id}' hatched",
            expected=f"a {column} of {least} months or more by then (common practice, no source)",
            repair="Look at the two dates and the parent once more.",
            severity=Severity.WARNING,
        )
