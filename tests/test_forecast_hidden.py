"""Prices and wishes under looks that hide others, against a walk over every young there can be.

What a young is sold by is worked out here from the young themselves: those that look alike are laid
side by side, and what all of them have is known of each.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from brumal.forecast.sheets import Sheets, expected_value, hatchling_shares
from brumal.forecast.value import price_list, reduced
from brumal.genetics.crosses.cross import cross
from brumal.genetics.genotypes import SEX_GROUP, WILD, AllelePair, Genotype
from brumal.genetics.wishes import Need, Wish
from brumal.insight.sheets.young_odds import Clutch, wish_odds
from brumal.records.settings import BySex, Extra, Values, Wanted
from genes_for_tests import FEMALE, MALE, certain, pair
from test_genetics_masks import GENES, LOCI, SINGLE, every_young, parents, seen

Pairs = Mapping[str, AllelePair]
MORPHS: tuple[tuple[str, tuple[tuple[str, int], ...]], ...] = (
    # text, (gene, copies) asked; a het is one copy of a recessive
    ("Clown", (("Clown", 2),)),
    ("het Clown", (("Clown", 1),)),
    ("Pastel", (("Pastel", 1),)),
    ("Ivy Clown", (("Ivy", 2), ("Clown", 2))),
    ("Mojave", (("Mojave", 1),)),
    ("Super Mojave", (("Mojave", 2),)),
    ("Pinstripe Pastel", (("Pinstripe", 1), ("Pastel", 1))),
    ("Dusk", (("Dusk", 1),)),
)


def wish(text: str, asked: tuple[tuple[str, int], ...]) -> Wish:
    needs = []
    for gene, copies in asked:
        alleles = [WILD, *(name for name, (at, _) in SINGLE.items() if at == SINGLE[gene][0])]
        pairs = {
            (min(both), max(both))
            for both in itertools.product(alleles, repeat=2)
            if both.count(gene) >= copies
        }
        needs.append(Need(locus=SINGLE[gene][0], pairs=frozenset(pairs), unseen="het" in text))
    return Wish(
        text=text,
        needs=tuple(sorted(needs, key=lambda need: need.locus)),
        genes=frozenset(gene for gene, _ in asked),
    )


def hidden_loci(pairs: Pairs) -> set[str]:
    look = seen(pairs)
    if look[0] == "blue-eyed":
        return set(LOCI) - {"bel"}
    if look[0] == "white":
        return set(LOCI) - {"ivy"}
    return {"pinstripe", "bel"} if look[0] == "black" else set()


def copies(pairs: Pairs, gene: str) -> int:
    return pairs[SINGLE[gene][0]].count(gene)


def sold(pairs: Pairs, alike: list[Pairs], asked: tuple[tuple[str, int], ...], text: str) -> bool:
    """Say whether a young of these genes, and these that look like it, is sold as a morph."""
    hidden = hidden_loci(pairs)
    for gene, wanted in asked:
        if SINGLE[gene][0] not in hidden or "het" in text:
            if copies(pairs, gene) < wanted:
                return False
        elif any(copies(other, gene) < wanted for other in alike):
            return False
    return True


def extras(pairs: Pairs, alike: list[Pairs], named: set[str], prices: Extra) -> float:
    """Return what visuals and hets beyond those named add."""
    total = 0.0
    hidden = hidden_loci(pairs)
    for gene, (locus, _) in SINGLE.items():
        if gene in named or not copies(pairs, gene):
            continue
        visual = 2 if gene == "Clown" else 1
        shows = [copies(other, gene) >= visual for other in alike]
        if all(shows) if locus in hidden else copies(pairs, gene) >= visual:
            total += prices.visual.get(gene, 0.0)
        elif gene == "Clown":
            total += prices.het.get(gene, 0.0)
    return total


@st.composite
def price_lists(draw: st.DrawFn) -> Values:
    chosen = draw(st.lists(st.sampled_from([text for text, _ in MORPHS]), max_size=4, unique=True))
    money = st.sampled_from([20.0, 90.0, 170.0, 400.0])
    wanted = tuple(
        Wanted(
            morph=text,
            value=draw(st.one_of(money, st.builds(BySex, female=money, male=money))),
        )
        for text in chosen
    )
    genes = st.dictionaries(st.sampled_from(sorted(SINGLE)), st.sampled_from([5.0, 12.0, 60.0]))
    extra = Extra(visual=draw(genes), het=draw(st.sampled_from([{}, {"Clown": 30.0}])))
    return Values(base=draw(st.sampled_from([0.0, 10.0])), wanted=wanted, extra=extra)


def white_pair() -> tuple[Genotype, Genotype]:
    """Two white parents: young that are not blue-eyed have one Mojave for certain, unseen."""
    made = []
    for sex, mojaves in ((FEMALE, 2), (MALE, 1)):
        groups = {locus: certain(pair(WILD, WILD)) for locus in LOCI}
        alleles = ["Mojave"] * mojaves + [WILD] * (2 - mojaves)
        groups |= {"bel": certain(pair(*alleles)), "ivy": certain(pair("Ivy", "Ivy"))}
        made.append(Genotype({SEX_GROUP: certain(sex), **groups}))
    return made[0], made[1]


@settings(max_examples=40, deadline=None)
@given(parents(), price_lists())
@example(
    white_pair(),
    Values(
        base=10.0, wanted=(Wanted(morph="Mojave", value=90.0),), extra=Extra(visual={"Mojave": 5.0})
    ),
)
def test_prices_against_every_young(both: tuple[Genotype, Genotype], values: Values) -> None:
    dam, sire = both
    young = list(every_young(dam, sire))
    by_look: dict[object, list[Pairs]] = defaultdict(list)
    for pairs, _ in young:
        by_look[seen(pairs)].append(pairs)
    asked = dict(MORPHS)
    expected, fits = 0.0, dict.fromkeys([w.morph for w in values.wanted], 0.0)
    for (pairs, chance), sex in itertools.product(young, ("female", "male")):
        alike = by_look[seen(pairs)]
        offers = [values.base + extras(pairs, alike, set(), values.extra)]
        for entry in values.wanted:
            if sold(pairs, alike, asked[entry.morph], entry.morph):
                fits[entry.morph] += chance / 2
                price = entry.value
                money = getattr(price, sex) if isinstance(price, BySex) else price
                named = {gene for gene, _ in asked[entry.morph]}
                offers.append(money + extras(pairs, alike, named, values.extra))
        expected += chance / 2 * max(offers)

    wishes = tuple(wish(entry.morph, asked[entry.morph]) for entry in values.wanted)
    fitting = tuple(range(1, len(wishes) + 1))
    offspring = cross(dam, sire, GENES)
    for whole in (False, True):
        prices = price_list(values, wishes, GENES, fitting=fitting, whole=whole)
        tables = [reduced(prices, odds) for odds in offspring.groups if odds.group in prices.groups]
        assert expected_value(Sheets(prices), tables) == pytest.approx(expected, abs=1e-9)
        shares = hatchling_shares(Sheets(prices), tables)
        chances = [float(row[0] @ shares.weights[0]) for row in shares.fits]
        assert chances == pytest.approx(list(fits.values()), abs=1e-9)
    told = wish_odds(Clutch(offspring, np.array([0.0, 1.0]), GENES), wishes)
    assert [row.chances.each for row in told] == pytest.approx(list(fits.values()), abs=1e-9)
