"""What the keeper states of founders and of pairs, checked against the pedigree."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from brumal.pedigree.graph import FounderFacts, Pedigree
from brumal.records.animals import Sex
from brumal.records.faults import Fault, Where, did_you_mean
from brumal.records.settings import Kin

ROUNDING = 1e-9


def founder_facts(kin: Kin) -> FounderFacts:
    """Return the founders' F and kinship as the ``kin`` section of the settings states them."""
    return FounderFacts(
        F=dict(kin.founder_F),
        kinship={(min(a, b), max(a, b)): phi for a, b, phi in kin.founder_kinship},
    )


def kin_faults(kin: Kin, pedigree: Pedigree, file: str = "season.yaml") -> tuple[Fault, ...]:
    """Return every fault of the ``kin`` section of the settings.

    Unknown ids, animals that are not founders, kinship that no two animals can have, exceptions
    that are no pair of a dam and a sire.
    """
    return (
        *_founder_f(kin, pedigree, file),
        *_founder_kinship(kin, pedigree, file),
        *_impossible(kin, pedigree, file),
        *_exceptions(kin, pedigree, file),
    )


def _founder_f(kin: Kin, pedigree: Pedigree, file: str) -> Iterator[Fault]:
    for name in sorted(kin.founder_F):
        yield from _not_a_founder(name, pedigree, Where(file=file, column=f"kin.founder_F.{name}"))


def _founder_kinship(kin: Kin, pedigree: Pedigree, file: str) -> Iterator[Fault]:
    seen: dict[tuple[str, str], int] = {}
    for number, (one, other, _) in enumerate(kin.founder_kinship, start=1):
        where = Where(file=file, column=f"kin.founder_kinship[{number}]")
        for name in (one, other):
            yield from _not_a_founder(name, pedigree, where)
        if one == other:
            yield Fault(
                where=where,
                found=f"'{one}' with itself",
                expected="two founders",
                repair="Its own inbreeding stands in kin.founder_F.",
            )
        first = seen.setdefault((min(one, other), max(one, other)), number)
        if first != number:
            yield Fault(
                where=where,
                found=f"'{one}' and '{other}' again (first as entry {first})",
                expected="each pair once",
            )


def _not_a_founder(name: str, pedigree: Pedigree, where: Where) -> Iterator[Fault]:
    if name not in pedigree.index:
        yield _unknown(name, pedigree, where)
        return
    known = [
        f"{role} {parent}"
        for role, parent in zip(("dam", "sire"), pedigree.parents(name), strict=True)
        if parent
    ]
    if known:
        yield Fault(
            where=where,
            found=f"'{name}', whose {' and '.join(known)} stands in the pedigree"
            if len(known) == 1
            else f"'{name}', whose {' and '.join(known)} stand in the pedigree",
            expected="a founder: an animal without recorded parents",
            repair="State it of the founders behind it; the rest follows from the parents.",
        )


def _unknown(name: str, pedigree: Pedigree, where: Where) -> Fault:
    return Fault(
        where=where,
        found=f"'{name}'",
        expected="an animal or ancestor of the pedigree",
        repair=did_you_mean(name, pedigree.ids),
    )


def _impossible(kin: Kin, pedigree: Pedigree, file: str) -> Iterator[Fault]:
    """Find stated kinships that contradict each other or the founders' F.

    Kinship is a covariance, so its matrix cannot have a negative eigenvalue; two founders alone
    are no closer than the root of (1 + F) / 2 of the one times that of the other.
    """
    facts = founder_facts(kin)
    groups: dict[str, set[str]] = {}
    for one, other in facts.kinship:
        if one != other and one in pedigree.index and other in pedigree.index:
            tied = groups.get(one, {one}) | groups.get(other, {other})
            groups.update(dict.fromkeys(tied, tied))
    for group in sorted({min(tied): sorted(tied) for tied in groups.values()}.values()):
        matrix = np.array([[facts.phi(one, other) for other in group] for one in group])
        if np.linalg.eigvalsh(matrix)[0] >= -ROUNDING:
            continue
        yield Fault(
            where=Where(file=file, column="kin.founder_kinship"),
            found=f"kinship among {', '.join(group)} that no pedigree can give",
            expected=f"figures that fit together: {_advice(group, facts)}",
            repair="State the kinship of every two of them, and their F in kin.founder_F.",
        )


def _advice(group: list[str], facts: FounderFacts) -> str:
    for (one, other), phi in sorted(facts.kinship.items()):
        most = float(np.sqrt(facts.phi(one, one) * facts.phi(other, other)))
        if one in group and phi > most + ROUNDING:
            return f"{one} and {other} at most {most:.4g}, as their F stands"
    return "two animals close to a third are close to each other"


def _exceptions(kin: Kin, pedigree: Pedigree, file: str) -> Iterator[Fault]:
    seen: dict[tuple[str, str], int] = {}
    for number, (dam, sire, _) in enumerate(kin.exceptions, start=1):
        where = Where(file=file, column=f"kin.exceptions[{number}]")
        first = seen.setdefault((dam, sire), number)
        if first != number:
            yield Fault(
                where=where,
                found=f"{dam} x {sire} again (first as entry {first})",
                expected="each pair once",
            )
        for name, sex, role in ((dam, Sex.FEMALE, "dam"), (sire, Sex.MALE, "sire")):
            if name not in pedigree.index:
                yield _unknown(name, pedigree, where)
            elif pedigree.sexes.get(name, sex) is not sex:
                yield Fault(
                    where=where,
                    found=f"'{name}', a {pedigree.sexes[name]}, as {role}",
                    expected="[dam, sire, written reason]",
                )
