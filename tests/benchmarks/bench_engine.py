"""How fast the engine computes, beside the same formulas without blocks and beside plain Python floats.

    python tests/benchmarks/bench_engine.py

20,000 variants × 12 steps × 3 channels, made by repeating the example's variants; medians of seven runs. The plain
Python peer is the independent re-computation of the tests on float64, one variant at a time.
"""

from __future__ import annotations

import sys
import tracemalloc
from collections.abc import Callable
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.formulas.columns import columns_of  # noqa: E402
from pricing.formulas.engine import run  # noqa: E402
from pricing.formulas.graph import cost_model  # noqa: E402
from pricing.model.rows import Resolved  # noqa: E402
from tests.benchmarks.timing import median_of  # noqa: E402
from tests.exact.recompute import recompute  # noqa: E402
from tests.folders import tin_lane  # noqa: E402

AS_OF = date(2026, 11, 20)
VARIANTS = 20_000
ANSWERS = {"unit_cost", "labour_hours", "metal_cost", "finished_g", "price", "profit", "margin", "earned_per_hour"}


def many(variants: int = VARIANTS) -> Resolved:
    """The example's variants again and again, so that there are so many."""
    resolved = cost(tin_lane(), asked_for(AS_OF)).computed.resolved
    twelve = [variant for variant in resolved.variants if len(variant.steps) >= 11]
    return resolved.model_copy(update={"variants": tuple(twelve[place % len(twelve)] for place in range(variants))})


def peak_mib(work: Callable[[], object]) -> float:
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 2**20


def main() -> None:
    resolved, graph = many(), cost_model()
    columns = columns_of(resolved)
    rows = [
        ("engine, in blocks", lambda: run(columns, graph, ANSWERS)),
        ("engine, whole columns", lambda: run(columns, graph, ANSWERS, block_rows=10**9)),
        ("rows to columns", lambda: columns_of(resolved)),
    ]
    print(f"{VARIANTS:,} variants × {columns.sizes['step']} steps × {columns.sizes['channel']} channels")
    for name, work in rows:
        print(f"{name:34}{median_of(work):9.3f} s {peak_mib(work):8.0f} MiB")
    seconds = median_of(lambda: recompute(tin_lane(), AS_OF, number=float), 3) / 7 * VARIANTS
    print(f"{'plain Python floats (scaled from 7)':34}{seconds:9.3f} s")


if __name__ == "__main__":
    main()
