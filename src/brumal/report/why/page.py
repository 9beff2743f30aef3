"""Explanations as one page."""

from __future__ import annotations

from brumal.insight.why.whole import WholeWhy
from brumal.report.bidi import isolator
from brumal.report.page import picture, render
from brumal.report.why import words as why_words
from brumal.report.why import worth_words
from brumal.report.why.pictures import price_picture
from brumal.report.words import estimate


def why_page(why: WholeWhy) -> str:
    """Return ``why.html``: self-contained, no script, no network."""
    subject = why.subject
    some, nothing = worth_words.told_prices(why.prices or ())
    drawn = price_picture(some, subject)
    return render(
        "why.html",
        why=why,
        subject=subject,
        value=estimate(subject.value, subject.currency, subject.spread),
        told=isolator([*subject.names.values(), subject.season]),
        words=why_words,
        worth=worth_words,
        prices=some,
        nothing=worth_words.nothing_line(nothing, subject),
        drawn=picture(drawn) if drawn else "",
    )
