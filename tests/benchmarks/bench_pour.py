"""How long a plan takes for a long list of wants, and how far it is proved.

    python tests/benchmarks/bench_pour.py [WANTS]

A workshop of so many designs (200) in three alloys and three flasks; one plan with a chance of 90 %, one on the mean.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.pouring.plan import SURE, plan  # noqa: E402
from tests.pouring.many import many_designs  # noqa: E402
from tests.published.small_workshop import AS_OF  # noqa: E402


def main() -> None:
    designs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as name:
        wants = many_designs(Path(name), designs)
        costing = cost(Path(name), asked_for(AS_OF))
    for what, sure in (("90 % sure", SURE), ("on the mean", None)):
        start = time.perf_counter()
        made = plan(costing, wants, sure)
        seconds = time.perf_counter() - start
        print(
            f"{designs} wants, {what:12} {seconds:7.2f} s   {len(made.flasks)} flasks, {made.least_flasks} at least, "
            f"gap {made.gap:.1%}, {len(made.loads)} loads, {made.least_loads} at least, by {made.by}"
        )


if __name__ == "__main__":
    main()
