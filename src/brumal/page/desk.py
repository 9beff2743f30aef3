"""The desk: the season as its folder says it, the pencil marks on it, and the newest answers.

One desk serves every tab. All of it runs in the event loop of the server; the worker's replies are
handed in there.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from brumal.insight.compare.written_out import written_out
from brumal.page.helper import Helper
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
    OneMore,
    Question,
    Reply,
    Solved,
    Stop,
    Why,
)
from brumal.page.pencil import OVERLAY, Mark, load, made, overlay_text, overlay_tree, save, without
from brumal.page.trials import with_pencil
from brumal.records.faults import Fault, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.overlay import read_overlay
from brumal.records.read import errors_first, read_season
from brumal.records.variant import Variant, lay_over

WATCH_SECONDS = 2.0


def lay(records: SeasonRecords, marks: Sequence[Mark]) -> Variant:
    """Return the season under pencil marks; faults say which of them cannot stand."""
    tree = overlay_tree(marks, records.settings.locks)
    if not tree:
        return Variant(name=OVERLAY, records=records)
    overlay, faults = read_overlay(OVERLAY, overlay_text(tree), OVERLAY)
    if overlay is None:
        return Variant(name=OVERLAY, records=None, faults=faults)
    overlay, more = written_out(records, overlay)
    if any(map(is_error, more)):
        return Variant(name=OVERLAY, records=None, faults=more)
    return lay_over(records, (overlay,), OVERLAY, idle=True)


@dataclass(slots=True)
class Shown:
    """What the page shows: the newest answer, and how far the next one is."""

    number: int = 0
    solved: Solved | None = None
    first: First | None = None
    looking: Looking | None = None
    faults: tuple[Fault, ...] = ()
    whys: dict[str, Why] = field(default_factory=dict)
    more: OneMore | None = None
    more_asked: bool = False

    @property
    def is_final(self) -> bool:
        """Say whether the answer to the newest question is there."""
        return bool(self.faults) or (self.solved is not None and self.solved.number == self.number)

    def take(self, reply: Reply) -> None:
        """Take in an answer to the newest question."""
        match reply:
            case First():
                self.first = reply
            case Looking():
                self.looking = reply
            case Solved():
                self.solved = reply
            case Failed():
                self.faults = reply.faults
            case Why():
                self.whys[reply.animal] = reply
            case OneMore():
                self.more = reply


@dataclass(slots=True)
class ShownBeside:
    """The what-ifs side by side: what they were asked of, and the newest answer."""

    number: int = -1
    of: tuple[SeasonRecords, tuple[Mark, ...]] | None = None
    answer: Beside | None = None
    so_far: BesideSoFar | None = None
    faults: tuple[Fault, ...] = ()

    def take(self, reply: Reply) -> None:
        """Take in an answer to the newest question."""
        match reply:
            case Beside():
                self.answer = reply
            case BesideSoFar():
                self.so_far = reply
            case Failed():
                self.faults = reply.faults


@dataclass(frozen=True, slots=True)
class Notice:
    """What the page says of the last change: what was done, or why it was not."""

    done: str = ""
    refused: tuple[Fault, ...] = ()


class Desk:
    """See the module; ``changed`` is set, and replaced, whenever the page would look different.

    ``unmarked`` is what is known of the season without pencil marks, ``shown`` of it with them.
    """

    def __init__(
        self, folder: Path, records: SeasonRecords, store: Path, on: date | None = None
    ) -> None:
        """Take a season already read, and the file in which pencil marks are kept.

        Raises ``ValueError`` where that file is none of ours.
        """
        self.folder, self.records, self.on = folder, records, on
        self.store = store
        self.marks = load(store)
        self.variant = lay(records, self.marks)
        self.unmarked, self.shown, self.beside = Shown(), Shown(), ShownBeside()
        self.notice = Notice()
        self.folder_faults: tuple[Fault, ...] = ()
        self.version = 0
        self.is_ending = False
        self.changed = asyncio.Event()
        self._numbers = 0
        self._stamp = stamp(folder)
        self._helper: Helper | None = None

    def start(self) -> None:
        """Begin the worker, and ask for the season's plan; from inside the event loop."""
        loop = asyncio.get_running_loop()

        def told(reply: Reply) -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(self.take, reply)

        self._helper = Helper(told)
        self._helper.start()
        self._send_base()
        self._ask()

    def end(self) -> None:
        """Let go of every tab that listens: the command ends."""
        self.is_ending = True
        self._bump()

    def close(self) -> None:
        """End the worker."""
        if self._helper is not None:
            self._helper.close()

    @property
    def worker(self) -> int | None:
        """Return the worker's process id."""
        return self._helper.pid if self._helper is not None else None

    def pencil(self, mark: Mark) -> None:
        """Make a mark, unless it cannot stand: then the notice says why."""
        self._try(made(self.marks, mark, self.records.settings.locks))

    def take_back(self, name: str | None) -> None:
        """Take one mark back, or all of them."""
        self._set(() if name is None else without(self.marks, name))

    def _try(self, marks: tuple[Mark, ...]) -> None:
        variant = lay(self.records, marks)
        if variant.records is None:
            self.refuse(tuple(filter(is_error, variant.faults)))
            return
        self._set(marks, variant)

    def _set(self, marks: tuple[Mark, ...], variant: Variant | None = None) -> None:
        self.notice = Notice()
        if marks != self.marks:
            save(self.store, marks)
            self.marks = marks
            self.variant = variant or lay(self.records, marks)
            self._ask()
        self._bump()

    def refuse(self, faults: tuple[Fault, ...]) -> None:
        """Say on the page why something was not done."""
        self.notice = Notice(refused=faults)
        self._bump()

    def say(self, done: str) -> None:
        """Say on the page what was done, until the next change."""
        self.notice = Notice(done=done)
        self._bump()

    def inked(self, left: tuple[Mark, ...]) -> None:
        """Go on with the marks that are left, when the others stand in the season."""
        save(self.store, left)
        self.marks = left

    def stop(self) -> None:
        """End the solve under way with its best plan so far."""
        self._send(Stop())

    def _ask(self) -> None:
        """Ask for the plan under the marks; what is known already is not asked again."""
        before = self.shown
        if not self.marks and self.unmarked.solved is not None:
            self.shown = Shown(number=self.unmarked.number, solved=self.unmarked.solved)
            self._send(Stop(keep=False))
            self._ask_more()
            return
        self._numbers += 1
        self.shown = Shown(number=self._numbers, solved=before.solved)
        if self.variant.records is None:
            self.shown.faults = tuple(filter(is_error, self.variant.faults))
            self._ask_unmarked()
        else:
            self._plan(self._numbers, self.variant.records, unmarked=not self.marks)

    def _plan(self, number: int, records: SeasonRecords, unmarked: bool) -> None:
        """Ask the worker for a plan, to begin with the pairs of the one on the page."""
        if unmarked:
            self.unmarked.number = number
        before = _pairs(self.shown.solved)
        if self.beside.answer is None:
            self.beside.of = None  # The worker drops what was asked before this.
        self._send(Ask(number=number, records=records, before=before, unmarked=unmarked))

    def _send_base(self) -> None:
        self._send(Base(records=self.records))

    def _send(self, message: Base | Question | Stop) -> None:
        if self._helper is not None:
            self._helper.send(message)

    def take(self, reply: Reply) -> None:
        """Take in what the worker says."""
        if isinstance(reply, Solved | Failed) and reply.number == self.unmarked.number:
            self.unmarked.take(reply)
        if reply.number == self.beside.number:
            self.beside.take(reply)
        elif reply.number != self.shown.number:
            if not isinstance(reply, Solved | Failed):
                return
        else:
            self.shown.take(reply)
            if isinstance(reply, Solved | Failed):
                self._ask_unmarked()
        if isinstance(reply, Solved):
            self._ask_more()
        self._bump()

    def _ask_unmarked(self) -> None:
        """Ask for the season without the marks, once the one with them is answered."""
        if self.unmarked.solved is None and not self.unmarked.faults:
            self._numbers += 1
            self._plan(self._numbers, self.records, unmarked=True)

    def _ask_more(self) -> None:
        """Ask what one more of each limit would bring, once both plans are known, once for each."""
        shown, solved = self.shown, self.shown.solved
        if self.unmarked.solved is None or solved is None or solved.number != shown.number:
            return
        if not shown.more_asked and solved.plan.objective is not None:
            shown.more_asked = True
            self._send(AskOneMore(number=shown.number))

    def _bump(self) -> None:
        self.version += 1
        self.changed.set()
        self.changed = asyncio.Event()

    async def until(self, is_so: Callable[[], bool], seconds: float) -> bool:
        """Wait until something is so, at most so long; say whether it came."""
        loop = asyncio.get_running_loop()
        end = loop.time() + seconds
        while not is_so():
            left = end - loop.time()
            if left <= 0:
                return False
            changed = self.changed
            try:
                await asyncio.wait_for(changed.wait(), left)
            except TimeoutError:
                return is_so()
        return True

    async def news(self, seen: int, seconds: float) -> bool:
        """Wait until the page is of another version than the one seen, at most so long."""
        return await self.until(lambda: self.version != seen, seconds)

    async def why(self, animal: str, seconds: float) -> Why | None:
        """Return an animal explained; ``None`` where that is not known in time, or has no plan."""
        shown = self.shown
        await self.until(lambda: shown.is_final or self.shown is not shown, seconds)
        solved = shown.solved
        if self.shown is not shown or solved is None or solved.number != shown.number:
            return None
        if animal not in shown.whys and solved.plan.objective is not None:
            self._send(AskWhy(number=shown.number, animal=animal))
            await self.until(lambda: animal in shown.whys or self.shown is not shown, seconds)
        return shown.whys.get(animal)

    def ask_beside(self) -> None:
        """Ask for the what-ifs beside the season, with the pencil as one of them, once."""
        asked = (self.records, self.marks)
        is_known = self.shown.is_final and self.unmarked.solved is not None
        if self.beside.of == asked or not is_known:
            return
        self._numbers += 1
        self.beside = ShownBeside(number=self._numbers, of=asked)
        records = with_pencil(self.records, self.marks)
        self._send(AskBeside(number=self._numbers, records=records))

    async def look_again(self) -> None:
        """Read the folder again if its files changed since."""
        now = stamp(self.folder)
        if now == self._stamp:
            return
        self._stamp = now
        records, faults = await asyncio.to_thread(read_season, self.folder, self.on)
        if records is None:
            self.folder_faults = errors_first(filter(is_error, faults))
            self._bump()
            return
        self.folder_faults = ()
        records = replace(records, agreed=self.records.agreed)
        if records == self.records:
            self._bump()
            return
        self.records, self.unmarked = records, Shown()
        self.variant = lay(records, self.marks)
        self._send_base()
        self._ask()
        self._bump()

    async def watch(self) -> None:
        """Look at the folder every few seconds, as long as the server runs."""
        while True:
            await asyncio.sleep(WATCH_SECONDS)
            await self.look_again()


def _pairs(solved: Solved | None) -> tuple[tuple[str, str], ...]:
    return tuple((pair.dam, pair.sire) for pair in solved.plan.pairs) if solved else ()


def stamp(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Return what tells a folder's files from what they were: names, times, sizes."""
    found = []
    for place in (folder, folder / "what-if"):
        if place.is_dir():
            for path in sorted(place.iterdir()):
                if path.is_file():
                    about = path.stat()
                    found.append((path.name, about.st_mtime_ns, about.st_size))
    return tuple(found)
