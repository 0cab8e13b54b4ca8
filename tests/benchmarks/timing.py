"""Medians, for all benchmarks."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def median_of(work: Callable[[], object], runs: int = 7) -> float:
    """Median seconds of some runs, after one that is not counted."""
    work()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)
