"""How time and memory grow with variants, steps and channels, and beside it a spreadsheet program on the same workshop.

    python tests/benchmarks/bench_growth.py                                  # up to 100,000 variants: some minutes
    python tests/benchmarks/bench_growth.py --most 1000000 --office 1000 --plot growth.png
    python tests/benchmarks/bench_growth.py --most 100 --parquet 100000000  # half an hour, 4 GB of disk

The example's variants again and again, their figures a little apart, eight answers each. Every point has a process of
its own: the columns (MiB), and on numpy and compiled the median seconds of the processor of three runs and the most
memory that a run takes beside the columns; columns that would not fit 8 GiB are left out and told. A line through the
points of each curve says what one more costs and how straight it is (R²); then how much more ten times as many take.

`--office` also writes the live workbook of as many variants as are named and fewer, and lets LibreOffice recalculate
all of it: the processor's seconds of the whole program, and the most memory that it had. `--parquet` has as many
variants and fewer, from 1,000 up, summed up out of Parquet by the command, start-up included: seconds of the processor
and the most memory that it had. Nothing is extrapolated.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np  # noqa: E402

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.formulas import kernel as kernels  # noqa: E402
from pricing.formulas.columns import KEYED, Columns, columns_of  # noqa: E402
from pricing.formulas.engine import compute, run  # noqa: E402
from pricing.formulas.graph import cost_model  # noqa: E402
from pricing.formulas.tables import TABLES  # noqa: E402
from tests.benchmarks.bench_engine import ANSWERS, AS_OF, many, peak_mib  # noqa: E402
from tests.benchmarks.timing import processor_time_of  # noqa: E402
from tests.folders import tin_lane  # noqa: E402

#: What grows, from where; the others stand at these meanwhile.
USUAL = {"variant": 2_000, "step": 12, "channel": 3}
STEPS, CHANNELS = (12, 24, 48, 96, 192), (3, 6, 12, 24, 48)
BOOKS = (30, 100, 300, 1000, 3000)
MOST_BYTES = 8 * 2**30
RUNS = 3
COLORS = {"numpy": "C0", "compiled": "C1", "columns": "C2", "LibreOffice": "C3", "Parquet": "C4"}
Point = dict[str, float]


def grown(columns: Columns, axis: str, many: int) -> Columns:
    """Columns whose axis has so many places: the same again and again, the idle row last."""
    had = columns.sizes[axis]
    places = np.append(np.arange(many) % had, [had] if axis in KEYED else []).astype(np.intp)

    def along(table: str, array: np.ndarray) -> np.ndarray:
        axes = TABLES[table].axes
        return array.take(places, axis=axes.index(axis)) if axis in axes else array

    graph = cost_model()
    inputs = {name: along(graph.table_of(name), array) for name, array in columns.inputs.items()}
    keys = {key: along(key[0], array) for key, array in columns.keys.items()}
    return Columns(inputs, keys, {**columns.sizes, axis: many})


def sized(sizes: dict[str, int]) -> Columns:
    """The example's columns at these sizes. Raises MemoryError where they would be too many."""
    columns = columns_of(many(1000))
    for axis in ("step", "channel"):
        if sizes[axis] != columns.sizes[axis]:
            columns = grown(columns, axis, sizes[axis])
    bytes_each = _bytes_of(columns) / columns.sizes["variant"]
    if bytes_each * sizes["variant"] > MOST_BYTES:
        raise MemoryError(f"{bytes_each * sizes['variant'] / 2**30:.0f} GiB of columns")
    columns, chance = grown(columns, "variant", sizes["variant"]), np.random.default_rng(1)
    for name in ("volume_cm3", "step_minutes", "expected_sales", "use_quantity", "asked_margin"):
        columns.inputs[name] *= 1 + 0.2 * (chance.random(columns.inputs[name].shape) - 0.5)
    return columns


