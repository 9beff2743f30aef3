"""The verdict of a rule: passed or failed, the figures, and what would change it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum


class Rank(IntEnum):
    """How much a caution matters: what can hurt an animal comes first and is told whole."""

    HARM = 0
    BODY = 1
    REST = 2
    RECORD = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleVerdict:
    """What one rule says of one animal or of one pair.

    ``text`` is a whole sentence with the figures in it, ``remedy`` says what would change the
    verdict (grams missing, the date), empty when nothing would. ``passed`` with a ``caution`` means
    that the animal may breed but the keeper should look. A soft rule that fails passes with its
    ``penalty`` (money a pairing) instead. Among ``figures``, ``missing`` is the shortfall in the
    rule's unit and ``ready`` the ISO day on which the rule should be met, where either is known; a
    day that is no more than ``likely`` is told apart.
    ``rank`` orders cautions. A caution that many animals may share has ``shared`` words (what is
    so, then what to do), and a ``detail`` that stands behind the name of this one.
    """

    rule: str
    subject: tuple[str, ...]
    passed: bool
    text: str
    remedy: str = ""
    caution: bool = False
    penalty: float = 0.0
    rank: Rank = Rank.HARM
    shared: str = ""
    detail: str = ""
    figures: Mapping[str, float | str] = field(default_factory=dict)
