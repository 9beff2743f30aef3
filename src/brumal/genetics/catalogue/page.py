"""The catalogue as a page to read: ``docs/genes.md``.

``python -m brumal.genetics.catalogue.page docs/genes.md`` writes it anew from the shipped
``genes.yaml``; a test holds the page to it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import COMMON_PRACTICE, Catalogue, Mask, WelfareNote
from brumal.genetics.genotypes import SEX_LOCUS, AllelePair
from brumal.genetics.notation.naming import name_of
from brumal.genetics.notation.parse import format_morph, parse_morph
from brumal.genetics.welfare import genotype_name

_INTRODUCTION = """\
# Genes, combination names and welfare notes

Made from `src/brumal/genetics/catalogue/genes.yaml` by `python -m brumal.genetics.catalogue.page
docs/genes.md`; change the data, not this page.

An entry without a number is **common practice, no source**: what keepers hold, not what a paper
shows. A number stands for a source at the end of the page. `[source read]` was read in the
publication's abstract or text, `[source from memory]` was recalled and should be checked before it
is quoted. Association of a gene with a trade name in pet snakes does not prove that every line of
that name is the same gene.
"""

_OWN_GENES = """\
## Genes of your own

A `genes.yaml` in the season folder has the same form as the shipped one. Its entries join the
catalogue or take the place of the entry with the same name; each is told with a notice.

```yaml
genes:
  - {name: Axanthic, inheritance: recessive}          # the only line you keep
  - {name: Frostbite, inheritance: incomplete dominant, super: Blizzard, aliases: [FB]}
  - {name: Ember, locus: frostbite, inheritance: incomplete dominant}   # allelic with Frostbite
linkage:
  - {group: sex, loci: [sex, banana], recombination: [0.03]}            # your own figure
combinations:
  - {name: Glacier, parts: Frostbite Pastel}
  - {name: White Frost, any_of: [Super Frostbite, Ember Frostbite]}     # either, not said which
hides:
  - {looks: [White Frost], genes: all, but: [Scaleless Head]}           # what it hides
  - {looks: [Crystal], genes: []}                                       # hides nothing after all
welfare:
  - {harm: shape, carries: {Frostbite: 2}, text: Kinked tails in two of nine young.}
```

A gene without a `locus` has one of its own, named after it in small letters. A locus that bears
the name of none of its genes is declared under `loci:`. A name that has several meanings here has
one as soon as an entry of yours bears it.
"""

_HIDES = """\
## Looks that hide others

The first of two in this list is the one that is seen. What a look hides is no evidence, neither for
nor against, and is not sold by the look: a young is sold by what can be seen and by what is certain
from its parents (a white young of two Clowns is known to be one), a het by its chance. `hides:` in
your own `genes.yaml` adds looks or takes one back (`genes: []`).
"""


_WELFARE = """\
## Welfare notes

Lethal and neurological notes are **left out of every plan** by default. An entry of
`rules.accept_welfare` in `season.yaml` lifts exactly the notes on the genotype that it names:
`Spider` lifts the note on one copy of Spider, not the one on `Super Spider` nor the one on
`Champagne Spider`. Young under them are worth nothing in a plan even then, and those under a lethal
one do not hatch. A note that needs genes of several linkage groups takes its share of the young,
as if it were independent of all else about them.

Notes on **laying and fertility** bar the animal itself, until a vet has cleared it of the genotype
(an event `cleared`, [files.md](files.md)) and `rules.accept_welfare` names it. `fertile` of such a
note is the share of the usual fertility that the forecast takes. The other notes are cautions. A
licensed veterinarian decides on health, local law on breeding and sale of snakes with known
disorders.
"""


_NOTATION = """\
## How a morph is written

