"""The keeper's statements by id: each limit, lock and wish that a season can be asked without."""

from __future__ import annotations

BOXES, TUBS = "boxes", "tubs"
SPEND, RESTING, KIN = "spend", "resting", "max_kept_kinship"


def male_statement(sire: str) -> str:
    """Return the id of the statement that limits one male's pairings."""
    return f"pairings_per_male[{sire}]"


def must_statement(dam: str, sire: str) -> str:
    """Return the id of the statement that a pair must be made."""
    return f"must_pair[{dam} x {sire}]"


def share_statement(sire: str) -> str:
    """Return the id of the statement that limits one sire's share of the young held back."""
    return f"sire_share[{sire}]"


def chance_statement(wish: str) -> str:
    """Return the id of the statement that a chance wish must be met."""
    return f"chance[{wish}]"
