"""Kinship in the keeper's words: the same sentences on the terminal and on the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from brumal.pedigree.pair import KinPair, PairMember
from brumal.pedigree.paths import Path, Source
from brumal.pedigree.summary import KinSummary
from brumal.records.animals import Sex
from brumal.records.settings import Settings

GENERATIONS = ("parents", "grandparents", "great-grandparents", "great-great-grandparents")
EXACT_COUNT = 2**53

BOUND = (
    "F and kinship are as recorded. An unknown parent counts as unrelated to everyone, which "
    "nobody knows: the figures are the least that these records allow, not proof of an outbred "
    "animal."
)
MEAN_NOTE = (
    "Mean kinship is the mean of an animal's kinship to all of the collection, itself included "
    "(Ballou & Lacy 1995, from memory). A low figure marks genes that are rare in the collection; "
    "with no generation recorded it may only mean that nothing is known."
)
FOUNDER_NOTE = (
    "Effective founders: as many founders with equal shares would keep as much variety, "
    "1 / sum of squared shares (Lacy 1989, from memory); each unknown parent counts as a founder "
    "of its own."
)
INDEX_NOTE = (
    "The index is 1 where four generations are known on both sides, 0 where a parent is unknown "
    "(after MacCluer et al. 1983, from memory)."
)
PAIRS_NOTE = (
    "Pairs of a female and a male; F is that of their young, as recorded; the generations are "
    "those recorded in full behind both: without any, a 0 says nothing."
)


def coefficient(value: float) -> str:
    """Write a kinship or F with up to eight decimals; what is smaller but not zero says so."""
    if 0.0 < value < 5e-9:
        return "below 0.00000001"
    return f"{value:.8f}".rstrip("0").rstrip(".")


def count(number: int, one: str, many: str = "") -> str:
    """Write a number with its noun; counts too large to be exact say "about"."""
    about = "about " if number >= EXACT_COUNT else ""
    figures = f"{number:.2e}" if number >= EXACT_COUNT else f"{number:,}"
    return f"{about}{figures} {one if number == 1 else many or one + 's'}"


def relation_line(pair: KinPair) -> str:
    """Say the closest relationship in a sentence."""
    relation = pair.relation
    first, second = pair.one.id, pair.other.id
    if first == second:
        return f"{pair.names[first]} with itself."
    if relation.elder is not None and relation.elder != first:
        first, second = second, first
    names = f"{pair.names[first]} and {pair.names[second]}"
    return f"{names}: {relation.words}."


def phi_line(pair: KinPair) -> str:
    """Say the kinship, and what it means for young."""
    value = coefficient(pair.phi)
    if pair.one.id == pair.other.id:
        return f"Kinship with itself (1 + F) / 2 = {value}."
    if not can_meet(pair):
        return f"Kinship {value} as recorded. Both are {pair.one.sex}s: no young of the two."
    return f"Their young would have F {value} as recorded, the kinship of the two."


def can_meet(pair: KinPair) -> bool:
    """Say whether two animals may be dam and sire; a sex that is not recorded may be either."""
    sexes = {pair.one.sex, pair.other.sex}
    return pair.one.id != pair.other.id and sexes not in ({Sex.FEMALE}, {Sex.MALE})


def more_line(pair: KinPair) -> str:
    """Say how much the closest relationship leaves unexplained; empty where it is all."""
    rest = pair.phi - pair.relation.phi
    if pair.relation.up is None or pair.one.id == pair.other.id or rest < 1e-12:
        return ""
    return (
        f"That relationship alone gives {coefficient(pair.relation.phi)}; inbred ancestors and "
        f"further lines add {coefficient(rest)}."
    )


def limit_lines(pair: KinPair, settings: Settings) -> list[str]:
    """Say how the pair stands to the keeper's cap, completeness asked, penalty and exceptions."""
    if not can_meet(pair):
        return []
    lines = [_cap_line(pair.phi, settings.limits.max_F)]
    asked = settings.kin.min_generations
    known = min(pair.one.generations, pair.other.generations)
    if asked:
        enough = "as asked" if known >= asked else "too few"
        lines.append(
            f"Generations recorded in full behind both: {known}; kin.min_generations asks for "
            f"{asked}: {enough}."
        )
    penalty = settings.kin.penalty_per_F * pair.phi
    if penalty > 0.0:
        lines.append(
            f"kin.penalty_per_F takes {penalty:,.2f} {settings.currency} off a clutch of the two."
        )
    if pair.young_mean is not None:
        lines.append(_kept_line(pair.young_mean, settings.kin.max_kept_kinship))
    ids = {pair.one.id, pair.other.id}
    lines += [
        f"Exception for this pair, in the keeper's words: {reason}"
        for dam, sire, reason in settings.kin.exceptions
        if {dam, sire} == ids
    ]
    return lines


def _cap_line(phi: float, cap: float) -> str:
    side = "above" if phi > cap + 1e-9 else "within"
    return f"The cap limits.max_F is {coefficient(cap)}: the pair is {side} it."


