"""Serving the page: a port of this machine only, and the one address that lets its maker in."""

from __future__ import annotations

import gc
import logging
import signal
import socket
import sys
import webbrowser
from datetime import date
from pathlib import Path
from typing import Any

from pricing.errors import UsageFault
from pricing.extras import missing

#: The port that is tried first; where it is taken, any free one.
PORT = 8417
LOOPBACK = "127.0.0.1"


def serve(root: Path, port: int | None, opens: bool, as_of: date | None, tell: Any) -> None:
    """Serve the page of a folder until it is interrupted. `tell` is given the address once it answers.

    Raises UsageFault where the folder is none or the port is taken, TroytagError where a library is missing.
    """
    try:
        import uvicorn

        from pricing.page.scratch import sweep
        from pricing.page.server.app import page_of
        from pricing.page.server.connections import AT_THE_DOOR, FewLines, settings
        from pricing.page.server.guard import Keys
    except ImportError as absent:
        raise missing("The page", absent.name or "starlette", "page") from None
    if root.exists() and not root.is_dir():
        raise UsageFault(f"{root} is a file. Name a folder, or one that shall be.")
    sweep()
    listening = _listening(port)
    keys = Keys(listening.getsockname()[1])
    app = page_of(root, keys, as_of)
    # Ten thousand variants are millions of objects that stay: looking through them for garbage takes half a second.
    gc.set_threshold(100_000, 20, 20)
    app.state.workspace.settled = gc.freeze
    address = keys.first_address

    class Server(uvicorn.Server):
        async def startup(self, sockets: Any = None) -> None:
            await super().startup(sockets)
            listening.listen(AT_THE_DOOR)
            if hangs_up := getattr(signal, "SIGHUP", None):
                if signal.getsignal(hangs_up) is signal.SIG_DFL:  # with nohup it is to go on
                    signal.signal(hangs_up, self.handle_exit)
            tell(address)
            if opens:
                webbrowser.open(address)

    config = uvicorn.Config(app, **settings())
    few = FewLines()
    for name in ("asyncio", "uvicorn.error"):  # a fault that comes a thousand times is one fault
        logging.getLogger(name).addFilter(few)
    # Asking after thousands of files takes as many turns between threads; with the usual 5 ms each that is seconds.
    sys.setswitchinterval(0.0005)
    try:
        Server(config).run(sockets=[listening])
    finally:
        listening.close()


def _listening(port: int | None) -> socket.socket:
    """A socket on a loopback port: the one asked for, else the usual one, else any."""
    for wanted in (port,) if port is not None else (PORT, 0):
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((LOOPBACK, wanted))
            listening.listen()
            return listening
        except OverflowError:
            listening.close()
            raise UsageFault(f"--port {wanted}: a port is a number from 0 to 65535.") from None
        except OSError as taken:
            listening.close()
            reason = taken.strerror or str(taken)
    raise UsageFault(f"port {port} cannot be had ({reason}). Name another with --port, or leave it out.")
