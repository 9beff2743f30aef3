"""The worker process: holds the season made ready and solves what the page asks, newest first.

A thread of the worker listens while it solves, so that a newer question, or the keeper's word to
stop, ends the solve under way. The plan told last is a cold solve of the season, from nothing that
was asked before: it is the one that ``brumal plan`` finds.
"""

from __future__ import annotations

import math
import os
import threading
import time
from collections import deque
from dataclasses import replace
from multiprocessing.connection import Connection

from brumal.insight.compare.comparison import Request, compare
from brumal.insight.compare.first_plan import first_plan
from brumal.insight.compare.parallel import Bench
from brumal.insight.compare.workbench import Workbench
from brumal.insight.week import week_of
from brumal.insight.why.answers import why_animal
from brumal.insight.why.choices import choices
from brumal.insight.why.counterfactuals import Questions
from brumal.insight.why.outlook import look_ahead
from brumal.insight.why.shadow_prices import limit_price
from brumal.insight.why.whole import subject_of
from brumal.page.messages import (
    Ask,
    AskBeside,
    AskOneMore,
    AskWhy,
    Base,
    Beside,
    BesideSoFar,
    Failed,
    First,
    Looking,
    Message,
    OneMore,
    Question,
    Reply,
    Solved,
    Stop,
    Why,
)
from brumal.pedigree.pair import examine_pair
from brumal.pipeline import Prepared
from brumal.planner.describe import plan_of
from brumal.planner.pairs.candidates import Candidates
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.answer import SolveOptions
from brumal.planner.solver.interrupt import ask_to_stop, is_asked, may_go_on
from brumal.processes import begin_helper
from brumal.records.faults import InputError
from brumal.records.folder import SeasonRecords

MORE_SECONDS = 2.0
"""So often at most the page is told what one more of a limit would bring."""


def work(pipe: Connection) -> None:
    """Answer questions until the page is gone: what a worker process runs."""
    begin_helper()
    inbox = _Inbox(pipe)
    threading.Thread(target=inbox.listen, daemon=True).start()
    worker = _Worker(inbox, pipe)
    while True:
        worker.answer(inbox.next())


class _Inbox:
    """Questions in the order in which they are answered; a newer season replaces older ones.

    What one more of a limit would bring is asked when nothing else is, and gives way at once.
    """

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe
        self._waiting: deque[Base | Question] = deque()
        self._idle: AskOneMore | None = None
        self._is_idle = False
        self._some = threading.Condition()

    def listen(self) -> None:
        while True:
            try:
                message: Message = self._pipe.recv()
            except (EOFError, OSError):
                os._exit(0)
            with self._some:
                self._take(message)
                self._some.notify()

    def _take(self, message: Message) -> None:
        if isinstance(message, Stop):
            ask_to_stop(keep=message.keep)
            return
        if isinstance(message, AskOneMore):
            self._idle = message
            return
        if isinstance(message, Base | Ask):
            # What was asked of an older season is of no interest any more.
            kept = [each for each in self._waiting if isinstance(each, Base)]
            self._waiting = deque(kept if isinstance(message, Ask) else ())
            self._idle = None
            ask_to_stop(keep=False)
        elif self._is_idle:
            ask_to_stop(keep=False)
        self._waiting.append(message)

    def next(self) -> Base | Question:
        with self._some:
            while not (self._waiting or self._idle):
                self._some.wait()
            may_go_on()
            self._is_idle = not self._waiting
            if self._waiting:
                return self._waiting.popleft()
            idle, self._idle = self._idle, None
            assert idle is not None
            return idle

    def later(self, question: AskOneMore) -> None:
        """Ask this when nothing else is asked, unless a newer one waits."""
        with self._some:
            if self._idle is None and not self._has_newer():
                self._idle = question

    def is_newer(self) -> bool:
        """Say whether a newer season waits, so that what is under way is of no interest."""
        with self._some:
            return self._has_newer()

    def _has_newer(self) -> bool:
        return any(isinstance(each, Base | Ask) for each in self._waiting)


