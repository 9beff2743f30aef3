"""Cautions in order: what can hurt an animal first, what many animals share told once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from brumal.rules.verdict import Rank, RuleVerdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """One caution on several animals: (id, detail) of each by id, and the sentence for all."""

    rank: Rank
    animals: tuple[tuple[str, str], ...]
    text: str


def by_rank(verdicts: Iterable[RuleVerdict]) -> tuple[RuleVerdict, ...]:
    """Return verdicts with those that can hurt an animal first, else in the order given."""
    return tuple(sorted(verdicts, key=lambda verdict: verdict.rank))


def shared_cautions(verdicts: Iterable[RuleVerdict]) -> tuple[Shared, ...]:
    """Gather the cautions that many animals may share, each once, the gravest first."""
    groups: dict[tuple[Rank, str], dict[str, str]] = {}
    for verdict in verdicts:
        if verdict.passed and verdict.caution and verdict.shared:
            group = groups.setdefault((verdict.rank, verdict.shared), {})
            group[verdict.subject[0]] = verdict.detail
    return tuple(
        Shared(rank=rank, animals=tuple(sorted(names.items())), text=text)
        for (rank, text), names in sorted(groups.items())
    )


def shared_words(caution: Shared, labels: Mapping[str, str]) -> str:
    """Return the caution with the animals behind what is said of them, those told alike together.

    ``labels`` are the animals' names by id.
    """
    alike: dict[str, list[str]] = {}
    for animal, detail in caution.animals:
        alike.setdefault(detail, []).append(labels[animal])
    named = ", ".join(
        f"{', '.join(names)} ({detail})" if detail else ", ".join(names)
        for detail, names in alike.items()
    )
    said, _, advice = caution.text.partition(". ")
    return f"{said}: {named}. {advice}"
