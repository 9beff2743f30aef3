"""Templates of the planning page: every text escaped and inert, one style, one small script."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from starlette.responses import Response

from brumal import __version__
from brumal.report.page import environment, style


def page(template: str, **values: object) -> Response:
    """Fill a template as an answer."""
    return Response(fill(template, **values), media_type="text/html")


def fill(template: str, **values: object) -> str:
    """Fill a template of ``page/templates``; all text is escaped."""
    text = environment("brumal.page").get_template(template)
    return text.render(version=__version__, **values)


@cache
def stylesheet() -> str:
    """Return the style of the printed plan, and what the living page adds to it."""
    return style() + _static("page.css")


@cache
def script() -> str:
    """Return the page's one script."""
    return _static("page.js")


def _static(name: str) -> str:
    return files("brumal.page").joinpath("static", name).read_text("utf-8")
