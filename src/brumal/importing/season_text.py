"""``season.yaml`` with what a book gives, and comments for what only the keeper can say."""

from __future__ import annotations

import json
from datetime import date

from brumal.importing.understand import Understood

_SEASON = """\
# The season's settings, begun by `brumal import`. A line that starts with # is a comment.
# A key that is left out has its default; docs/files.md lists them all.

season:
  name: {name}
  pair_from: {start}    # first day on which a pair may be put together: not in the book
  pair_to: {end}      # last day: not in the book

"""
_ROOM = """
# What there is room for. Without a limit: leave the key out.
limits:
"""
_REST = """
# What a pairing, an egg and a hatchling raised to sale cost you.
# costs: {pairing: 5, egg: 1, hatchling: 12}

# What is already decided, by id or name. A pair is [dam, sire].
# locks:
#   must_pair: []
#   never_pair: []
#   sit_out: []
#   already_paired: []
"""


def season_text(understood: Understood, name: str, on: date) -> str:
    """Return ``season.yaml`` for the winter that comes after a day, or runs on it."""
    start = date(on.year if on.month > 3 else on.year - 1, 12, 1)
    end = date(start.year + 1, 3, 31)
    text = _SEASON.format(name=json.dumps(name, ensure_ascii=False), start=start, end=end)
    listed = understood.prices
    if listed.currency:
        text += f"currency: {json.dumps(listed.currency)}    # only written beside sums\n"
    else:
        text += "# currency: EUR         # only written beside sums; the book names none\n"
    return text + _limits(understood) + _values(understood) + _REST


def _limits(understood: Understood) -> str:
    lines = []
    for key, what in (("boxes", "boxes in the incubator"), ("tubs", "tubs for hatchlings")):
        number = understood.limits.get(key, "")
        told = f"  {key}: {number}" if number else f"  # {key}: 10"
        note = what if number else f"{what}: not in the book"
        lines.append(f"{told:<24}# {note}")
    lines.append(
        "  # weekly: 0.9         # no week lacks a box with this chance; false: all at once"
    )
    lines.append("  # pairings_per_male: 3  # females a male; by his age and weight if left out")
    if not understood.limits:
        return _ROOM.replace("limits:", "# limits:") + "\n".join(lines) + "\n"
    return _ROOM + "\n".join(lines) + "\n"


def _values(understood: Understood) -> str:
    listed = understood.prices.prices
    head = "\n# What a hatchling is worth to you, by morph.\n"
    if not listed:
        return (
            f"{head}# The book holds no price list: without prices every pair is worth nothing.\n"
            "# values:\n#   base: 30\n#   wanted:\n#     - {morph: Clown, value: 250}\n"
        )
    base = [each for each in listed if each.morph == "Normal"]
    lines = [f"{head}values:"]
    if base and base[0].value:
        lines.append(f"  base: {base[0].value}              # one that is none of those below")
    else:
        lines.append("  # base: 30              # one that is none of those below: not in the book")
    lines.append("  wanted:")
    for each in listed:
        if each.morph == "Normal" and each.value:
            continue
        value = each.value or f"{{female: {each.female}, male: {each.male}}}"
        lines.append(
            f"    - {{morph: {json.dumps(each.morph, ensure_ascii=False)}, value: {value}}}"
        )
    if lines[-1] == "  wanted:":
        lines.pop()
    return "\n".join(lines) + "\n"
