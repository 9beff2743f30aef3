"""The page's side of the worker process: started, listened to, and begun again if it ends."""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection

from brumal.page.messages import Ask, Base, Failed, First, Message, Reply, Solved
from brumal.page.worker import work
from brumal.processes import out_of_reach
from brumal.records.faults import Fault, Where

MOST_ENDS = 3
"""So often in a row a worker may end over one question before the page gives it up."""


class Helper:
    """Sends messages to the worker; ``told`` is called with each reply, from a thread of its own.

    A worker that ended (killed, or out of memory) is begun again with the season and the question
    that it was at.
    """

    def __init__(self, told: Callable[[Reply], None]) -> None:
        """Start nothing yet: ``start`` does."""
        self._told = told
        self._lock = threading.Lock()
        self._base: Base | None = None
        self._asked: Ask | None = None
        self._ends = 0
        self._closed = False
        self._pipe: Connection | None = None
        self._process: multiprocessing.process.BaseProcess | None = None

    def start(self) -> None:
        """Begin the worker process."""
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        self._pipe = ours
        self._process = context.Process(target=work, args=(theirs,), daemon=True)
        with out_of_reach():
            self._process.start()
        theirs.close()
        threading.Thread(target=self._listen, args=(ours,), daemon=True).start()

    @property
    def pid(self) -> int | None:
        """Return the worker's process id."""
        return self._process.pid if self._process is not None else None

    def send(self, message: Message) -> None:
        """Send a message; what a worker begun again has to know is remembered."""
        with self._lock:
            if isinstance(message, Base):
                self._base, self._asked = message, None
            if isinstance(message, Ask):
                self._asked, self._ends = message, 0
            self._send(message)

    def _send(self, message: Message) -> None:
        if self._pipe is None or self._closed:
            return
        try:
            self._pipe.send(message)
        except (BrokenPipeError, ConnectionError):
            return  # The listener notices, and begins the worker again with what was asked.

    def close(self) -> None:
        """End the worker."""
        with self._lock:
            self._closed = True
            if self._process is not None:
                self._process.terminate()
                self._process.join(timeout=5)
            if self._pipe is not None:
                self._pipe.close()

    def _listen(self, pipe: Connection) -> None:
        while True:
            try:
                reply: Reply = pipe.recv()
            except (EOFError, OSError):
                break
            if isinstance(reply, Solved | Failed):
                self._answered(reply.number)
            self._told(reply)
        self._begin_again()

    def _answered(self, number: int) -> None:
        with self._lock:
            if self._asked is not None and self._asked.number == number:
                self._ends = 0

    def _begin_again(self) -> None:
        with self._lock:
            if self._closed:
                return
            self._ends += 1
            asked = self._asked
            given_up = asked is not None and self._ends >= MOST_ENDS
            if given_up:
                self._asked = None
            self.start()
            for message in (self._base, self._asked):
                if message is not None:
                    self._send(message)
        if given_up and asked is not None:
            self._told(First(number=asked.number, plan=None))
            self._told(Failed(number=asked.number, faults=(_ended(),)))


def _ended() -> Fault:
    return Fault(
        where=Where(file="this computer"),
        found="a worker process that ended without an answer",
        expected="room to solve the season",
        repair="Take the last mark back, or close other programs.",
    )
