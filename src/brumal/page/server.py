"""The server: pages, forms, and the stream that tells every open tab when something changed."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass

from starlette.applications import Starlette
from starlette.datastructures import FormData
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import (
    PlainTextResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route

from brumal.importing.grids import SUFFIXES
from brumal.page.books import Books
from brumal.page.desk import Desk
from brumal.page.doors import Doors
from brumal.page.keeping import Keeping
from brumal.page.paper import page, script, stylesheet
from brumal.page.pencil import Kind, Mark
from brumal.page.racks import Racks
from brumal.page.sheet import sheet_of
from brumal.page.words import choice_words
from brumal.report.plan.files import plan_json
from brumal.report.plan.season_words import kin_line
from brumal.report.why.words import animal_lines

FIRST_SECONDS = 3.0
"""So long a page without script waits for an answer before it is shown as it stands."""
WHY_SECONDS = 120.0
BEAT_SECONDS = 15.0
MOST_FIELDS = 40
ANIMAL_FIELDS = (
    "name",
    "sex",
    "hatched",
    "morph",
    "weight_g",
    "weighed",
    "condition",
    "status",
    "paid",
    "received",
)

Handler = Callable[[Request], Awaitable[Response]]


class BadFormError(ValueError):
    """A form that no page of ours sends."""


def application(desk: Desk, doors: Callable[..., Doors]) -> Starlette:
    """Return the application behind its doors; it starts and ends the worker."""
    pages = Pages(desk)

    @contextlib.asynccontextmanager
    async def running(_: Starlette) -> AsyncIterator[None]:
        desk.start()
        watching = asyncio.create_task(desk.watch())
        try:
            yield
        finally:
            watching.cancel()
            desk.close()

    return Starlette(
        routes=[
            Route("/", pages.sheet),
            Route("/style.css", pages.style),
            Route("/page.js", pages.script),
            Route("/answers", pages.answers),
            Route("/plan.json", pages.plan),
            Route("/favicon.ico", pages.icon),
            Route("/why", pages.why),
            Route("/pencil", pages.pencil, methods=["POST"]),
            Route("/undo", pages.undo, methods=["POST"]),
            Route("/stop", pages.stop, methods=["POST"]),
            *Keeping(desk).routes,
            *Racks(desk).routes,
            *Books(desk).routes,
        ],
        middleware=[Middleware(doors)],
        lifespan=running,
    )


@dataclass(frozen=True)
class Pages:
    """The answer to each address."""

    desk: Desk

    async def sheet(self, request: Request) -> Response:
        """Return the sheet; a page without script waits a little for an answer to stand on it."""
        desk = self.desk
        await desk.look_again()
        if "now" not in request.query_params:
            await desk.until(lambda: desk.shown.is_final, FIRST_SECONDS)
        return page("sheet.html", sheet=sheet_of(desk), accept=",".join(SUFFIXES))

    async def style(self, _: Request) -> Response:
        """Return the style."""
        return Response(stylesheet(), media_type="text/css")

    async def script(self, _: Request) -> Response:
        """Return the script."""
        return Response(script(), media_type="text/javascript")

    async def icon(self, _: Request) -> Response:
        """Return no picture: browsers ask for one."""
        return Response(status_code=204)

    async def plan(self, _: Request) -> Response:
        """Return ``plan.json`` of the plan on the page, as ``brumal plan`` would write it."""
        shown = self.desk.shown
        solved = shown.solved
        if solved is None or not shown.is_final or solved.number != shown.number:
            return PlainTextResponse("The plan is still being looked for.\n", status_code=409)
        return Response(plan_json(solved.plan), media_type="application/json")

    async def why(self, request: Request) -> Response:
        """Explain one animal."""
        animal = request.query_params.get("animal", "")
        records = self.desk.variant.records or self.desk.records
        label = next((each.label for each in records.collection if each.id == animal), None)
        if label is None:
            return PlainTextResponse("No such animal in the collection.\n", status_code=404)
        why = await self.desk.why(animal, WHY_SECONDS)
        sheet = sheet_of(self.desk)
        if why is None:
            return page(
                "why.html", sheet=sheet, animal=animal, label=label, lines=[], choices=[], kin=[]
            )
        return page(
            "why.html",
            sheet=sheet,
            animal=animal,
            label=label,
            lines=animal_lines(why.why, why.subject),
            choices=[
                (each.sire, why.subject.names[each.sire], choice_words(each, why.subject))
                for each in why.choices
            ],
            kin=[
                (each.names[each.other.id], kin_line(each) if each.phi > 0 else "no kin on record")
                for each in why.kin
            ],
        )

    async def pencil(self, request: Request) -> Response:
        """Make a mark."""
        try:
            async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
                mark = mark_of(form)
        except BadFormError as problem:
            return PlainTextResponse(f"{problem}\n", status_code=400)
        self.desk.pencil(mark)
        return _back(request)

    async def undo(self, request: Request) -> Response:
        """Take a mark back, or all."""
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            name = form.get("name")
        self.desk.take_back(name if isinstance(name, str) else None)
        return _back(request)

    async def stop(self, request: Request) -> Response:
        """End the solve under way."""
        self.desk.stop()
        return _back(request)

    async def answers(self, request: Request) -> Response:
        """Tell a tab whenever something changed, as server-sent events."""
        return StreamingResponse(
            _events(self.desk, request), media_type="text/event-stream; charset=utf-8"
        )


async def _events(desk: Desk, request: Request) -> AsyncIterator[str]:
    told = desk.version
    yield f"data: {told}\n\n"
    while not (desk.is_ending or await request.is_disconnected()):
        if await desk.news(told, BEAT_SECONDS):
            told = desk.version
            yield f"data: {told}\n\n"
        else:
            yield ": still here\n\n"


def mark_of(form: FormData) -> Mark:
    """Return the mark that a form asks for; raises :class:`BadFormError` where it asks for none."""
    kind, subject = _text(form, "kind"), _text(form, "animal")
    if kind == "hand":
        word, _, other = _text(form, "what").partition(" ")
        if word in (Kind.REST, Kind.FREE):
            return Mark(Kind(word), (subject,))
        if word in (Kind.WITH, Kind.APART, Kind.LIFT) and other:
            return Mark(Kind(word), (subject, other))
        raise BadFormError("No such decision.")
    if kind == Kind.ANIMAL:
        return _animal_mark(form, subject)
    if kind == Kind.SET:
        return Mark(Kind.SET, _path(_text(form, "path")), _text(form, "value"))
    raise BadFormError("No such mark.")


def _animal_mark(form: FormData, animal: str) -> Mark:
    """Return the mark that brings an animal in, or changes its row."""
    told = [(name, " ".join(_text(form, name).split())) for name in ANIMAL_FIELDS]
    columns = tuple((name, value) for name, value in told if value)
    if not animal.strip() or not columns:
        raise BadFormError("An animal needs an id, and something that is said of it.")
    return Mark(Kind.ANIMAL, (" ".join(animal.split()),), "", columns)


def _path(text: str) -> tuple[str, ...]:
    try:
        parts = json.loads(text)
    except ValueError:
        parts = None
    if not isinstance(parts, list) or len(parts) < 2 or not all(isinstance(p, str) for p in parts):
        raise BadFormError("No such setting.")
    return tuple(parts)


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    if not isinstance(value, str):
        raise BadFormError(f"{name} is no text.")
    return value


def _back(request: Request) -> Response:
    """Send the browser back to the sheet; the script asks for the sheet as it stands now."""
    now = request.headers.get("x-page") == "script"
    return RedirectResponse("/?now=1" if now else "/", status_code=303)
