"""By the racks: the next seven days, and the forms that note what was seen and weighed.

Every entry has an id of its own before it is sent, so that one sent twice counts once. The writer
of ``records`` puts it into the keeper's tables, journal first.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import uuid4

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from brumal.insight.week import Week, WeekTask
from brumal.page.desk import Desk
from brumal.page.notes import BY_EVENT, COLUMNS, FORMS, entry_of, entry_words
from brumal.page.paper import page
from brumal.page.sheet import sheet_of
from brumal.records.animals import Animal, Sex
from brumal.records.faults import InputError
from brumal.records.journal import Entry
from brumal.records.writer import Entered, enter, let_go, missing, take_back
from brumal.report.week.report import day_name, task_line

MOST_SHOWN = 20
MOST_FIELDS = 12
BLANK = dict.fromkeys(("animal", *COLUMNS), "")
NOTHING = "Nothing is due in these days."
LOOKING = "The plan is still being looked for; the tasks come with it."
NO_PLAN = "No plan is possible, and so there are no tasks; the page of the whole season says why."


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskLine:
    """One task: its day, what, why, and what may be noted: (label, event, animal, mate)."""

    day: str
    text: str
    why: str
    notes: tuple[tuple[str, str, str, str], ...]


@dataclass
class Racks:
    """The answers to the addresses by the racks; ``entered`` is what was noted since the start."""

    desk: Desk
    now: Callable[[], datetime] = datetime.now
    entered: list[Entry] = field(default_factory=list)

    @property
    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/week", self.week),
            Route("/enter", self.enter, methods=["POST"]),
            Route("/take-back", self.take_back, methods=["POST"]),
            Route("/let-go", self.let_go, methods=["POST"]),
        ]

    async def week(self, request: Request) -> Response:
        """Show the tasks of seven days, and the form asked for, filled in as far as known."""
        await self.desk.look_again()
        return self._page(dict(request.query_params), "", 200)

    async def enter(self, request: Request) -> Response:
        """Note what a form holds; one that was sent before is not written again."""
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            asked = {name: value for name, value in form.items() if isinstance(value, str)}
            entry = entry_of(form)
        if entry is None:
            return PlainTextResponse("No such entry.\n", status_code=400)
        trouble = await self._write(lambda at: enter(self.desk.folder, [entry], at, self.desk.on))
        if trouble:
            if _is_script(request):
                return PlainTextResponse(trouble, status_code=422)
            return self._page(asked, trouble, 422)
        if entry.id not in [each.id for each in self.entered]:
            self.entered.insert(0, entry)
            del self.entered[MOST_SHOWN:]
        if _is_script(request):
            return PlainTextResponse("Entered.\n")
        return RedirectResponse("/week?done=entered", status_code=303)

    async def take_back(self, request: Request) -> Response:
        """Take an entry back."""
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            id_ = str(form.get("id", ""))
        trouble = await self._write(lambda at: take_back(self.desk.folder, id_, at, self.desk.on))
        if trouble:
            return self._page({}, trouble, 422)
        self.entered = [each for each in self.entered if each.id != id_]
        return RedirectResponse("/week?done=back", status_code=303)

    async def let_go(self, request: Request) -> Response:
        """Note that an entry which vanished from its table is not wanted back."""
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            id_ = str(form.get("id", ""))
        trouble = await self._write(lambda at: let_go(self.desk.folder, [id_], at))
        if trouble:
            return self._page({}, trouble, 422)
        return RedirectResponse("/week", status_code=303)

    async def _write(self, job: Callable[[datetime], Entered | None]) -> str:
        """Do a writer's job beside the event loop; return what went wrong, in words."""
        try:
            await asyncio.to_thread(job, self.now())
        except InputError as error:
            return error.words
        await self.desk.look_again()
        return ""

    def _page(self, asked: dict[str, str], trouble: str, status: int) -> Response:
        lost, unread = self._lost()
        records, form = self.desk.records, BY_EVENT.get(asked.get("event", ""))
        names = {animal.id: animal.label for animal in records.animals}
        answer = page(
            "week.html",
            sheet=sheet_of(self.desk),
            tasks=self._tasks(),
            looking=self._no_tasks() == LOOKING,
            no_tasks=self._no_tasks(),
            forms=FORMS,
            form=form,
            asked={**BLANK, "date": self.now().date().isoformat(), **asked},
            id=asked.get("id") or uuid4().hex[:12],
            own=[] if form is None else _own(records.collection, form.of),
            mates=_own(records.collection, Sex.MALE),
            trouble=" ".join(filter(None, (trouble, unread))),
            done={"entered": "Entered.", "back": "Taken back."}.get(asked.get("done", ""), ""),
            entered=[(each.id, entry_words(each, names)) for each in self.entered],
            lost=[(each.id, entry_words(each, names), each) for each in lost],
        )
        answer.status_code = status
        return answer

    def _lost(self) -> tuple[tuple[Entry, ...], str]:
        """Return entries that vanished from their tables, and why they cannot be told."""
        try:
            return missing(self.desk.folder), ""
        except InputError as error:
            return (), error.words

    def _tasks(self) -> list[TaskLine]:
        """Return the week of the season's own plan; pencil is no task."""
        solved = self.desk.unmarked.solved
        week = solved.week if solved is not None else None
        return [] if week is None else [_line(week, task) for task in week.tasks]

    def _no_tasks(self) -> str:
        """Say why the week has no tasks, where it has none."""
        unmarked = self.desk.unmarked
        if unmarked.solved is not None:
            return NO_PLAN if unmarked.solved.week is None else NOTHING
        if unmarked.faults:
            return " ".join(["The season cannot be planned.", *map(str, unmarked.faults)])
        return LOOKING


def _line(week: Week, task: WeekTask) -> TaskLine:
    return TaskLine(
        day=day_name(task.day),
        text=task_line(week, task),
        why=task.why,
        notes=tuple((BY_EVENT[each].title, each, task.animal, task.mate) for each in task.noted),
    )


def _own(animals: Sequence[Animal], of: Sex | None) -> list[tuple[str, str]]:
    """Return (id, label) of animals of one sex, or of all."""
    return [(each.id, each.label) for each in animals if of is None or each.sex is of]


def _is_script(request: Request) -> bool:
    return request.headers.get("x-page") == "script"