def measured(sizes: dict[str, int]) -> Point:
    """Both ways of one point, in this process."""
    columns, graph = sized(sizes), cost_model()
    found = {"columns, MiB": _bytes_of(columns) / 2**20}
    for way, compiled_from in (("numpy", sys.maxsize), ("compiled", 1)):
        kernels.COMPILED_FROM = compiled_from
        found[f"{way}, s"] = processor_time_of(lambda: run(columns, graph, ANSWERS), RUNS)  # after one that compiles
        found[f"{way}, MiB"] = peak_mib(lambda: run(columns, graph, ANSWERS))
    return found


def _bytes_of(columns: Columns) -> int:
    return sum(array.nbytes for array in (*columns.inputs.values(), *columns.keys.values()))


def _memory(process: int | str, which: str) -> int:
    """KiB of a process."""
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith(which):
            return int(line.split()[1])
    return 0


def in_a_process(sizes: dict[str, int]) -> Point | str:
    """A point, or why there is none."""
    done = subprocess.run([sys.executable, __file__, "--point", json.dumps(sizes)], capture_output=True, text=True)
    if done.returncode:
        return done.stderr.strip().splitlines()[-1]
    return json.loads(done.stdout)


def curve(axis: str, places: list[int]) -> dict[int, Point]:
    """All points along an axis, printed with the line through them."""
    others = " × ".join(f"{size:,} {name}s" for name, size in USUAL.items() if name != axis)
    print(f"\n{axis}s, {others}")
    found: dict[int, Point] = {}
    for many_ in places:
        point = in_a_process({**USUAL, axis: many_})
        if isinstance(point, str):
            print(f"{many_:>12,}  left out: {point}")
            break
        if not found:
            print(" " * 12 + "".join(f"{name:>16}" for name in point))
        found[many_] = point
        print(f"{many_:>12,}" + "".join(f"{value:16.4f}" for value in point.values()), flush=True)
    for name in next(iter(found.values()), {}):
        print(f"  {name:16}{straight(found, name)}")
    return found


def straight(found: dict[int, Point], name: str) -> str:
    """What one more costs by least squares, how straight the points lie, and ten times as many at the far end."""
    x, y = np.array(list(found), dtype=float), np.array([point[name] for point in found.values()])
    if len(x) < 3 or not y.any():
        return "too few points"
    slope, level = np.polyfit(x, y, 1)
    off = ((y - slope * x - level) ** 2).sum() / max(1e-300, ((y - y.mean()) ** 2).sum())
    power = np.log(y[-1] / y[-2]) / np.log(x[-1] / x[-2]) if y[-2] > 0 else np.nan
    unit = f"{slope * 1e6:.3g} µs" if name.endswith(" s") else f"{slope * 1024:.3g} KiB"
    return f"{unit} for one more, R² {1 - off:.4f}; at the end ten times as many take {10**power:.1f} times as much"


def office(most: int) -> dict[int, Point]:
    """The live workbook recalculated by LibreOffice: its processor seconds and the most memory that it had."""
    from pricing.workbook.sheets import write_workbook
    from tests.office import Office

    print("\nvariants in the live workbook, recalculated by LibreOffice")
    print(f"{'':12}{'LibreOffice, s':>16}{'LibreOffice, MiB':>18}")
    found: dict[int, Point] = {}
    costing = cost(tin_lane(), asked_for(AS_OF))
    with tempfile.TemporaryDirectory() as folder:
        for number in (each for each in BOOKS if each <= most):
            book = Path(folder) / f"{number}.xlsx"
            write_workbook(replace(costing, computed=compute(many(number))), book, force=True)
            with Office(recalculate_on_load=False, limit_seconds=900) as program:
                opened = program.open(book)
                opened.recalculate()  # what is made ready once is not counted
                before = _group_seconds(program.process_group)
                opened.recalculate()
                seconds = _group_seconds(program.process_group) - before
                found[number] = {
                    "LibreOffice, s": seconds,
                    "LibreOffice, MiB": sum(_memory(each, "VmHWM") for each in _group(program.process_group)) / 1024,
                }
            point = found[number]
            print(f"{number:>12,}{point['LibreOffice, s']:16.3f}{point['LibreOffice, MiB']:18.0f}", flush=True)
    for name in next(iter(found.values()), {}):
        print(f"  {name:18}{straight(found, name)}")
    return found


