"""``brumal open FOLDER``: the planning page, served on the keeper's own machine."""

from __future__ import annotations

import argparse
import contextlib
import os
import secrets
import socket
import webbrowser
from collections.abc import Sequence
from datetime import date
from functools import partial
from pathlib import Path

import uvicorn

from brumal.commands.common import Exit, add_out, add_season, console, load_season, out_folder
from brumal.page.codes import Codes
from brumal.page.desk import Desk
from brumal.page.doors import Doors
from brumal.page.server import application
from brumal.processes import collect_garbage_as_usual
from brumal.records.faults import Fault, InputError, Where
from brumal.records.folder import SeasonRecords

HERE = "127.0.0.1"
PORT = 8620
_MOST_TRIED = 20
NETWORK = (
    "They are asked for a code. The traffic is not encrypted: whoever can watch your network can "
    "read what you do there, and could act in your name. Do not use it in a network that you share "
    "with strangers. It ends with this command."
)


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "open",
        help="open the planning page: try a winter by hand, and see it answer",
        description="Serve the planning page of a season on this machine and open it in the "
        "browser. What you try is pencil, kept among the results; your files change only where "
        "you say so. It ends with Ctrl-C.",
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
    parser.add_argument(
        "--network",
        action="store_true",
        help="let phones in your home network in by a code, for notes by the racks",
    )
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Serve the page until Ctrl-C."""
    screen = console()
    prepared = load_season(args)
    desk = _desk(args.folder, prepared.records, out_folder(args), args.on)
    ports = range(PORT, PORT + _MOST_TRIED) if args.port is None else [args.port]
    # Entries that wait on a phone find their way back only to the same port.
    sockets = [_listening(HERE, ports[:1] if args.network else ports)]
    port = sockets[0].getsockname()[1]
    hosts, codes = [f"{HERE}:{port}", f"localhost:{port}"], None
    if args.network:
        own = _own_address()
        sockets.append(_listening(own, [port]))
        hosts.append(f"{own}:{port}")
        screen.print(f"Phones in your home network reach the page at http://{own}:{port}")
        screen.print(NETWORK)
        codes = Codes(lambda code: screen.print(f"Code for one phone: {code}"))
    collect_garbage_as_usual()
    key = secrets.token_urlsafe(24)
    app = application(desk, partial(Doors, hosts=hosts, port=port, key=key, codes=codes))
    address = f"http://{HERE}:{port}/?key={key}"
    screen.print("The planning page is at")
    screen.print(address, soft_wrap=True)
    screen.print("It works once, in one browser of this machine. Ctrl-C ends the page.")
    config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=2)
    server = _Server(config, desk, "" if args.no_browser else address)
    # Ctrl-C is the way to end it: uvicorn closes the page and passes it on, unless it was started
    # where Ctrl-C is set to do nothing.
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=sockets)
    screen.print("The page is closed. What you tried in pencil is kept.")
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


def _own_address() -> str:
    """Return this machine's address in the home network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            # An address kept for examples (RFC 5737): choosing a way there sends no packet.
            asking.connect(("192.0.2.1", 9))
            return str(asking.getsockname()[0])
        except OSError as problem:
            raise InputError([_no_network()]) from problem


def _no_network() -> Fault:
    return Fault(
        where=Where(file="--network"),
        found="no network on this machine",
        expected="a home network, wireless or by cable",
        repair="Leave --network out to work on this machine alone.",
    )


def _listening(host: str, ports: Sequence[int]) -> socket.socket:
    """Return a socket that listens on an address, on the first of the ports that is free."""
    for each in ports:
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":
            # Elsewhere this would let two programs share a port.
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, each))
            listening.listen()  # A browser that is quick waits in line.
        except OSError:
            listening.close()
            continue
        return listening
    raise InputError(
        [
            Fault(
                where=Where(file="--port"),
                found=f"port {ports[0]}, which another program uses",
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