def _kept_line(mean: float, cap: float | None) -> str:
    text = f"A young held back would have mean kinship {mean:.4f} to the collection"
    if cap is None:
        return f"{text}."
    side = "above" if mean > cap + 1e-9 else "within"
    return f"{text}, {side} the cap kin.max_kept_kinship, {coefficient(cap)}."


def standing_line(standing: PairMember, names: Mapping[str, str]) -> str:
    """Say what is known of one animal's own pedigree."""
    words = known_words(standing.known)
    known = f"known: {words}" if words else "parents unknown"
    return (
        f"{names[standing.id]}: F {coefficient(standing.F)} as recorded; "
        f"{count(standing.generations, 'generation')} recorded in full; {known}."
    )


def known_words(known: Sequence[float]) -> str:
    """Write the shares of ancestors known, up to the last generation with any."""
    shares = [
        f"{name} {share:.0%}" for name, share in zip(GENERATIONS, known, strict=False) if share
    ]
    return ", ".join(shares)


def source_head(source: Source, names: Mapping[str, str]) -> str:
    """Name a source of kinship with its figure."""
    called = [names[end] for end in source.ends]
    if len(called) == 1:
        return f"{called[0]}, F {coefficient(source.figure)} as recorded"
    return f"{called[0]} and {called[1]}, stated kinship {coefficient(source.figure)}"


def source_sum(source: Source) -> str:
    """Say how much a source gives, by how many lines."""
    given = coefficient(source.contribution)
    if source.paths or source.lines == 1:
        return f"{given} by {count(source.lines, 'path')}"
    return (
        f"{given} by {count(source.lines, 'pair of lines', 'pairs of lines')}, the shortest path "
        f"with {count(source.shortest, 'animal')}"
    )


def path_words(path: Path, names: Mapping[str, str]) -> str:
    """Write a path from the one animal up to the ancestor, in brackets, and down to the other."""
    up = [names[name] for name in path.one_line]
    down = [names[name] for name in reversed(path.other_line)]
    if path.one_line[-1] == path.other_line[-1]:
        return " - ".join([*up[:-1], f"[{up[-1]}]", *down[1:]])
    middle = f"[{up[-1]}] ~ [{down[0]}]"
    return " - ".join([*up[:-1], middle, *down[1:]])


def path_sum(source: Source, path: Path) -> str:
    """Write what a path gives with its formula."""
    if len(source.ends) == 1:
        formula = f"(1/2)^{path.n} x (1 + {coefficient(source.figure)})"
    else:
        formula = f"(1/2)^({path.n} - 2) x {coefficient(source.figure)}"
    return f"n {path.n}: {formula} = {coefficient(path.contribution)}"


def grouped_line(pair: KinPair) -> str:
    """Say that lines are grouped, empty where each is listed."""
    paths = pair.paths
    if not paths.grouped:
        return ""
    lines = count(paths.lines, "pair of lines", "pairs of lines")
    return (
        f"{lines} join the two, more than {paths.limit}: they are grouped by ancestor, and the "
        "sums are exact."
    )


def sum_line(pair: KinPair) -> str:
    """Say that the paths add up to the kinship."""
    if not pair.paths.sources:
        return "No common ancestor is recorded."
    sources = count(len(pair.paths.sources), "source")
    return (
        f"Sum over {sources}: {coefficient(pair.paths.total)}; by the tabular method: "
        f"{coefficient(pair.phi)}."
    )


def collection_line(summary: KinSummary) -> str:
    """Say the collection's figures in one sentence."""
    animals = count(len(summary.animals), "animal")
    return (
        f"{animals}; mean kinship {summary.mean:.4f}. Of "
        f"{count(summary.pairs, 'pair')} of a female and a male "
        f"{count(summary.unrelated, 'has', 'have')} no recorded relationship."
    )


def founders_line(summary: KinSummary) -> str:
    """Say the founders' figures in one sentence."""
    text = (
        f"{count(len(summary.founders), 'founder')} recorded; effective number of founders "
        f"{summary.effective_founders:.1f}."
    )
    if summary.unknown_share:
        text += (
            f" Unknown parents of half-known animals gave {summary.unknown_share:.1%} of the genes."
        )
    return text


def completeness_line(summary: KinSummary) -> str:
    """Say how many animals have how many generations recorded in full."""
    if not summary.animals:
        return ""
    by_depth: dict[int, int] = {}
    for animal in summary.animals:
        by_depth[animal.generations] = by_depth.get(animal.generations, 0) + 1
    told = ", ".join(
        f"{depth or 'none'} behind {number}" for depth, number in sorted(by_depth.items())
    )
    return f"Generations recorded in full: {told}."


def outside_line(number: int) -> str:
    """Say that animals outside the collection are left out, their descent not."""
    verb = "is" if number == 1 else "are"
    return (
        f"{count(number, 'animal')} outside the collection {verb} left out of the means and "
        "counted as ancestors only."
    )
