"""How fast very many variants are priced out of Parquet, beside reading the very same file and nothing else.

    python tests/benchmarks/bench_parquet.py                    # 500,000 variants of the sample's
    python tests/benchmarks/bench_parquet.py --rows 2000000 --rounds 3

In turns in one run, medians with spreads, processor time beside the clock: reading alone, all columns read to numpy,
reading and checking, only what it comes to, prices written, and the same with prices in force looked at again. The
sample's variants have 29 lists of steps between them; `one process` has a file in which all have the same. `--memory`
prices a file in a process of its own and tells the most memory that it took.
"""

from __future__ import annotations

import argparse
import io
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[2]))

import pyarrow as pa  # noqa: E402

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.many.run import summarised  # noqa: E402
from pricing.many.stream import Job, Ready, ready, write_part  # noqa: E402
from pricing.many.variants import READ_ROWS, batches  # noqa: E402
from pricing.many.write import written  # noqa: E402
from pricing.resources import sample_catalog  # noqa: E402
from tests.benchmarks.bench_engine import AS_OF  # noqa: E402
from tests.many_files import grown  # noqa: E402

Work = Callable[[], object]


def exported(into: Path) -> Path:
    """The sample as `export parquet` writes it."""
    into.mkdir(parents=True)
    for name, content in written(cost(sample_catalog(), asked_for(AS_OF)), None).items():
        (into / name).write_bytes(content)
    return into


def files_of(root: Path, rows: int) -> dict[str, Path]:
    base = exported(root / "sample")
    return {
        "the sample's 29 processes": grown(base, root / "many", rows),
        "one process": grown(base, root / "one", rows, only=1),
        "the same, with prices in force": grown(base, root / "held", rows, only=1, in_force=True),
    }


def read_alone(made: Ready) -> int:
    rows = 0
    for file in made.source.files:
        with file.reader() as reader:
            for record in reader.iter_batches(READ_ROWS, use_threads=False):
                rows += record.num_rows
    return rows


def read_to_numpy(made: Ready) -> int:
    """All columns that pricing needs, lists by their offsets and values, as numpy has them."""
    rows = 0
    for file in made.source.files:
        with file.reader() as reader:
            for record in reader.iter_batches(READ_ROWS, use_threads=False):
                rows += record.num_rows
                for column in record.columns:
                    unpack(column)
    return rows


def unpack(array: pa.Array) -> None:
    if pa.types.is_list(array.type):
        array.offsets.to_numpy()
        unpack(array.flatten())
    elif pa.types.is_struct(array.type):
        for inner in array.flatten():
            unpack(inner)
    elif pa.types.is_dictionary(array.type):
        array.indices.to_numpy(zero_copy_only=False)
    elif pa.types.is_date(array.type):
        array.cast(pa.int32()).to_numpy(zero_copy_only=False)
    else:
        array.to_numpy(zero_copy_only=False)


def read_and_checked(made: Ready) -> int:
    return sum(
        batch.rows.many
        for span in made.spans
        for batch in batches(made.source.files[span.file], span.groups, made.workshop)
    )


def prices_written(made: Ready) -> None:
    for span in made.spans:
        write_part(made, span, io.BytesIO())


def compare(peers: dict[str, Work], rows: int, rounds: int) -> None:
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in peers}
    for turn in range(rounds + 1):  # the first is not counted
        for name, work in peers.items():
            processor, clock = time.process_time(), time.perf_counter()
            work()
            if turn:
                taken[name].append((time.process_time() - processor, time.perf_counter() - clock))
    first = statistics.median(each for each, _ in next(iter(taken.values())))
    print(f"{'':34}{'processor, µs a variant':>28}{'clock':>8}{'× reading':>11}{'a CPU second':>14}")
    for name, times in taken.items():
        found = sorted(each for each, _ in times)
        middle, clock = statistics.median(found), statistics.median(each for _, each in times)
        spread = f"{middle / rows * 1e6:.2f} ({found[0] / rows * 1e6:.2f} to {found[-1] / rows * 1e6:.2f})"
        print(f"{name:34}{spread:>28}{clock / rows * 1e6:8.2f}{middle / first:11.1f}{rows / middle:14,.0f}")


def most_memory(path: Path, target: Path) -> None:
    """Prices a file by the command, and tells the most memory that it held."""
    words = [sys.executable, "-m", "pricing.cli.main", "reprice", "--from", str(path), "--to", str(target), "--force"]
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"most memory of the command: {most:,.0f} MiB")


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--rows", type=int, default=500_000)
    reader.add_argument("--rounds", type=int, default=5)
    reader.add_argument("--memory", action="store_true")
    asked = reader.parse_args()
    with TemporaryDirectory() as root:
        for name, path in files_of(Path(root), asked.rows).items():
            ready.cache_clear()
            made = ready(Job(str(path), None))
            size = path.stat().st_size / asked.rows
            how = "compiled" if made.compiled else "numpy"
            print(f"\n{name}: {asked.rows:,} variants × {len(made.channels)} channels, {size:.0f} bytes each, {how}")
            peers: dict[str, Work] = {
                "reading alone": lambda made=made: read_alone(made),
                "all columns read to numpy": lambda made=made: read_to_numpy(made),
                "read and checked": lambda made=made: read_and_checked(made),
                "what it comes to (--summary)": lambda made=made: summarised(made, lambda done, of: None),
                "prices written (--to)": lambda made=made: prices_written(made),
            }
            compare(peers, asked.rows, asked.rounds)
            if asked.memory:
                most_memory(path, Path(root) / "prices.parquet")


if __name__ == "__main__":
    main()
