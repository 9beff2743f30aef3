"""What every page gets: days that stay on one line."""

from __future__ import annotations

from brumal.report.page import _unbroken


def test_days_stay_whole_in_text_and_nowhere_else() -> None:
    day = '<span class="day">2026-11-08</span>'
    assert _unbroken("<p>On 2026-11-08, a Sunday.</p>") == f"<p>On {day}, a Sunday.</p>"
    assert _unbroken("<td>2026-11-08</td>") == f"<td>{day}</td>"
    for kept in (
        '<p data-label="2026-11-08">x</p>',
        "<style>a{content:'2026-11-08'}</style>",
        "<title>From 2026-11-08</title>",
        "<svg><text>2026-11-08</text></svg>",
        "<p>12026-11-08 and 2026-11-081 and F-2026-11-08</p>",
    ):
        assert _unbroken(kept) == kept