As keepers write it; case, hyphens, commas and spacing do not matter. `het` and a percentage hold
for every gene after them until the next `het`, percentage or `visual`. `66%` is exactly 2/3, `33%`
exactly 1/3; any other figure is taken as written. A percentage may stand behind its gene where
nothing but a comma follows. `possible` without a figure has the one set as `notation.possible` in
`season.yaml`, else the tool asks. Longest name first: `Desert Ghost` is the gene
of that name, `Desert, Ghost` are two.
"""

_EXAMPLES = (
    ("pastel super-mojave", "one copy of Pastel, two of Mojave"),
    ("Clown het Pied", "Clown shows, one copy of Piebald is hidden"),
    ("DH Clown Pied", "one hidden copy of each"),
    ("66% poss het Clown", "a hidden copy with probability 2/3"),
    ("het Clown 66%", "the same"),
    ("Possible Yellow Belly 50%", "it may be there: a gene that shows is no het"),
    ("het Axanthic (VPI)", "a line in brackets"),
    ("Lesser Mojave", "one copy of each of two alleles of one locus"),
    ("Ivory", "two copies of Yellow Belly"),
    ("Blue Eyed Leucistic", "two alleles of the series, not known which"),
    ("BEL (Lesser Mojave)", "known after all"),
    ("Bumblebee het Clown", "a combination name and a het"),
    ("Pinstripe", "one or two copies: a dominant looks the same"),
    ("Super Pinstripe", "two copies for certain"),
    ("[+/Pinstripe]", "one copy for certain"),
    ("[clown: +/+]", "certainly no copy at the locus clown"),
    ("Banana (male maker)", "a male's Banana lies on his Y: most sons get it"),
    ("Banana on X", "it lies on his X: most daughters get it"),
    ("Normal", "no known genes"),
)
"""What a keeper may write, and what it means."""


def genes_page(catalogue: Catalogue) -> str:
    """Return the page for a catalogue, in Markdown."""
    sources = _Sources()
    parts = [
        _INTRODUCTION,
        _notation(catalogue),
        _genes(catalogue, sources),
        _series(catalogue),
        _linkage(catalogue, sources),
        _combinations(catalogue, sources),
        _shared_looks(catalogue),
        _many_meanings(catalogue),
        _hiding(catalogue, sources),
        _WELFARE,
        _notes(catalogue, sources),
        _OWN_GENES,
        sources.listed(),
    ]
    return "\n".join(parts)


class _Sources:
    """Numbers each source at its first use."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def mark(self, source: str) -> str:
        """Return the number of a source in brackets, nothing for common practice."""
        if source == COMMON_PRACTICE:
            return ""
        return f"[{self._numbers.setdefault(source, len(self._numbers) + 1)}]"

    def listed(self) -> str:
        """Return the list of the sources used."""
        lines = (f"{number}. {source}" for source, number in self._numbers.items())
        return "\n".join(["## Sources", "", *lines, ""])


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Return the lines of a table in Markdown."""
    return [
        f"| {' | '.join(heads)} |",
        f"|{'|'.join('---' for _ in heads)}|",
        *(f"| {' | '.join(cells)} |" for cells in rows),
        "",
    ]


def _notation(catalogue: Catalogue) -> str:
    rows = []
    for text, meaning in _EXAMPLES:
        morph, _ = parse_morph(text, catalogue)
        canonical = format_morph(morph, catalogue) if morph else "a fault"
        rows.append((f"`{text}`", meaning, f"`{canonical}`"))
    return "\n".join([_NOTATION, *table(("written", "means", "written by the tool"), rows)])


def _genes(catalogue: Catalogue, sources: _Sources) -> str:
    rows = [
        (
            allele.name,
            allele.locus,
            str(allele.inheritance),
            allele.super_name if allele.super_name != allele.name else "",
            ", ".join(allele.aliases),
            sources.mark(allele.source),
        )
        for allele in catalogue.alleles.values()
    ]
    notes: dict[str, list[str]] = {}
    for allele in catalogue.alleles.values():
        if allele.note:
            notes.setdefault(allele.note, []).append(allele.name)
    remarks = [f"- {', '.join(names)}: {note}" for note, names in notes.items()]
    heads = ("gene", "locus", "inheritance", "two copies", "also written", "source")
    return "\n".join([f"## Genes ({len(rows)})", "", *table(heads, rows), *remarks, ""])


def _series(catalogue: Catalogue) -> str:
    lines = [
        f"- {locus}: {', '.join(alleles)}"
        for locus, alleles in catalogue.loci.items()
        if len(alleles) > 1
    ]
    head = (
        "Genes of one series stand at one locus: a snake carries at most two of them, and one of\n"
        "each shows.\n"
    )
    return "\n".join(["## Series of alleles", "", head, *lines, ""])


def _linkage(catalogue: Catalogue, sources: _Sources) -> str:
    rows = [
        (
            group.id,
            " - ".join(group.loci),
            ", ".join(f"{fraction:g}" for fraction in group.recombination),
            sources.mark(group.source),
        )
        for group in catalogue.groups.values()
        if len(group.loci) > 1 or SEX_LOCUS in group.loci
    ]
    heads = ("group", "loci in order", "recombination fraction between neighbours", "source")
    return "\n".join(["## Linkage", "", *table(heads, rows)])


def _combinations(catalogue: Catalogue, sources: _Sources) -> str:
    rows = [
        (found.name, found.parts, ", ".join(found.aliases), sources.mark(found.source))
        for found in catalogue.combinations.values()
        if found.parts
    ]
    heads = ("name", "genes", "also written", "source")
    return "\n".join([f"## Combination names ({len(rows)})", "", *table(heads, rows)])


def _shared_looks(catalogue: Catalogue) -> str:
    found = [each for each in catalogue.combinations.values() if each.any_of]
    rows = [
        (each.name, ", ".join(each.aliases), each.locus, "; ".join(each.any_of)) for each in found
    ]
    head = (
        "The name stands for any of these; parents and young tell which. A wish for the name is\n"
        "met by each of them.\n"
    )
    notes = [f"- {each.name}: {each.note}" for each in found if each.note]
    heads = ("name", "also written", "locus", "any of")
    title = f"## Names of a look that several make-ups share ({len(rows)})"
    return "\n".join([title, "", head, *table(heads, rows), *notes, ""])


def _many_meanings(catalogue: Catalogue) -> str:
    rows = [
        (found.name, ", ".join(found.aliases), "; ".join(found.readings))
        for found in catalogue.combinations.values()
        if found.readings
    ]
    head = "These are never guessed at: where one stands in a file, the tool asks which is meant.\n"
    heads = ("name", "also written", "may mean")
    title = f"## Names with more than one meaning ({len(rows)})"
    return "\n".join([title, "", head, *table(heads, rows)])


def _hiding(catalogue: Catalogue, sources: _Sources) -> str:
    rows = [
        (
            ", ".join(sorted(_pair_name(mask.locus, pair, catalogue) for pair in mask.pairs)),
            _hidden_loci(mask, catalogue),
            mask.note,
            sources.mark(mask.source),
        )
        for mask in catalogue.masks
    ]
    heads = ("look", "hides", "remark", "source")
    return "\n".join([_HIDES, *table(heads, rows)])


def _pair_name(locus: str, pair: AllelePair, catalogue: Catalogue) -> str:
    return name_of({locus: pair}, catalogue)


def _hidden_loci(mask: Mask, catalogue: Catalogue) -> str:
    seen = sorted(set(catalogue.loci) - mask.hides - {mask.locus})
    if len(seen) < len(mask.hides):
        return f"all other loci but {', '.join(seen)}"
    return ", ".join(sorted(mask.hides))


def _notes(catalogue: Catalogue, sources: _Sources) -> str:
    def row(note: WelfareNote) -> tuple[str, ...]:
        return (
            genotype_name(note, catalogue),
            str(note.harm) + (f" ({note.sex}s)" if note.sex else ""),
            _in_a_plan(note),
            note.text,
            sources.mark(note.source),
        )

    heads = ("genotype", "kind", "in a plan", "what is reported", "source")
    return "\n".join(table(heads, (row(note) for note in catalogue.welfare)))


def _in_a_plan(note: WelfareNote) -> str:
    if note.excluded:
        return "left out"
    return "bars the animal itself" if note.bars_animal else "caution"


def main(arguments: Sequence[str]) -> None:
    """Write the page of the shipped catalogue to the file named."""
    (target,) = arguments
    Path(target).write_text(genes_page(load_catalogue()[0]), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
