"""The picture of shadow prices: a bar for each, its figure beside it."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.insight.why.shadow_prices import ShadowPrice
from brumal.insight.why.whole import Subject
from brumal.report.svg import Picture, shorten
from brumal.report.why.worth_words import price_name

WIDTH = 360.0
ROW = 30.0
LEFT, RIGHT = 2.0, 300.0
MOST = 12


def price_picture(prices: Sequence[ShadowPrice], subject: Subject) -> Picture | None:
    """Draw what the changes worth most bring; ``None`` where nothing is worth anything."""
    shown = [price for price in prices if price.gain > 0][:MOST]
    if not shown:
        return None
    told = "; ".join(f"{price_name(each, subject)} {each.gain:,.2f}" for each in shown)
    picture = Picture(
        WIDTH, ROW * len(shown) + 4, f"What more of a thing is worth in {subject.currency}", told
    )
    longest = shown[0].gain
    for number, price in enumerate(shown):
        y = ROW * number + 13
        width = max(1.0, (RIGHT - LEFT) * price.gain / longest)
        picture.text(LEFT, y, shorten(price_name(price, subject), 54))
        picture.add("rect", x=LEFT, y=y + 4, width=width, height=9, class_="fill-one")
        picture.text(LEFT + width + 5, y + 12, f"{price.gain:,.0f}", "small")
    return picture
