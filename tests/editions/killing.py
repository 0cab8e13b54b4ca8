"""Kills publishing processes at random moments and looks at what they leave."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from pricing.editions.chain import chain_faults, numbers

CHECKOUT = Path(__file__).parents[2]
PROCESS = (sys.executable, "-m", "tests.editions.publishing_process")


@dataclass
class Killed:
    """What some kills left: editions that were told as published, that stand, that a kill interrupted."""

    told: int = 0
    standing: int = 0
    interrupted: int = 0  # kills that left an unfinished file: they fell between its first byte and its end


def kill_often(root: Path, times: int, seed: int, rows: int = 100, longest: float = 0.01) -> Killed:
    """Kill `times` processes, each up to `longest` seconds after it has begun to publish.

    Raises AssertionError for a torn edition, a gap, or one that was told as published and does not stand.
    """
    moments, found = random.Random(seed), Killed()
    for _ in range(times):
        process = subprocess.Popen([*PROCESS, str(root), str(rows)], cwd=CHECKOUT, stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(moments.uniform(0, longest))
        process.send_signal(signal.SIGKILL)
        told = [int(line) for line in process.communicate()[0].split("\n")[:-1]]  # a last line may be torn
        standing = numbers(root)
        assert set(told) <= set(standing), f"told as published, and gone: {set(told) - set(standing)}"
        assert chain_faults(root) == []
        left = list((root / "editions").glob(".*.unfinished")) if standing or (root / "editions").exists() else []
        found.interrupted += bool(left)
        for path in left:
            path.unlink()
        found.told += len(told)
    found.standing = len(numbers(root))
    return found
