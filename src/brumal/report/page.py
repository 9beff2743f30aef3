"""The page that every report stands on: one self-contained HTML file, no script, no network."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from brumal import __version__
from brumal.report.svg import Picture
from brumal.report.words import visible

_NOT_TEXT = re.compile(r"(<style.*?</style>|<title.*?</title>|<svg.*?</svg>|<[^>]*>)", re.DOTALL)
_DAY = re.compile(r"(?<![\w-])\d{4}-\d{2}-\d{2}(?![\w-])")


def render(template: str, **values: object) -> str:
    """Fill a template of ``report/templates`` that extends ``page.html``; all text is escaped."""
    css = style()
    digest = base64.b64encode(hashlib.sha256(css.encode()).digest()).decode()
    page = environment("brumal.report").get_template(template)
    text = page.render(style=Markup(css), style_hash=digest, version=__version__, **values)  # noqa: S704  (our own file)
    return _unbroken(text)


def _unbroken(page: str) -> str:
    """Keep the days of a page's text on one line each; tags, styles and pictures stay as is."""
    parts = _NOT_TEXT.split(page)
    parts[::2] = [_DAY.sub(r'<span class="day">\g<0></span>', text) for text in parts[::2]]
    return "".join(parts)


def picture(image: Picture) -> Markup:
    """Mark a picture as ready for a page; its texts were escaped when it was drawn."""
    return Markup(str(image))  # noqa: S704


@cache
def environment(package: str) -> Environment:
    """Return the templates of a package: every text escaped, nothing left out by mistake."""
    return Environment(
        loader=PackageLoader(package),
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
