"""The page that every report stands on: one self-contained HTML file, no script, no network."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from brumal import __version__
from brumal.report.svg import Picture
from brumal.report.words import visible


def render(template: str, **values: object) -> str:
    """Fill a template of ``report/templates`` that extends ``page.html``; all text is escaped."""
    css = style()
    digest = base64.b64encode(hashlib.sha256(css.encode()).digest()).decode()
    page = _environment().get_template(template)
    return page.render(style=Markup(css), style_hash=digest, version=__version__, **values)  # noqa: S704  (our own file)


def picture(image: Picture) -> Markup:
    """Mark a picture as ready for a page; its texts were escaped when it was drawn."""
    return Markup(str(image))  # noqa: S704


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("brumal.report"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_inert,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _inert(value: object) -> object:
    """Show control characters of the keeper's texts; escaping follows."""
    return visible(value, kept="\n") if type(value) is str else value


@cache
def style() -> str:
    """Return the style that every page carries."""
    return files("brumal.report").joinpath("templates/page.css").read_text("utf-8")
