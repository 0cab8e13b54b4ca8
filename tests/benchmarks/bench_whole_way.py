"""Whole commands on a folder of very many products, beside what parsing its TOML alone takes in the same run.

    python tests/benchmarks/bench_whole_way.py --products 600

The sample's products under other names, with an edition published or (--no-edition) without. Processor time, medians of
three runs in a process that has imported everything; the ratio is to tomllib alone on the same files.
"""

from __future__ import annotations

import argparse
import io
import os
import sys
import tempfile
import tomllib
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.cli.main import main as troytag  # noqa: E402
from tests.benchmarks.bench_folder import many_products  # noqa: E402
from tests.benchmarks.timing import processor_time_of  # noqa: E402

DAY, BEFORE = "2026-11-20", "2026-11-01"
COMMANDS = (
    ("check",), ("cost",), ("cost", "--json"), ("cost", "--csv"), ("cost", "--sku", "thimble"), ("reprice",),
    ("reprice", "--json"),
)  # fmt: skip


def run(words: list[str]) -> None:
    """One command, its words taken by nobody."""
    sys.argv = ["troytag", *words]
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    with redirect_stdout(out), redirect_stderr(err), suppress(SystemExit):
        troytag()


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--products", type=int, default=600)
    reader.add_argument("--no-edition", action="store_true")
    asked = reader.parse_args()
    os.environ["COLUMNS"] = "80"
    with tempfile.TemporaryDirectory() as directory:
        root = many_products(Path(directory) / "many", asked.products)
        texts = [path.read_text(encoding="utf-8") for path in root.rglob("*.toml")]
        if not asked.no_edition:
            run(["reprice", str(root), "--publish", "--yes", "--as-of", BEFORE])
        alone = processor_time_of(lambda: [tomllib.loads(text) for text in texts], 3)
        print(f"{'tomllib alone':26}{alone:8.3f} s")
        for name, *options in COMMANDS:
            words = [name, str(root), *options, "--as-of", DAY]
            taken = processor_time_of(lambda words=words: run(words), 3)
            print(f"{' '.join((name, *options)):26}{taken:8.3f} s{taken / alone:8.1f} x")


if __name__ == "__main__":
    main()
