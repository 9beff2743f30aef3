"""Which column a heading most likely means: by the word, else by a near miss of its spelling."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.records.faults import nearest

OTHER_WORDS = {
    **dict.fromkeys(("dad", "father", "male_parent"), "sire"),
    **dict.fromkeys(("mum", "mom", "mother", "female_parent"), "dam"),
    **dict.fromkeys(("born", "dob", "birth", "birthday", "hatch", "hatch_date"), "hatched"),
    **dict.fromkeys(("gender", "m_f"), "sex"),
    **dict.fromkeys(("genes", "genetics", "mutation"), "morph"),
    **dict.fromkeys(("weight", "wt", "grams", "weight_in_g"), "weight_g"),
    **dict.fromkeys(("weight_date", "weighed_on"), "weighed"),
    **dict.fromkeys(("remarks", "comments", "comment"), "notes"),
    **dict.fromkeys(("no", "number", "ref", "animal_id", "snake_id"), "id"),
}
SHORT, CLOSE_WHEN_SHORT, CLOSE = 4, 0.75, 0.6


def likely_column(name: str, absent: Sequence[str]) -> str:
    """Return the column that a heading (in the form of ``column_name``) means, or nothing.

    Only a column that the table does not have yet is suggested; a word that means another column
    is no near miss of this one (``dad`` is not ``dam``).
    """
    if name in OTHER_WORDS:
        return OTHER_WORDS[name] if OTHER_WORDS[name] in absent else ""
    cutoff = CLOSE_WHEN_SHORT if len(name) <= SHORT else CLOSE
    close = nearest(name, absent, count=1, cutoff=cutoff)
    return close[0] if close else ""
