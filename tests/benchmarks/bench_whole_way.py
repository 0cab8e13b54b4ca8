"""Whole commands on a folder of very many products, beside what parsing its TOML alone takes in the same run.

    python tests/benchmarks/bench_whole_way.py --products 600

The sample's products under other names, with an edition published or (--no-edition) without. Processor time, medians of
three runs in a process that has imported everything; the ratio is to tomllib alone on the same files, before each
command. With --first nothing is remembered of the folder before a run, which is measured beside the run again that
follows it, and beside one after a price of metal moved; what meshes measure and compiled formulas stay, which have
benchmarks of their own.
"""

from __future__ import annotations

import argparse
import io
import os
import shutil
import statistics
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.cli.main import main as troytag  # noqa: E402
from pricing.remembered import VARIABLE, program  # noqa: E402
from tests.benchmarks.bench_folder import many_products  # noqa: E402
from tests.benchmarks.timing import processor_time_of  # noqa: E402

DAY, BEFORE = "2026-11-20", "2026-11-01"
COMMANDS = (
    ("check",), ("cost",), ("cost", "--json"), ("cost", "--csv"), ("cost", "--sku", "thimble"), ("reprice",),
    ("reprice", "--json"),
)  # fmt: skip
#: What is remembered of other things than the folder.
BY_THEMSELVES = ("meshes", "kernels")


def run(words: list[str]) -> None:
    """One command, its words taken by nobody."""
    sys.argv = ["troytag", *words]
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    with redirect_stdout(out), redirect_stderr(err), suppress(SystemExit):
        troytag()


def seconds_of(work: Callable[[], object]) -> float:
    """Seconds of the processor that this takes."""
    start = time.process_time()
    work()
    return time.process_time() - start


def first_again_and_moved(name: str, root: Path, options: list[str], cache: Path, runs: int = 3) -> list[float]:
    """Median seconds of the processor of a command with nothing remembered of the folder, of the same after it, and of
    the same once a price of metal moved, in a copy of the folder."""
    taken = []
    for number in range(runs):
        for kind in cache.iterdir():
            if kind.name not in BY_THEMSELVES:
                shutil.rmtree(kind)
        program.cache_clear()
        before = [seconds_of(lambda: run([name, str(root), *options])) for _ in range(2)]
        with tempfile.TemporaryDirectory() as directory:
            copy = shutil.copytree(root, Path(directory) / "copy")
            run([name, str(copy), *options])
            with open(copy / "metal_prices.csv", "a", encoding="utf-8") as prices:
                prices.write(f"{DAY},Ag,{36 + number / 10},ozt,GBP,moved\n")
            taken.append([*before, seconds_of(lambda: run([name, str(copy), *options]))])  # noqa: B023  # called at once
    return [statistics.median(each) for each in zip(*taken, strict=True)]


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--products", type=int, default=600)
    reader.add_argument("--no-edition", action="store_true")
    reader.add_argument("--first", action="store_true")
    asked = reader.parse_args()
    os.environ["COLUMNS"] = "80"
    with tempfile.TemporaryDirectory() as directory:
        cache = Path(directory) / "cache"
        os.environ[VARIABLE] = str(cache)
        root = many_products(Path(directory) / "many", asked.products)
        texts = [path.read_text(encoding="utf-8") for path in root.rglob("*.toml")]
        if not asked.no_edition:
            run(["reprice", str(root), "--publish", "--yes", "--as-of", BEFORE])
        run(["cost", str(root), "--as-of", DAY])  # everything is imported by now
        headings = ("first", "again", "a price moved") if asked.first else ("again",)
        print(f"{'':22}{'tomllib alone':>14}{''.join(f'{each:>18}' for each in headings)}")
        for name, *options in COMMANDS:
            words = [name, str(root), *(options := [*options, "--as-of", DAY])]
            alone = processor_time_of(lambda: [tomllib.loads(text) for text in texts], 3)
            if asked.first:
                taken = first_again_and_moved(name, root, options, cache)
            else:
                taken = [processor_time_of(lambda words=words: run(words), 3)]
            told = "".join(f"{each:8.3f} s{each / alone:6.1f} x" for each in taken)
            print(f"{' '.join((name, *options[:-2])):24}{alone:10.3f} s{told}", flush=True)


if __name__ == "__main__":
    main()
