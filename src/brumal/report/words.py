"""Figures as people read them: money, shares, dates; the same in every report."""

from __future__ import annotations

from fractions import Fraction

from brumal.records.plain_values import sure_money

SURELY_NOT = 1e-9
"""A male less likely than this is not named as a sire: the young have ruled him out."""


def money(amount: float, currency: str) -> str:
    """Write money as in ``1,234.50 EUR``."""
    return f"{amount + 0.0:,.2f} {currency}"


def estimate(amount: float, currency: str, spread: float = 0.0) -> str:
    """Write money that is an estimate in the digits that are sure, as in ``20,800 EUR``.

    ``spread`` is how far it may come out either way; see ``sure_money``. What is stated or paid is
    written by ``money``, to the cent.
    """
    return f"{sure_money(amount, spread)} {currency}"


def difference(amount: float, spread: float = 0.0) -> str:
    """Write a difference of estimates with its sign, as in ``+35``; none is plain."""
    if abs(amount) < 0.005:
        return "0"
    return f"{'+' if amount > 0 else '-'}{sure_money(abs(amount), spread)}"


def percent(share: float) -> str:
    """Write a share as a percentage; small ones keep a decimal, none is rounded to 0 or 100."""
    if share in (0, 1):
        return f"{share:.0%}"
    if share < 0.001:
        return "<0.1%"
    if share > 0.999:
        return ">99.9%"
    return f"{share:.1%}" if share < 0.1 or share > 0.95 else f"{share:.0%}"


def odds(share: float) -> str:
    """Return a share as ``1 in 16`` where it is a plain fraction, else in per cent."""
    near = Fraction(share).limit_denominator(256)
    if abs(float(near) - share) < 1e-9 and near.numerator <= 9:
        return f"{near.numerator} in {near.denominator}" if near != 1 else "all"
    return percent(share)


def counted(number: int, one: str, many: str = "") -> str:
    """Write a count with its word: ``1 pair``, ``3 pairs``; ``many`` where an s does not do."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def figure(number: float) -> str:
    """Write a number with at most two decimals and no trailing zeros."""
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def inbreeding(coefficient: float) -> str:
    """Write an inbreeding coefficient with four decimals, zero plainly."""
    return "0" if coefficient == 0 else f"{coefficient:.4f}"


def visible(text: str, kept: str = "") -> str:
    """Show control characters, so that none acts: a bell as its picture U+2407, others as U+FFFD.

    Tabs and line breaks become spaces, save those in ``kept``. Marks that turn the direction of
    all that follows count as control characters; letters of any direction stay.
    """
    if text.isprintable():
        return text
    return "".join(letter if letter in kept else _shown(letter) for letter in text)


def _shown(letter: str) -> str:
    code = ord(letter)
    if letter in "\t\n\r":
        return " "
    if code < 0x20:
        return chr(0x2400 + code)
    return "\N{REPLACEMENT CHARACTER}" if letter in _HIDDEN else letter


_HIDDEN = frozenset(
    map(chr, [*range(0x7F, 0xA0), *range(0x202A, 0x202F), *range(0x2066, 0x206A), 0xFFFE, 0xFFFF])
)