class _Worker:
    """The season made ready, the one solved last, and how to answer."""

    def __init__(self, inbox: _Inbox, pipe: Connection) -> None:
        self._inbox, self._pipe = inbox, pipe
        self._bench: Workbench | None = None
        self._unmarked = -1
        self._solved: dict[int, SolvedSeason] = {}
        self._questions: dict[int, Questions] = {}
        self._more_at = 0.0

    def answer(self, question: Base | Question) -> None:
        if isinstance(question, Base):
            self._bench = Workbench(question.records)
            self._solved, self._questions = {}, {}
            return
        try:
            reply = self._reply(question)
        except InputError as error:
            reply = Failed(number=question.number, faults=error.faults)
        if reply is not None and not self._inbox.is_newer():
            self.tell(reply)

    def tell(self, reply: Reply) -> None:
        self._pipe.send(reply)

    def _reply(self, question: Question) -> Reply | None:
        if isinstance(question, Ask):
            return self._planned(question)
        if isinstance(question, AskBeside):
            return self._beside(question)
        if isinstance(question, AskOneMore):
            return self._more(question)
        return self._why(question)

    def _planned(self, ask: Ask) -> Reply | None:
        prepared, found = self._ready(ask.records)
        first = first_plan(prepared, found, ask.before)
        if self._inbox.is_newer():
            return None
        self.tell(First(number=ask.number, plan=first))

        def looking(_: int, best: float, bound: float) -> None:
            self.tell(Looking(number=ask.number, best=_known(best), bound=_known(bound)))

        season = solve_season(prepared, SolveOptions(), looking, found=found)
        if self._inbox.is_newer():
            return None
        # The season with the pencil and the one without: both may be asked about.
        kept = {
            number: each
            for number, each in self._solved.items()
            if (number == self._unmarked) is not ask.unmarked
        }
        self._unmarked = ask.number if ask.unmarked else self._unmarked
        self._solved, self._questions = {**kept, ask.number: season}, {}
        return solved_reply(ask.number, season)

    def _ready(self, records: SeasonRecords) -> tuple[Prepared, Candidates]:
        assert self._bench is not None
        return self._bench.ready(records)

    def _beside(self, asked: AskBeside) -> Reply:
        def told(done: int, of: int, name: str) -> None:
            self.tell(BesideSoFar(number=asked.number, done=done, of=of, name=name))

        bench = Bench(base=asked.records, options=SolveOptions(), workers=1, told=told)
        return Beside(number=asked.number, comparison=compare(bench, Request()))

    def _asked(self, number: int) -> Questions | None:
        """Return a season planned to be asked; ``None`` where it is no more, or has no plan."""
        season = self._solved.get(number)
        if season is None or season.solution.chosen is None:
            return None
        return self._questions.setdefault(number, Questions(season))

    def _more(self, asked: AskOneMore) -> Reply | None:
        """Find what one more of one limit brings; the next one is for later."""
        questions = self._asked(asked.number)
        if questions is None:
            return None
        price = limit_price(questions, len(asked.found))
        if is_asked():
            self._inbox.later(asked)
            return None
        if price is not None:
            asked = replace(asked, found=(*asked.found, price))
            self._inbox.later(asked)
            if time.monotonic() < self._more_at:
                return None
        self._more_at = time.monotonic() + MORE_SECONDS
        return OneMore(number=asked.number, prices=asked.found, subject=subject_of(questions))

    def _why(self, asked: AskWhy) -> Reply | None:
        questions = self._asked(asked.number)
        if questions is None:
            return None
        season = questions.season
        why = why_animal(questions, asked.animal, quick=False, flips=False)
        pedigree = season.prepared.pedigree
        return Why(
            number=asked.number,
            animal=asked.animal,
            why=why,
            subject=subject_of(questions),
            choices=choices(questions, asked.animal) if why.female else (),
            kin=tuple(
                examine_pair(pedigree, *pair.pair)
                for pair in season.pairs
                if asked.animal in pair.pair
            ),
        )


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def solved_reply(number: int, season: SolvedSeason) -> Solved:
    """Return a solved season with all that the page shows of it."""
    plan = plan_of(season)
    outlook = None if plan.objective is None else look_ahead(season, plan)
    mates: dict[str, list[tuple[str, float]]] = {}
    columns = season.problem.columns
    for (dam, sire), worth in zip(columns.pairs, columns.worth.tolist(), strict=True):
        mates.setdefault(dam, []).append((sire, worth))
    return Solved(
        number=number,
        plan=plan,
        outlook=outlook,
        week=None if outlook is None else week_of(season, plan, outlook),
        mates={dam: tuple(sorted(own, key=lambda m: (-m[1], m[0]))) for dam, own in mates.items()},
        able=frozenset(id for id in season.found.verdicts if season.found.may_breed(id)),
        starts=season.prepared.starts,
    )
