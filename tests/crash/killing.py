"""Kills writing processes at random moments and looks at what they leave."""

from __future__ import annotations

import os
import random
import select
import signal
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from pricing.several_files import JOURNAL
from tests.waiting import LONG

#: Seconds by which a sleep may be longer than it was asked to be.
COARSE = 0.002
#: Told by a process that is about to write for the first time.
READY = "ready"


class Kind(Protocol):
    """A kind of write: `prepare` makes a folder, `work` writes until it is killed and tells every number that it was
    told is written, `look` reads the folder as the next command would and gives the numbers that stand in it.
    """

    def prepare(self, root: Path) -> None: ...

    def work(self, root: Path, tell: Callable[[object], None]) -> None: ...

    def look(self, root: Path) -> list[int]: ...


@dataclass
class Killed:
    """What some kills left: numbers told as written and standing; kills that fell into the midst of a write, and of
    these the ones that left a journal to be worked through."""

    told: int = 0
    standing: int = 0
    interrupted: int = 0
    journals: int = 0


def kill_often(kind: Kind, root: Path, times: int, seed: int) -> Killed:
    """Kill `times` processes, each some random while after it has begun to write: at most as long as two writes take.

    Raises AssertionError for anything torn, half-written, lost, or left behind.
    """
    moments, found = random.Random(seed), Killed()
    kind.prepare(root)
    longest = 0.0
    for _ in range(times):
        # The first one is let write once, which tells how long that takes here and now.
        told, ready = _killed(kind, root, moments.uniform(0, longest) if longest else None)
        longest = longest or 2 * (time.monotonic() - ready)
        left = unfinished(root)
        found.interrupted += bool(left)
        found.journals += (root / JOURNAL).exists()
        standing = kind.look(root)
        assert standing == list(range(1, len(standing) + 1)), f"a gap or one twice: {standing[-20:]}"
        assert set(told) <= set(standing), f"told as written, and gone: {set(told) - set(standing)}"
        assert not (root / JOURNAL).exists()
        found.told += len(told)
        found.standing = len(standing)
    return found


def unfinished(root: Path) -> list[Path]:
    """What a killed writer has left under names that nobody reads."""
    return [path for path in root.rglob(".*") if path.name == JOURNAL or path.suffix in (".unfinished", ".placing")]


def _killed(kind: Kind, root: Path, moment: float | None) -> tuple[list[int], float]:
    """One process, killed so many seconds after it was ready (None: once it has written); what it told, when it was."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        _work(kind, root, writing)
    os.close(writing)
    said = _until(reading, b"", READY.encode())
    ready = time.monotonic()
    if moment is None:
        said = _until(reading, said, b"\n1\n")
    end = ready + (moment or 0.0)
    time.sleep(max(0.0, end - time.monotonic() - COARSE))
    while time.monotonic() < end:  # a sleep would be far too coarse
        pass
    os.kill(process, signal.SIGKILL)
    os.waitpid(process, 0)
    while chunk := os.read(reading, 65536):
        said += chunk
    os.close(reading)
    lines = said.decode().split("\n")[:-1]  # a last line may be torn
    assert not any(line.startswith("broken") for line in lines), said.decode()
    return [int(line) for line in lines if line != READY], ready


def _until(reading: int, said: bytes, word: bytes) -> bytes:
    """What a process says up to a word and perhaps behind it."""
    while word not in said and b"broken" not in said:
        ready, _, _ = select.select([reading], [], [], LONG)
        chunk = os.read(reading, 65536) if ready else b""
        assert chunk, f"the process ended: {said.decode()}"
        said += chunk
    return said


def _work(kind: Kind, root: Path, writing: int) -> None:
    """The child: it ends by being killed, or tells why it could not go on."""
    try:
        kind.work(root, lambda word: os.write(writing, f"{word}\n".encode()))
    except BaseException:
        os.write(writing, f"broken {traceback.format_exc()!r}\n".encode())
        time.sleep(60)
    finally:
        os._exit(1)