def out_of_parquet(most: int) -> dict[int, Point]:
    """The example's variants in a file, summed up by the command in a process of its own; 33 bytes a variant."""
    from tests.benchmarks.bench_parquet import exported
    from tests.many_files import grown as written

    print("\nvariants in a file of Parquet, what they come to by the command")
    found: dict[int, Point] = {}
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        sample = exported(root / "sample")
        print(f"{'':12}{'Parquet, s':>16}{'Parquet, MiB':>16}{'clock, s':>16}")
        for number in (10**power for power in range(3, 9) if 10**power <= most):
            file = written(sample, root / "many", number)
            words = [sys.executable, "-m", "pricing.cli.main", "reprice", "--from", str(file), "--summary"]
            began = time.perf_counter()
            process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            _, ended, used = os.wait4(process.pid, 0)
            clock = time.perf_counter() - began
            if ended:
                raise SystemExit(f"the command ended with {os.waitstatus_to_exitcode(ended)}")
            found[number] = {"Parquet, s": used.ru_utime + used.ru_stime, "Parquet, MiB": used.ru_maxrss / 1024}
            print(f"{number:>12,}" + "".join(f"{each:16.2f}" for each in (*found[number].values(), clock)), flush=True)
    for name in next(iter(found.values()), {}):
        print(f"  {name:16}{straight(found, name)}")
    return found


def _group(group: int | None) -> list[int]:
    """The processes of a group."""
    inside = []
    for each in Path("/proc").iterdir():
        if each.name.isdigit():
            try:
                if os.getpgid(int(each.name)) == group:
                    inside.append(int(each.name))
            except ProcessLookupError:
                pass
    return inside


def _group_seconds(group: int | None) -> float:
    """Seconds of the processor that the processes of a group have taken."""
    ticks = 0
    for process in _group(group):
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def plot(curves: dict[str, dict[int, Point]], file: Path) -> None:
    """Time above, memory below, against each axis; the spreadsheet program beside the variants."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(13, 7), layout="constrained")
    panes = figure.subplots(2, 3, sharey="row")
    for column, axis in enumerate(USUAL):
        for row, unit in enumerate(("s", "MiB")):
            pane = panes[row][column]
            beside = ("office", "parquet") if axis == "variant" else ()
            for found in (curves[axis], *(curves.get(name, {}) for name in beside)):
                for name in next(iter(found.values()), {}):
                    if name.endswith(f", {unit}"):
                        known = {many_: point[name] for many_, point in found.items() if point[name] > 0}
                        label = name.rpartition(",")[0]
                        pane.loglog(list(known), list(known.values()), "o-", color=COLORS[label], label=label)
            if axis != "variant":
                pane.set_xticks(list(curves[axis]), [str(many_) for many_ in curves[axis]])
                pane.minorticks_off()
            pane.set_xlabel(f"{axis}s")
            pane.set_ylabel({"s": "seconds of the processor", "MiB": "MiB"}[unit])
            pane.grid(alpha=0.3)
            pane.legend()
    figure.savefig(file, dpi=120)


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--most", type=int, default=100_000, help="variants, at most")
    reader.add_argument("--office", type=int, default=0, help="variants in a workbook, at most")
    reader.add_argument("--parquet", type=int, default=0, help="variants in a file, at most")
    reader.add_argument("--plot", type=Path, help="where a picture is to go")
    reader.add_argument("--point", type=json.loads, help=argparse.SUPPRESS)
    asked = reader.parse_args()
    if asked.point:
        print(json.dumps(measured(asked.point)))
        return
    curves = {
        "variant": curve("variant", [10**power for power in range(2, 8) if 10**power <= asked.most]),
        "step": curve("step", list(STEPS)),
        "channel": curve("channel", list(CHANNELS)),
    }
    if asked.office:
        curves["office"] = office(asked.office)
    if asked.parquet:
        curves["parquet"] = out_of_parquet(asked.parquet)
    if asked.plot:
        plot(curves, asked.plot)


if __name__ == "__main__":
    main()
