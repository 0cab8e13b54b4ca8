"""Runs the command line in a process of its own that is measured, and ended before it swamps the machine."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path

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


def bounded(*words: object, folder: Path) -> Bounded:
    """`troytag` with these words in this folder, in its own measured process."""
    import resource

    def limits() -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (_HARD_SECONDS, _HARD_SECONDS))
        resource.setrlimit(resource.RLIMIT_AS, (_HARD_BYTES, _HARD_BYTES))

    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "TROYTAG_CACHE": "off"}
    with subprocess.Popen(
        [sys.executable, "-m", "pricing.cli.main", *map(str, words)],
        cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        env={**environment, "COLUMNS": "200", "NO_COLOR": "1"}, preexec_fn=limits,
    ) as ran:  # fmt: skip
        guard = threading.Timer(_HARD_WAIT, ran.kill)
        guard.start()
        try:
            said = ran.stdout.read().decode("utf-8", "replace") if ran.stdout else ""
            _, status, used = os.wait4(ran.pid, 0)
        finally:
            guard.cancel()
        ran.returncode = os.waitstatus_to_exitcode(status)
    unit = 1 if sys.platform == "darwin" else 1024
    return Bounded(ran.returncode, said, used.ru_utime + used.ru_stime, used.ru_maxrss * unit)


def told(*words: object, folder: Path, code: int = 1) -> str:
    """What a run said that ended by itself, with this exit code, within what it may use."""
    ran = bounded(*words, folder=folder)
    assert "Traceback" not in ran.said and "MemoryError" not in ran.said, ran.said[-2000:]
    assert ran.code == code, (ran.code, ran.said[-2000:])
    assert affordable(ran.seconds, SECONDS), f"{ran.seconds:.1f} s"
    assert ran.most_bytes < BYTES, f"{ran.most_bytes / 2**20:.0f} MiB"
    return ran.said
