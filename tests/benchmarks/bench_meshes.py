"""How long a mesh of a million triangles takes, beside trimesh in the same run.

`python tests/benchmarks/bench_meshes.py [TRIANGLES]` prints a table: median of several runs and the most memory that a
fresh process needed for it, beyond what an empty one needs.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

RUNS = 5
#: What is timed → the program: `load` is not timed, `run` is, PATH stands for the file.
CASES = {
    "sums alone, nothing kept": ("off", "from pricing.meshes import measure", "measure(PATH, thorough=False)"),
    "sums alone, remembered": ("keep", "from pricing.meshes import measure", "measure(PATH, thorough=False)"),
    "close look, nothing kept": ("off", "from pricing.meshes import measure", "measure(PATH)"),
    "close look, remembered": ("keep", "from pricing.meshes import measure", "measure(PATH)"),
    "trimesh: load and volume": ("off", "import trimesh", "trimesh.load_mesh(PATH).volume"),
    "trimesh: and is_watertight": ("off", "import trimesh", "m = trimesh.load_mesh(PATH); m.volume, m.is_watertight"),
    "import numpy": ("off", "", "import numpy"),
    "import pricing.meshes": ("off", "", "import pricing.meshes"),
    "import trimesh": ("off", "", "import trimesh"),
}
PROGRAM = """
import resource, time
{load}
PATH = {path!r}
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
start = time.perf_counter()
{run}
print(time.perf_counter() - start, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024)
"""


def ball(path: Path, triangles: int) -> int:
    """A ball by latitude and longitude with about so many triangles, as a binary STL; how many there are."""
    from math import cos, pi, sin

    from tests.meshes.shapes import binary_stl, turned

    around = max(8, round(triangles**0.5))
    steps = max(4, triangles // (2 * around))
    arc = [
        (0 if step in (0, steps) else 15 * sin(pi * step / steps), -15 * cos(pi * step / steps))
        for step in range(steps + 1)
    ]
    corners = turned(arc, around).corners
    path.write_bytes(binary_stl(corners))
    return len(corners)


def timed(load: str, run: str, path: Path, cache: str) -> tuple[float, float]:
    """Seconds and MiB of one run in a fresh process."""
    program = PROGRAM.format(load=load, run=run, path=str(path))
    environment = os.environ | {"TROYTAG_CACHE": cache, "PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True)
    seconds, mebibytes = map(float, done.stdout.split())
    return seconds, mebibytes


def main(triangles: int) -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ball.stl"
        # Made in a process of its own: on Linux a child's peak memory begins with its parent's.
        made = subprocess.run([sys.executable, __file__, str(triangles), str(path)], capture_output=True, check=True)
        count = int(made.stdout)
        print(f"{count:,} triangles, {path.stat().st_size / 2**20:.0f} MiB; median of {RUNS} runs")
        for name, (cache, load, run) in CASES.items():
            where = str(Path(folder) / "cache") if cache == "keep" else "off"
            if cache == "keep":
                timed(load, run, path, where)
            results = [timed(load, run, path, where) for _ in range(RUNS)]
            seconds = statistics.median(result[0] for result in results)
            print(f"{name:28} {seconds:8.3f} s {max(result[1] for result in results):8.0f} MiB")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        print(ball(Path(sys.argv[2]), int(sys.argv[1])))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
