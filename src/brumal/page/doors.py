"""Who may come in: a key that works once, a cookie, our own host and origin, headers, and bounds.

A page of another site can make a browser send requests here, and a name server can point a name
of its own at this machine (DNS rebinding). Neither knows the cookie; both are turned away by the
``Host`` and ``Origin`` that browsers send along.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Iterable
from urllib.parse import parse_qs

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from brumal.page.codes import Codes, code_in

MOST_BYTES = 20_000_000
"""No request is larger: a workbook is the largest thing sent."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    ("content-security-policy", POLICY),
    ("referrer-policy", "same-origin"),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cache-control", "no-store"),
    ("permissions-policy", "camera=(), geolocation=(), microphone=()"),
)
SAFE = ("GET", "HEAD")
PLACES = ("/", "/week")
NO_ENTRY = (
    "This page opens with the address that `brumal open` printed, once. "
    "Start the command again for a new one.\n"
)


class Doors:
    """Middleware in front of everything else.

    ``hosts`` are the names and ports under which the server answers. ``key`` lets one browser in,
    once; what it gets is a cookie of its own, named by the port, that holds while the command runs.
    ``codes`` let phones in, where the keeper opens the page to the home network.
    """

    def __init__(
        self, app: ASGIApp, hosts: Iterable[str], port: int, key: str, codes: Codes | None = None
    ) -> None:
        """Take the application behind the doors."""
        self._app, self._codes = app, codes
        self.hosts = frozenset(hosts)
        self.cookie = f"brumal-{port}"
        self._key: str | None = key
        self._inside: set[str] = set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request pass, or answer it here."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        answer = self._answer(scope)
        if answer is None and scope["path"] == "/code":
            answer = await self._ask_code(Request(scope, _bounded(receive)))
        if answer is not None:
            await answer(scope, receive, _dressed(send))
            return
        await self._app(scope, _bounded(receive), _dressed(send))

    def _answer(self, scope: Scope) -> Response | None:
        """Return what turns a request away, or lets a browser in; ``None``: it may pass."""
        headers = Headers(scope=scope)
        if not self._is_ours(scope, headers):
            return PlainTextResponse("Not for this page.\n", status_code=403)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > MOST_BYTES:
            return PlainTextResponse("Too large: 20 MB at most.\n", status_code=413)
        if self._has_cookie(headers):
            return None
        key = parse_qs(str(scope.get("query_string", b""), "latin-1")).get("key", [""])[0]
        if scope["method"] == "GET" and scope["path"] == "/" and self._opens(key):
            return self.let_in("/")
        if self._codes is not None and scope["path"] == "/code":
            return None
        if self._codes is not None and scope["method"] == "GET" and scope["path"] in PLACES:
            return RedirectResponse("/code", status_code=303)
        return PlainTextResponse(NO_ENTRY, status_code=403)

    async def _ask_code(self, request: Request) -> Response | None:
        """Ask for the code, or let a phone in by it; ``None`` where there are no codes."""
        if self._codes is None:
            return None
        if request.method in SAFE:
            return self._codes.ask()
        if self._codes.opens(await code_in(request)):
            return self.let_in("/week")
        return self._codes.ask(wrong=True)

    def _is_ours(self, scope: Scope, headers: Headers) -> bool:
        """Say whether a request names our host, and comes from our own page where it changes."""
        if len(headers.getlist("host")) != 1 or headers["host"] not in self.hosts:
            return False
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return False
        origins = headers.getlist("origin")
        if scope["method"] in SAFE:
            return all(origin == f"http://{headers['host']}" for origin in origins)
        return origins == [f"http://{headers['host']}"]

    def _has_cookie(self, headers: Headers) -> bool:
        # By hand: a library that reads the whole jar gives up at what other programs put in it.
        for part in headers.get("cookie", "").split(";"):
            name, _, value = part.strip().partition("=")
            if name == self.cookie and any(_same(value, each) for each in self._inside):
                return True
        return False

    def _opens(self, key: str) -> bool:
        if self._key is None or not _same(key, self._key):
            return False
        self._key = None
        return True

    def let_in(self, to: str) -> Response:
        """Return the answer that gives a browser its cookie and sends it on."""
        secret = secrets.token_urlsafe(32)
        self._inside.add(secret)
        answer = RedirectResponse(to, status_code=303)
        answer.set_cookie(self.cookie, secret, httponly=True, samesite="strict", path="/")
        return answer


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one.encode(), other.encode())


def _dressed(send: Send) -> Send:
    async def dressed(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = {name for name, _ in message.get("headers", ())}
            more = [(n.encode(), v.encode()) for n, v in HEADERS if n.encode() not in own]
            message = {**message, "headers": [*message.get("headers", ()), *more]}
        await send(message)

    return dressed


def _bounded(receive: Receive) -> Receive:
    """Cut a body that is longer than it said, or that did not say, at the bound."""
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message = await receive()
        if message["type"] == "http.request":
            taken += len(message.get("body", b""))
            if taken > MOST_BYTES:
                return {"type": "http.disconnect"}
        return message

    return bounded
