"""Runs the command line in a process of its own that is measured, and ended before it swamps the machine.

It is split off from one that has read the modules already: an interpreter for each costs three times that.
"""

from __future__ import annotations

import atexit
import json
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO

from tests.waiting import LONG, affordable

#: What a command may use for anything that it is given: seconds of a processor like ours, and bytes held in memory.
SECONDS = 5.0
BYTES = 2**30
#: Where the system ends it, whatever happens.
_HARD_SECONDS, _HARD_BYTES, _HARD_WAIT = 120, 4 * 2**30, 600


@dataclass(frozen=True)
class Bounded:
    """What a run said and used: exit code, both streams in one, seconds of the processor, most bytes in memory."""

    code: int
    said: str
    seconds: float
    most_bytes: int


@dataclass
class _Apart:
    """The process that splits off one for each command (`tests/bounded_server.py`); it ends with the tests."""

    server: subprocess.Popen[bytes]
    asks: socket.socket

    @classmethod
    def begin(cls) -> _Apart:
        surroundings = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        limits = map(str, (_HARD_SECONDS, _HARD_BYTES))
        ours, its = socket.socketpair()
        with its:
            server = subprocess.Popen(
                [sys.executable, "-m", "tests.bounded_server", *limits], cwd=Path(__file__).parents[1],
                env=surroundings, stdin=its, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                start_new_session=True,
            )  # fmt: skip
        made = cls(server, ours)
        atexit.register(made.end)
        return made

    def end(self) -> None:
        """Nothing more will be asked."""
        self.asks.close()
        try:
            self.server.wait(LONG)
        except subprocess.TimeoutExpired:
            os.killpg(self.server.pid, signal.SIGKILL)
            self.server.wait()

    def run(self, asked: dict[str, object], streams: tuple[int, int, int]) -> tuple[int, float, int]:
        """Exit code, seconds and most memory of what was asked; -9 where it did not end by itself."""
        guard = threading.Timer(_HARD_WAIT, lambda: os.killpg(self.server.pid, signal.SIGKILL))
        guard.start()
        try:
            line = json.dumps(asked).encode() + b"\n"
            self.asks.sendall(line[socket.send_fds(self.asks, [line], [*streams]) :])
            with self.asks.makefile("rb") as said:
                return tuple(json.loads(said.readline() or "[-9, 0, 0]"))
        finally:
            guard.cancel()


_apart = cache(_Apart.begin)


def apart(*words: object, folder: Path | str, surroundings: Mapping[str, str],
          streams: tuple[int, int, int]) -> tuple[int, float, int]:  # fmt: skip
    """`troytag` with these words in a process of its own: exit code, seconds and most memory (in the system's unit).

    `streams` are the descriptors of its input, output and errors; `surroundings` all of its environment.
    """
    asked = {"words": [*map(str, words)], "folder": str(folder), "surroundings": {**surroundings}}
    try:
        return _apart().run(asked, streams)
    finally:
        if _apart().server.poll() is not None:
            _apart.cache_clear()  # another begins the next


@dataclass(frozen=True)
class Ran:
    """What a command that ran by itself left: exit code, and what it printed on both streams."""

    code: int
    out: bytes
    err: bytes


def ran(*words: object, folder: Path | str = ".", out: int | None = None, **surroundings: str) -> Ran:
    """`troytag` with these words; `out` is where it prints to, if not for us; `surroundings` go before our own."""
    with open(os.devnull) as nothing, TemporaryFile() as printed, TemporaryFile() as errors:
        streams = (nothing.fileno(), printed.fileno() if out is None else out, errors.fileno())
        here = Path(folder).resolve()
        code, _, _ = apart(*words, folder=here, surroundings={**os.environ, **surroundings}, streams=streams)
        return Ran(code, *(_all_of(stream) for stream in (printed, errors)))


def _all_of(file: IO[bytes]) -> bytes:
    file.seek(0)
    return file.read()


def bounded(*words: object, folder: Path) -> Bounded:
    """`troytag` with these words in this folder, in its own measured process.

    Its seconds count the reading of the modules, too, as if it had begun from nothing.
    """
    surroundings = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "TROYTAG_CACHE": "off",
                    "COLUMNS": "200", "NO_COLOR": "1"}  # fmt: skip
    with open(os.devnull) as nothing, TemporaryFile() as said:
        streams = (nothing.fileno(), said.fileno(), said.fileno())
        code, seconds, most = apart(*words, folder=folder, surroundings=surroundings, streams=streams)
        unit = 1 if sys.platform == "darwin" else 1024
        return Bounded(code, _all_of(said).decode("utf-8", "replace"), seconds, most * unit)


def told(*words: object, folder: Path, code: int = 1) -> str:
    """What a run said that ended by itself, with this exit code, within what it may use."""
    ran = bounded(*words, folder=folder)
    assert "Traceback" not in ran.said and "MemoryError" not in ran.said, ran.said[-2000:]
    assert ran.code == code, (ran.code, ran.said[-2000:])
    assert affordable(ran.seconds, SECONDS), f"{ran.seconds:.1f} s"
    assert ran.most_bytes < BYTES, f"{ran.most_bytes / 2**20:.0f} MiB"
    return ran.said
