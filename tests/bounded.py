"""Runs the command line in a process of its own that is measured, and ended before it swamps the machine."""

from __future__ import annotations

import json
import os
import signal
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


#: Runs a command within limits and writes down what it used. A process apart: what the system calls the most memory of
#: a process begins with what its parent held, and these tests hold a lot.
_MEASURING = """
import json, os, resource, subprocess, sys
seconds, most, to, *command = sys.argv[1:]
resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds)))
resource.setrlimit(resource.RLIMIT_AS, (int(most), int(most)))
code = subprocess.call(command)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
os.write(int(to), json.dumps([code, used.ru_utime + used.ru_stime, used.ru_maxrss]).encode())
"""


def bounded(*words: object, folder: Path) -> Bounded:
    """`troytag` with these words in this folder, in its own measured process."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "TROYTAG_CACHE": "off"}
    reading, writing = os.pipe()
    measuring = [sys.executable, "-I", "-S", "-c", _MEASURING, str(_HARD_SECONDS), str(_HARD_BYTES), str(writing)]
    with os.fdopen(reading, "rb") as found, subprocess.Popen(
        [*measuring, sys.executable, "-m", "pricing.cli.main", *map(str, words)],
        cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        env={**environment, "COLUMNS": "200", "NO_COLOR": "1"}, pass_fds=[writing], start_new_session=True,
    ) as ran:  # fmt: skip
        os.close(writing)
        guard = threading.Timer(_HARD_WAIT, lambda: os.killpg(ran.pid, signal.SIGKILL))
        guard.start()
        try:
            said = ran.stdout.read().decode("utf-8", "replace") if ran.stdout else ""
            ran.wait()
        finally:
            guard.cancel()
        code, seconds, most = json.loads(found.read() or "[-9, 0, 0]")
    unit = 1 if sys.platform == "darwin" else 1024
    return Bounded(code, said, seconds, most * unit)


def told(*words: object, folder: Path, code: int = 1) -> str:
    """What a run said that ended by itself, with this exit code, within what it may use."""
    ran = bounded(*words, folder=folder)
    assert "Traceback" not in ran.said and "MemoryError" not in ran.said, ran.said[-2000:]
    assert ran.code == code, (ran.code, ran.said[-2000:])
    assert affordable(ran.seconds, SECONDS), f"{ran.seconds:.1f} s"
    assert ran.most_bytes < BYTES, f"{ran.most_bytes / 2**20:.0f} MiB"
    return ran.said
