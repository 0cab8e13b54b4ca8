"""How long the live workbook of a thousand variants takes, beside bare XlsxWriter writing as many cells.

    python tests/benchmarks/bench_workbook.py [--office]

The sample's variants again and again; each case in a fresh process, median of three runs and the most memory that one
needed beyond what it held before. The bare run gets its texts, numbers and formulas ready-made and only writes them.
With `--office` also: how long LibreOffice takes to open the workbook, recalculating all of it.
"""

from __future__ import annotations

import json
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

VARIANTS = 1000
RUNS = 3
AS_OF = date(2026, 11, 20)
#: Formulas of each sheet that the bare run writes in turn.
FORMULAS_KEPT = 500
OPENING = "LibreOffice opens and computes it"


def many():
    """The costing of the sample with so many variants."""
    from pricing.costing import asked_for, cost
    from pricing.formulas.engine import compute
    from pricing.resources import sample_catalog

    costing = cost(sample_catalog(), asked_for(AS_OF))
    resolved = costing.computed.resolved
    variants = tuple(resolved.variants[place % len(resolved.variants)] for place in range(VARIANTS))
    return replace(costing, computed=compute(resolved.model_copy(update={"variants": variants})))


def live(directory: Path):
    """Make ready to write the live workbook."""
    from pricing.workbook.sheets import write_workbook

    costing = many()
    return lambda: write_workbook(costing, directory / "live.xlsx", force=True)


def bare(directory: Path, constant_memory: bool):
    """Make ready to write as many cells with nothing but XlsxWriter."""
    from xlsxwriter import Workbook

    sheets = json.loads((directory / "shapes.json").read_text(encoding="utf-8"))

    def work() -> None:
        book = Workbook(directory / "bare.xlsx", {"constant_memory": constant_memory, "strings_to_formulas": False})
        for name, (rows, formulas) in sheets.items():
            sheet, turn = book.add_worksheet(name), 0
            for row, (texts, numbers, formula_count) in enumerate(rows):
                for column in range(texts):
                    sheet.write_string(row, column, "acorn-knob")
                for column in range(texts, texts + numbers):
                    sheet.write_number(row, column, 0.975 + row)
                for column in range(texts + numbers, texts + numbers + formula_count):
                    sheet.write_formula(row, column, formulas[turn % len(formulas)], None, 1.2345678 + row)
                    turn += 1
        book.close()

    return work


def shapes(workbook: Path) -> dict[str, tuple[list[tuple[int, int, int]], list[str]]]:
    """For each sheet: how many texts, numbers and formulas each row has, and some of its formulas."""
    found = {}
    with zipfile.ZipFile(workbook) as packed:
        for member in sorted(name for name in packed.namelist() if name.startswith("xl/worksheets/sheet")):
            xml = packed.read(member).decode("utf-8")
            rows = []
            for row in re.findall(r"<row [^>]*>(.*?)</row>", xml, re.DOTALL):
                texts, formulas = row.count("<is>"), row.count("<f>")
                rows.append((texts, row.count("<c ") - texts - formulas, formulas))
            formulas = [f"={text}" for text in re.findall(r"<f>(.*?)</f>", xml)[-FORMULAS_KEPT:]] or ["=1"]
            found[Path(member).stem] = (
                rows,
                [text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&") for text in formulas],
            )
    return found


def measure(case: str, directory: Path) -> tuple[float, float]:
    """Seconds and MiB of one case in a fresh process."""
    done = subprocess.run([sys.executable, __file__, case, str(directory)], capture_output=True, check=True, text=True)
    seconds, mebibytes = map(float, done.stdout.split())
    return seconds, mebibytes


def run_case(case: str, directory: Path) -> None:
    """Run one case once, in this process."""
    if case == "shapes":
        count_cells(directory)
        return
    work = live(directory) if case == "live" else bare(directory, case == "bare")
    before = resident_kib()
    start = time.perf_counter()
    work()
    print(time.perf_counter() - start, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024)


def resident_kib() -> int:
    """What this process holds now (Linux)."""
    return int(re.search(r"VmRSS:\s+(\d+)", Path("/proc/self/status").read_text()).group(1))


def count_cells(directory: Path) -> None:
    """Count the cells of the live workbook, for the bare run; in a process of its own, since it needs room."""
    workbook = directory / "live.xlsx"
    found = shapes(workbook)
    (directory / "shapes.json").write_text(json.dumps(found), encoding="utf-8")
    cells = [sum(sum(row[kind] for row in rows) for rows, _ in found.values()) for kind in range(3)]
    size = workbook.stat().st_size / 2**20
    print(f"{VARIANTS:,} variants: {sum(cells):,} cells, {cells[2]:,} of them formulas, {size:.1f} MiB")


def seconds_to_open(workbook: Path) -> float:
    """How long LibreOffice takes to open a workbook and to compute all of it."""
    from tests.office import Office

    with Office(limit_seconds=900) as office:
        start = time.perf_counter()
        office.open(workbook).close()
        return time.perf_counter() - start


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        measure("live", directory)
        counted = subprocess.run([sys.executable, __file__, "shapes", name], capture_output=True, check=True, text=True)
        print(counted.stdout, end="")
        cases = (
            ("live", "live workbook"),
            ("bare", "bare XlsxWriter, constant memory"),
            ("bare-whole", "bare XlsxWriter, as it comes"),
        )
        for case, words in cases:
            results = [measure(case, directory) for _ in range(RUNS)]
            seconds = statistics.median(result[0] for result in results)
            print(f"{words:36}{seconds:8.2f} s {max(result[1] for result in results):8.0f} MiB")
        if "--office" in sys.argv:
            workbook = directory / "live.xlsx"
            print(f"{OPENING:36}{seconds_to_open(workbook):8.2f} s")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        run_case(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
