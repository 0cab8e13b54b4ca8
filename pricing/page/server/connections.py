"""Connections to the page: how many there may be, and how long one may stand there without asking anything.

A browser opens a handful. Whoever opens hundreds and says nothing would take every descriptor of the process; so there
is room for `most`, and a further one takes the place of the one that has been idle longest. A connection that says
half of what it asks, or does not read what it is answered, is closed after some seconds.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast

from uvicorn.protocols.http.h11_impl import H11Protocol

#: So many connections are taken at one go, before the first of them is looked at and another may have to leave.
AT_ONE_GO = 32
#: So many may wait at the system's door meanwhile; one that finds no room there tries again a second later.
AT_THE_DOOR = 512
#: Bytes of a request's line and headers; many cookies of other programs fit.
MOST_HEADER_BYTES = 64 * 1024


@dataclass(frozen=True)
class Patience:
    """At `most` so many connections; seconds for a whole header (`asking`), between two requests (`idle`), and for a
    reader to take some of an answer (`reading`)."""

    most: int = 96
    asking: float = 10.0
    idle: float = 30.0
    reading: float = 60.0


class Connection(H11Protocol):
    """One connection: closed where it keeps the page waiting, or where others need its place."""

    patience = Patience()

    def __init__(self, *given: Any, **more: Any):
        super().__init__(*given, **more)
        self._since = 0.0
        self._ends: asyncio.TimerHandle | None = None
        self._unread: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        super().connection_made(cast(asyncio.Transport, transport))  # a stream's, as the library takes it to be
        self._watch()
        if len(self.connections) <= self.patience.most:
            return
        others = [each for each in self.connections if isinstance(each, Connection)]
        waiting = [each for each in others if each.is_waiting and not each.transport.is_closing()]
        # One that was opened just now is no worse than the others: the one that has waited longest goes.
        (min(waiting, key=lambda each: each._since) if waiting else self).drop()

    @property
    def is_waiting(self) -> bool:
        """Whether no request of it is being answered."""
        return self.cycle is None or self.cycle.response_complete

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if not self.is_waiting or self.transport.is_closing():
            self._stop_watching()
        elif self._ends is None:
            self._watch()  # more of the next request must come, and soon

    def on_response_complete(self) -> None:
        super().on_response_complete()
        if self.is_waiting and not self.transport.is_closing():
            self._since = time.monotonic()

    def pause_writing(self) -> None:
        super().pause_writing()
        if self._unread is None:
            self._unread = self.loop.call_later(self.patience.reading, self.drop)

    def resume_writing(self) -> None:
        super().resume_writing()
        self._is_read()

    def connection_lost(self, error: Exception | None) -> None:
        self._stop_watching()
        self._is_read()
        super().connection_lost(error)
        self._unset_keepalive_if_required()

    def drop(self) -> None:
        """Close it at once, whatever is still to be said."""
        self.connections.discard(self)
        self._stop_watching()
        self.transport.abort()

    def _watch(self) -> None:
        self._since = time.monotonic()
        self._ends = self.loop.call_later(self.patience.asking, self.drop)

    def _stop_watching(self) -> None:
        if self._ends is not None:
            self._ends.cancel()
            self._ends = None

    def _is_read(self) -> None:
        if self._unread is not None:
            self._unread.cancel()
            self._unread = None


class FewLines(logging.Filter):
    """Lets through so many lines a minute, then one that says that more are left out."""

    def __init__(self, most: int = 30, clock: Callable[[], float] = time.monotonic):
        super().__init__()
        self.most, self._clock = most, clock
        self._begun, self._count = clock(), 0

    def filter(self, record: logging.LogRecord) -> bool:
        now = self._clock()
        if now - self._begun >= 60:
            self._begun, self._count = now, 0
        self._count += 1
        if self._count == self.most + 1:
            record.msg, record.args, record.exc_info, record.exc_text = (
                "further lines of this minute are left out",
                (),
                None,
                None,
            )
        return self._count <= self.most + 1


def settings(patience: Patience = Patience()) -> dict[str, Any]:
    """What uvicorn is told for the page, but for the application."""
    kind = type("PageConnection", (Connection,), {"patience": patience})
    return {
        "http": kind,
        "ws": "none",
        "backlog": AT_ONE_GO,
        "h11_max_incomplete_event_size": MOST_HEADER_BYTES,
        "timeout_keep_alive": patience.idle,
        "log_level": "error",
        "access_log": False,
        "server_header": False,
        "date_header": False,
        "timeout_graceful_shutdown": 3,
        "proxy_headers": False,
    }
