"""The keeper's wishes as the planner counts them: saturating terms and chances.

``need`` with ``value_after``, and ``keep``, both come to "each counted young beyond so many loses
so much". Where the loss differs by sex, the cheaper loss counts all young of the entry and the
rest of the dearer one counts the young of that sex: a keeper sells first what would lose most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from brumal.forecast.price_lines import FEMALE, MALE, base_by_sex, by_sex
from brumal.planner.problem import ChanceWish, WishTerm
from brumal.records.settings import Keep, Values, Wanted

_SEX_AXIS = {"female": (FEMALE,), "male": (MALE,), None: (FEMALE, MALE)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """A wish term with the young it counts: sold under one of ``entries`` and of these ``sexes``.

    ``full_extra`` is money each counted young adds before any surplus is taken off; ``kept`` says
    that they are held back.
    """

    term: WishTerm
    entries: tuple[int, ...]
    sexes: tuple[int, ...]
    full_extra: float = 0.0
    kept: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceCounted:
    """A chance wish with the entry whose young it counts, sold under it or not."""

    wish: ChanceWish
    entry: int


def counted_terms(values: Values) -> tuple[Counted, ...]:
    """Return the saturating terms of all wanted entries; entry 0 is the base price."""
    found: list[Counted] = []
    for entry, wanted in enumerate(values.wanted, start=1):
        if wanted.need is not None:
            found += _need_terms(entry, wanted, wanted.need, base_by_sex(values))
        if wanted.keep is not None:
            found += _keep_terms(entry, wanted, wanted.keep)
    names = [wanted.morph for wanted in values.wanted]
    for number, market in enumerate(values.markets, start=1):
        term = WishTerm(
            id=f"market[{number}]",
            words=f"{', '.join(market.morphs)}: buyers for {market.need}, each further one is "
            f"worth {market.less:,.2f} less",
            threshold=market.need,
            cost=market.less,
        )
        entries = tuple(names.index(morph) + 1 for morph in market.morphs)
        found.append(Counted(term=term, entries=entries, sexes=(FEMALE, MALE)))
    return tuple(found)


def chance_terms(values: Values) -> tuple[ChanceCounted, ...]:
    """Return the chance wishes of all wanted entries."""
    return tuple(
        ChanceCounted(
            wish=ChanceWish(
                id=f"{entry}: {wanted.morph}",
                words=f"at least one {wanted.morph} with a chance of "
                f"{100 * wanted.chance:.6g}% or more",
                at_least=wanted.chance,
            ),
            entry=entry,
        )
        for entry, wanted in enumerate(values.wanted, start=1)
        if wanted.chance is not None
    )


def _need_terms(
    entry: int, wanted: Wanted, need: int, base: tuple[float, float]
) -> Sequence[Counted]:
    after = base if wanted.value_after is None else by_sex(wanted.value_after)
    full = by_sex(wanted.value)
    loss = [0.0 if math.isinf(full[sex]) else full[sex] - after[sex] for sex in (FEMALE, MALE)]
    sold = [sex for sex in (FEMALE, MALE) if math.isfinite(full[sex])]
    least = min(loss[sex] for sex in sold)
    terms = [_need_term(entry, wanted, need, least, tuple(sold), "")]
    for sex, name in ((FEMALE, " female"), (MALE, " male")):
        if sex in sold and loss[sex] > least:
            terms.append(_need_term(entry, wanted, need, loss[sex] - least, (sex,), name))
    return [counted for counted in terms if counted.term.cost > 0]


def _need_term(
    entry: int, wanted: Wanted, need: int, cost: float, sexes: tuple[int, ...], name: str
) -> Counted:
    term = WishTerm(
        id=f"need[{entry}: {wanted.morph}{name}]",
        words=f"{wanted.morph}: {need} needed, each further{name} one is worth {cost:,.2f} less",
        threshold=need,
        cost=cost,
    )
    return Counted(term=term, entries=(entry,), sexes=sexes)


def _keep_terms(entry: int, wanted: Wanted, keep: Keep) -> Sequence[Counted]:
    """Return what holding back adds to the price of a sale.

    Where a young will bring or save so much (``worth``), that is what it lacks of it, never less
    than nothing. Where it differs by sex, the smaller gain counts all young and the rest of the
    larger one those of that sex: a keeper holds back first what gains most.
    """
    if keep.worth is None:
        return (_keep_term(entry, wanted, keep, keep.extra, keep.sex),)
    price = dict(zip(("female", "male"), by_sex(wanted.value), strict=True))
    gains = {
        name: max(0.0, keep.worth - price[name])
        for name in ("female", "male")
        if keep.sex in (None, name) and math.isfinite(price[name])
    }
    least = min(gains.values(), default=0.0)
    whole = keep.sex or (next(iter(gains)) if len(gains) == 1 else None)
    terms = [_keep_term(entry, wanted, keep, least, whole)]
    terms += [
        _keep_term(entry, wanted, keep, more - least, name, kept=False)
        for name, more in gains.items()
        if more > least
    ]
    return terms


def _keep_term(
    entry: int, wanted: Wanted, keep: Keep, extra: float, only: str | None, kept: bool = True
) -> Counted:
    sex = f"{only} " if only else ""
    more = "" if kept else f", {only}"
    term = WishTerm(
        id=f"keep[{entry}: {wanted.morph}{more}]",
        words=f"{wanted.morph}: the first {keep.count} {sex}kept bring {extra:,.2f} more each",
        threshold=keep.count,
        cost=extra,
    )
    return Counted(term=term, entries=(entry,), sexes=_SEX_AXIS[only], full_extra=extra, kept=kept)
