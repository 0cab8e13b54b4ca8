"""What a person waits for: whole commands, beside a bare Python and beside what they must import.

python tests/benchmarks/bench_start.py

Seconds by the clock, and of the processor; bytecode is kept, as where the package is installed.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks.timing import median_of, processor_time_of_command  # noqa: E402

ROOT = Path(__file__).parents[2]
PYTHON = sys.executable
TROYTAG = [PYTHON, "-m", "pricing.cli.main"]


def main() -> None:
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sample = str(ROOT / "sample_catalog")
    for name, words in (
        ("python -c pass", [PYTHON, "-c", "pass"]),
        ("import typer", [PYTHON, "-c", "import typer"]),
        ("import numpy, pydantic, typer, rich.table", [PYTHON, "-c", "import numpy, pydantic, typer, rich.table"]),
        ("troytag --help", [*TROYTAG, "--help"]),
        ("troytag words metal_cost", [*TROYTAG, "words", "metal_cost"]),
        ("troytag check sample_catalog", [*TROYTAG, "check", sample]),
        ("troytag cost sample_catalog", [*TROYTAG, "cost", sample]),
    ):
        seconds = median_of(lambda words=words: subprocess.run(words, cwd=ROOT, capture_output=True), 9)
        print(f"{name:44}{seconds:8.3f} s{processor_time_of_command(words, ROOT):8.3f} s of the processor")


if __name__ == "__main__":
    main()
