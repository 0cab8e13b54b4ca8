"""Medians, for all benchmarks; processor time where other programs of a shared machine would be counted too."""

from __future__ import annotations

import resource
import statistics
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path


def median_of(work: Callable[[], object], runs: int = 7) -> float:
    """Median seconds of some runs, after one that is not counted."""
    work()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def processor_time_of(work: Callable[[], object], runs: int = 5) -> float:
    """Median seconds of the processor that some runs take, after one that is not counted."""
    work()
    taken = []
    for _ in range(runs):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def processor_time_of_command(words: Sequence[str], where: Path, runs: int = 9) -> float:
    """Median seconds of the processor that a whole process takes, after one that is not counted."""
    taken = []
    for _ in range(runs + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(words, cwd=where, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return statistics.median(taken[1:])
