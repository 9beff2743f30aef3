"""Marks laid aside, set beside others, and kept in the season: the pages and forms for it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from datetime import date

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from brumal.page.desk import Desk, lay
from brumal.page.ink import Inking, inking, may_be_inked, write_ink
from brumal.page.paper import page
from brumal.page.sheet import sheet_of
from brumal.page.trials import lay_aside, table_of
from brumal.records.faults import InputError, is_error

LONGEST_NOTE = 500
MOST_FIELDS = 5


@dataclass(frozen=True)
class Keeping:
    """The answers to the addresses that keep something."""

    desk: Desk

    @property
    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/aside", self.aside, methods=["POST"]),
            Route("/beside", self.beside),
            Route("/ink", self.shown_ink),
            Route("/ink", self.ink, methods=["POST"]),
        ]

    async def aside(self, request: Request) -> Response:
        """Lay the marks aside as a what-if."""
        desk = self.desk
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            name, note = (str(form.get(key, "")).strip() for key in ("name", "note"))
        on = desk.records.as_of or date.today()
        try:
            note = " ".join(note.split())[:LONGEST_NOTE]
            path = lay_aside(desk.folder, desk.records, desk.marks, name, note, on)
        except InputError as error:
            desk.refuse(tuple(error.faults))
        else:
            desk.say(f"Laid aside as what-if/{path.name}.")
            await desk.look_again()
        return RedirectResponse("/?now=1", status_code=303)

    async def beside(self, _: Request) -> Response:
        """Set the what-ifs beside the season; the page fills when they are planned."""
        desk = self.desk
        await desk.look_again()
        desk.ask_beside()
        beside = desk.beside
        return page(
            "beside.html",
            sheet=sheet_of(desk),
            busy=beside.answer is None and not beside.faults,
            so_far=beside.so_far,
            table=None if beside.answer is None else table_of(beside.answer.comparison),
            faults=[str(fault) for fault in beside.faults if is_error(fault)],
        )

    async def shown_ink(self, _: Request) -> Response:
        """Show what keeping the marks in the season would write."""
        await self.desk.look_again()
        return await self._ink_page("")

    async def ink(self, request: Request) -> Response:
        """Write what was shown; where the file is another by now, show both instead."""
        desk = self.desk
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            digest = str(form.get("digest", ""))
        await desk.look_again()
        try:
            ink = await self._inking()
            if ink.digest != digest:
                return await self._ink_page("The season changed since this was shown; look again.")
            kept = await asyncio.to_thread(write_ink, desk.folder, ink)
        except InputError as error:
            return await self._ink_page(" ".join(map(str, error.faults)))
        desk.inked(ink.left)
        desk.say(f"Kept in {ink.file}; the old one is {kept}.")
        await desk.look_again()
        return RedirectResponse("/", status_code=303)

    async def _inking(self) -> Inking:
        desk = self.desk
        variant = lay(desk.records, [mark for mark in desk.marks if may_be_inked(mark)])
        if variant.records is None:
            raise InputError(list(filter(is_error, variant.faults)))
        meant = variant.records.settings
        return await asyncio.to_thread(
            inking, desk.folder, desk.records, desk.marks, meant, desk.on
        )

    async def _ink_page(self, trouble: str) -> Response:
        ink = None
        try:
            ink = await self._inking()
        except InputError as error:
            trouble = " ".join((trouble, *map(str, error.faults))).strip()
        return page("ink.html", sheet=sheet_of(self.desk), ink=ink, trouble=trouble)
