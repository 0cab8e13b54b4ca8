"""The same spans by one worker and by two, and what 10⁸ and 10¹⁰ variants would take.

    python tests/benchmarks/bench_cluster.py                              # 1,000,000 variants of the sample's
    python tests/benchmarks/bench_cluster.py --rows 400000 --cost 0.05    # money a CPU hour

One worker, two and this process alone, in turns in one run: medians of the clock, of the processor in all workers
and here, variants a second of each core. Workers are there before the clock runs; each has made the workshop ready
once.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.many.cluster import client, done_by  # noqa: E402
from pricing.many.here import done_here  # noqa: E402
from pricing.many.run import priced  # noqa: E402
from pricing.many.stream import Job, ready  # noqa: E402
from tests.benchmarks.bench_parquet import exported  # noqa: E402
from tests.many_files import grown  # noqa: E402


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--rows", type=int, default=1_000_000)
    reader.add_argument("--rounds", type=int, default=3)
    reader.add_argument("--cost", type=float, default=0.04, help="what a CPU hour costs, in any money")
    asked = reader.parse_args()
    with TemporaryDirectory() as root, client(None, 1) as one, client(None, 2) as two:
        path = grown(exported(Path(root) / "sample"), Path(root) / "many", asked.rows)
        made = ready(Job(str(path), None))
        target = Path(root) / "prices.parquet"
        peers = {"here alone": None, "one worker": one, "two workers": two}
        clocks: dict[str, list[float]] = {name: [] for name in peers}
        processors: dict[str, list[float]] = {name: [] for name in peers}
        clients: dict[str, list[float]] = {name: [] for name in peers}
        files = set()
        for turn in range(asked.rounds + 1):  # the first is not counted: everything is made ready in it
            for name, held in peers.items():
                before, client_before, began = used(held), time.process_time(), time.perf_counter()
                priced(made, target, True, lambda done, of: None, done_here if held is None else done_by(held))
                if turn:
                    clients[name].append(time.process_time() - client_before)
                    clocks[name].append(time.perf_counter() - began)
                    processors[name].append(used(held) - before)
                files.add(target.read_bytes())
        assert len(files) == 1, "the results differ"
        sent = target.stat().st_size / asked.rows
        print(f"{asked.rows:,} variants in {len(made.spans)} spans; all results the same to the byte")
        print(f"{'':14}{'clock, s':>22}{'processor, s':>14}{'of it here':>12}{'a CPU second':>14}")
        for name in peers:
            found, processor = sorted(clocks[name]), statistics.median(processors[name])
            spread = f"{statistics.median(found):.1f} ({found[0]:.1f} to {found[-1]:.1f})"
            here = statistics.median(clients[name])
            print(f"{name:14}{spread:>22}{processor:14.1f}{here:12.2f}{asked.rows / processor:14,.0f}")
        ratio = statistics.median(clocks["one worker"]) / statistics.median(clocks["two workers"])
        print(f"one worker to two: {ratio:.2f} × by the clock")
        each = statistics.median(processors["two workers"]) / asked.rows
        read = path.stat().st_size / asked.rows
        for many in (10**8, 10**10):
            hours = many * each / 3600
            print(
                f"{many:.0e} variants: {hours:,.1f} CPU hours, {hours * asked.cost:,.2f} at {asked.cost:g} an hour; "
                f"{many * read / 1e9:,.1f} GB read, {many * sent / 1e9:,.1f} GB written"
            )


def used(held: object) -> float:
    """Seconds of the processor that the workers, and this process, have used."""
    workers = 0.0 if held is None else sum(held.run(time.process_time).values())  # type: ignore[attr-defined]
    return workers + time.process_time()


if __name__ == "__main__":
    main()
