"""Trade notation, both ways: ``Super Pastel het Clown`` to claims by locus and back.

Read forgivingly: case, hyphens, commas, ``poss``/``possible``/``ph``, ``100% het``, combination
names. ``het`` and a percentage hold for every gene after them until the next ``het``, percentage or
``visual``. ``66%`` is exactly 2/3 and ``33%`` exactly 1/3; any other figure is taken as written.

A percentage may stand behind its gene (``het Clown 66%``, ``het Clown (66%)``), and part of a name
in brackets (``Axanthic (VPI)``). ``possible`` before a gene that shows says that it may be there:
``50% Yellow Belly``.

What trade words cannot say is pinned: ``[+/Pinstripe]`` is one copy of a dominant for certain
(``Super Pinstripe`` is two), ``[clown: +/+]`` is certainly wild type, and ``Banana on Y`` names the
sex chromosome that a male's gene lies on (``male maker`` and ``female maker`` are understood).
"""

from __future__ import annotations

from collections.abc import Iterable

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.catalogue.vocabulary import vocabulary
from brumal.genetics.claims import MorphProblem, claims_of
from brumal.genetics.genotypes import ClaimKind, Morph
from brumal.genetics.notation.reader import MorphReader
from brumal.genetics.notation.words import format_morph
from brumal.records.faults import Fault, Where

__all__ = ["MorphProblem", "format_morph", "morph_faults", "parse_morph"]


def parse_morph(
    text: str, catalogue: Catalogue, possible: float | None = None
) -> tuple[Morph | None, tuple[MorphProblem, ...]]:
    """Read trade notation into claims by locus.

    ``possible`` is the chance of a possible het of which none is written.
    Returns the morph and no problems, or ``None`` and every problem found.
    """
    reader = MorphReader(text, vocabulary(catalogue), possible=possible)
    reader.read()
    claims, contradictions = claims_of(reader.mentions, catalogue)
    problems = [*reader.problems, *contradictions]
    seen = (ClaimKind.VISUAL, ClaimKind.PINNED, ClaimKind.ANY_OF)
    shows = any(claim.kind in seen for claim in claims)
    if reader.normal and shows:
        problems.append(
            MorphProblem(
                found=f"'Normal' beside visual genes in {text.strip()!r}",
                expected="Normal alone or with hets",
                repair="Leave out 'Normal'.",
            )
        )
    if not (reader.mentions or reader.normal or problems):
        problems.append(
            MorphProblem(
                found="nothing",
                expected="a morph in trade notation, such as 'Pastel het Clown'",
                repair="Write 'Normal' for an animal without known genes.",
            )
        )
    return (None if problems else Morph(claims)), tuple(problems)


def morph_faults(problems: Iterable[MorphProblem], where: Where) -> tuple[Fault, ...]:
    """Turn problems of trade notation into faults at a place in a keeper's file."""
    return tuple(
        Fault(where=where, found=problem.found, expected=problem.expected, repair=problem.repair)
        for problem in problems
    )
