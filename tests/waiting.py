"""How long a test waits, and how much of a processor it may use: no machine is red for being slow or busy."""

from __future__ import annotations

import time
from statistics import median

#: Seconds to wait for what comes by itself. It is long past what any machine needs: only what never comes runs into it.
LONG = 120.0
#: How many times as long work may take that shares caches, memory and clock with whatever runs beside it.
BESIDE_OTHERS = 2.0
#: Seconds of the processor that `_work` took where the limits of the tests were set: two idle cores of 2026.
_HERE = 0.051


def affordable(seconds: float, limit: float) -> bool:
    """Whether work of so many seconds of the processor keeps to a limit, on a machine that may be slower than ours.

    The limit is that of an idle machine. How slow this one is, is measured only where the limit is passed.
    """
    return seconds < limit or seconds < limit * BESIDE_OTHERS * _slowness()


def _slowness() -> float:
    """How many times as long as ours this machine takes; never below 1."""
    return max(1.0, median(_work() for _ in range(5)) / _HERE)


def _work() -> float:
    """Seconds of the processor for some plain arithmetic."""
    begun, total, last = time.process_time(), 0, {}
    for number in range(300_000):
        total += number * number % 7
        last[number & 1023] = total
    return time.process_time() - begun
