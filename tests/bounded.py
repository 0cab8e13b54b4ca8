"""Runs the command line in a process of its own that is measured, and ended before it swamps the machine."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import NamedTemporaryFile

from tests.waiting import affordable

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

    server: subprocess.Popen[str]

    @classmethod
    def begin(cls) -> _Apart:
        surroundings = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        limits = map(str, (_HARD_SECONDS, _HARD_BYTES))
        return cls(subprocess.Popen(
            [sys.executable, "-m", "tests.bounded_server", *limits], cwd=Path(__file__).parents[1], env=surroundings,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, start_new_session=True,
        ))  # fmt: skip

    def run(self, asked: dict[str, object]) -> tuple[int, float, int]:
        """Exit code, seconds and most memory of what was asked; -9 where it did not end by itself."""
        assert self.server.stdin and self.server.stdout
        guard = threading.Timer(_HARD_WAIT, lambda: os.killpg(self.server.pid, signal.SIGKILL))
        guard.start()
        try:
            self.server.stdin.write(json.dumps(asked) + "\n")
            self.server.stdin.flush()
            return tuple(json.loads(self.server.stdout.readline() or "[-9, 0, 0]"))
        finally:
            guard.cancel()


_apart = cache(_Apart.begin)


def bounded(*words: object, folder: Path) -> Bounded:
    """`troytag` with these words in this folder, in its own measured process.

    Its seconds count the reading of the modules, too, as if it had begun from nothing.
    """
    surroundings = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "TROYTAG_CACHE": "off"}
    with NamedTemporaryFile() as said:
        asked = {"words": [*map(str, words)], "folder": str(folder), "said": said.name,
                 "surroundings": {**surroundings, "COLUMNS": "200", "NO_COLOR": "1"}}  # fmt: skip
        code, seconds, most = _apart().run(asked)
        if _apart().server.poll() is not None:
            _apart.cache_clear()  # another begins the next
        unit = 1 if sys.platform == "darwin" else 1024
        return Bounded(code, said.read().decode("utf-8", "replace"), seconds, most * unit)


def told(*words: object, folder: Path, code: int = 1) -> str:
    """What a run said that ended by itself, with this exit code, within what it may use."""
    ran = bounded(*words, folder=folder)
    assert "Traceback" not in ran.said and "MemoryError" not in ran.said, ran.said[-2000:]
    assert ran.code == code, (ran.code, ran.said[-2000:])
    assert affordable(ran.seconds, SECONDS), f"{ran.seconds:.1f} s"
    assert ran.most_bytes < BYTES, f"{ran.most_bytes / 2**20:.0f} MiB"
    return ran.said
