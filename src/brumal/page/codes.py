"""The code that lets a phone in while ``--network`` runs: eight letters, once, few tries."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without I and O, which look like figures."""
LENGTH = 8
TRIES = 10
_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>The code</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"></head><body><main><h1>The code</h1><p>{}</p>
<form method="post" action="/code"><label for="code">Code</label>
<input id="code" name="code" autocomplete="off" autocapitalize="characters" required maxlength="20">
<button>Enter</button></form></main></body></html>
"""


class Codes:
    """The code that stands now; ``renewed`` is told each new one.

    A code lets one browser in and is then replaced. After ``TRIES`` wrong ones in a row none opens
    any more until the command is started again.
    """

    def __init__(self, renewed: Callable[[str], None]) -> None:
        """Make the first code, and tell it."""
        self._renewed = renewed
        self._left = TRIES
        self._renew()

    def _renew(self) -> None:
        self._code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
        self._renewed(self._code)

    def opens(self, text: str) -> bool:
        """Say whether a text is the code, letter case and spaces forgiven."""
        if self._left <= 0:
            return False
        said = "".join(text.split()).upper()
        if not hmac.compare_digest(said.encode(), self._code.encode()):
            self._left -= 1
            return False
        self._left = TRIES
        self._renew()
        return True

    def ask(self, wrong: bool = False) -> Response:
        """Return the page that asks for the code."""
        told = "The code stands where <code>brumal open --network</code> runs."
        if self._left <= 0:
            told = "Too many wrong codes: start the command again."
        elif wrong:
            told = f"That is not the code. {told}"
        return HTMLResponse(_PAGE.format(told), status_code=403)


async def code_in(request: Request) -> str:
    """Return the code that a form holds."""
    async with request.form(max_files=0, max_fields=2) as form:
        return str(form.get("code", ""))
