"""Parts of a report on the terminal: headings and items that wrap under themselves."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text


def heading(text: str, screen: Console) -> None:
    """Print a heading after an empty line."""
    screen.print()
    screen.print(text, style="bold")


def item(text: str, screen: Console) -> None:
    """Print one item of a list."""
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 1))
    table.add_column(width=2)
    table.add_column()
    table.add_row(" -", text)
    screen.print(table)


def indented(text: str, screen: Console, by: int = 4, lead: str = "") -> None:
    """Print a text that wraps under its own indent, the first line behind ``lead`` if given."""
    screen.print(Text("\n").join(wrapped(text, screen, lead or " " * by)), soft_wrap=True)


def and_more(number: int, screen: Console) -> None:
    """Say how many more the page has, if any."""
    if number > 0:
        screen.print(f"and {number} more, on the page.")


def wrapped(text: str, screen: Console, lead: str) -> list[Text]:
    """Return the lines of a text, the first behind ``lead``, the others behind as many blanks."""
    lines = screen.render_str(text).wrap(screen, screen.width - len(lead))
    for line in lines:
        line.rstrip()
    return [Text(lead if at == 0 else " " * len(lead)) + line for at, line in enumerate(lines)]
