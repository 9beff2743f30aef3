"""``brumal open FOLDER``: the planning page, served on the keeper's own machine."""

from __future__ import annotations

import argparse
import os
import secrets
import socket
import webbrowser
from datetime import date
from functools import partial
from pathlib import Path

import uvicorn

from brumal.commands.common import Exit, add_out, add_season, console, load, out_folder
from brumal.page.desk import Desk
from brumal.page.doors import Doors
from brumal.page.server import application
from brumal.records.faults import Fault, InputError, Where
from brumal.records.folder import SeasonRecords

HERE = "127.0.0.1"
PORT = 8620
_MOST_TRIED = 20


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "open",
        help="open the planning page: try a winter by hand, and see it answer",
        description="Serve the planning page of a season on this machine and open it in the "
        "browser. Nothing of yours is written: what you try is pencil, kept among the results. "
        "It ends with Ctrl-C.",
    )
    add_season(parser)
    add_out(parser)
    parser.add_argument(
        "--port",
        type=_port,
        help=f"port to serve on (default: {PORT}, or the next one that is free)",
    )
    parser.add_argument(
        "--no-browser", action="store_true", help="print the address, and open no browser"
    )
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Serve the page until Ctrl-C."""
    screen = console()
    prepared = load(args.folder, args.on)
    desk = _desk(args.folder, prepared.records, out_folder(args), args.on)
    listening = _listening(args.port)
    port = listening.getsockname()[1]
    key = secrets.token_urlsafe(24)
    hosts = (f"{HERE}:{port}", f"localhost:{port}")
    app = application(desk, partial(Doors, hosts=hosts, port=port, key=key))
    address = f"http://{HERE}:{port}/?key={key}"
    screen.print("The planning page is at")
    screen.print(address, soft_wrap=True)
    screen.print("It works once, in one browser of this machine. Ctrl-C ends the page.")
    config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=2)
    server = _Server(config, desk, "" if args.no_browser else address)
    server.run(sockets=[listening])
    return Exit.DONE


class _Server(uvicorn.Server):
    """A server that opens the browser once it listens, and lets go of every tab when it ends."""

    def __init__(self, config: uvicorn.Config, desk: Desk, opens: str) -> None:
        super().__init__(config)
        self._desk, self._opens = desk, opens

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, then open the browser."""
        await super().startup(sockets)
        if self._opens and self.started:
            webbrowser.open(self._opens)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then all else."""
        self._desk.end()
        await super().shutdown(sockets)


def _desk(folder: Path, records: SeasonRecords, out: Path, on: date | None) -> Desk:
    """Return the desk; a pencil file that is none of ours stays where it is."""
    store = out / "pencil.json"
    try:
        return Desk(folder, records, store, on)
    except ValueError as problem:
        raise InputError(
            [
                Fault(
                    where=Where(file=str(store)),
                    found=str(problem),
                    expected="the pencil marks of an earlier session",
                    repair="Move the file away, or choose another folder with --out.",
                )
            ]
        ) from problem


def _listening(port: int | None) -> socket.socket:
    """Return a socket that listens on this machine alone: on the port asked for, or a free one."""
    tried = range(PORT, PORT + _MOST_TRIED) if port is None else [port]
    for each in tried:
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":
            # Elsewhere this would let two programs share a port.
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HERE, each))
        except OSError:
            listening.close()
            continue
        return listening
    raise InputError(
        [
            Fault(
                where=Where(file="--port"),
                found=f"port {tried[0]}, which another program uses",
                expected="a free port",
                repair="Leave --port out, or try another.",
            )
        ]
    )


def _port(text: str) -> int:
    value = int(text)
    if not 0 <= value <= 65535:
        raise argparse.ArgumentTypeError("a port from 1 to 65535")
    return value
