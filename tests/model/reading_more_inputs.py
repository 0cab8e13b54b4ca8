"""What every reader says of three inputs that the package has more than it ships with: `python -m …  FOLDER`.

Run with a copy of the package in which `MORE` was written; see test_an_input_more.py. Prints one JSON document.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from types import MappingProxyType
from typing import Any

#: Per file of the package: after which line, what was added; the two lines of an input and what a formula makes of it.
MORE = MappingProxyType(
    {
        "model/workshop.py": (
            (
                '    """A machine whose hours are charged."""\n',
                '    insurance_per_hour: NotNegative = Field(0.5, description="Insurance of a running hour.")\n',
            ),
        ),
        "model/process.py": (
            (
                '    """One step of a process, in the order in which the work is done."""\n',
                '    cooling_minutes: NotNegative = Field(0.0, description="Minutes that the machine cools.")\n',
            ),
        ),
        "model/product.py": (
            (
                '    """One thing that is sold; None is what was not stated."""\n',
                '    gauge_mm: ByAlloy[Positive | None] = Field(None, description="Thickness of the sheet, in mm.")\n',
            ),
        ),
        "model/rows/workshop.py": (
            (
                '    table: ClassVar[str] = "machine"\n',
                '    insurance: float = given("cur/h", "Insurance of an hour run.", at="insurance_per_hour")\n',
            ),
        ),
        "model/rows/steps.py": (
            (
                '    table: ClassVar[str] = "step"\n',
                '    cooling: float = given("min", "Cooling each time.", at="cooling_minutes", needs="machine")\n',
            ),
        ),
        "model/rows/pieces.py": (
            (
                '    table: ClassVar[str] = "variant"\n',
                '    gauge: float = given("mm", "Thickness of its sheet.", at="gauge_mm")\n',
            ),
        ),
        "quantities/rates.py": (
            ("maintenance_per_hour, power_kw", "maintenance_per_hour, insurance, power_kw"),
            ("+ maintenance_per_hour +", "+ maintenance_per_hour + insurance +"),
        ),
    }
)
#: What the workshop's files state of them, as lines that follow others.
STATED = MappingProxyType(
    {
        "workshop.toml": ("[machines.kiln]\n", "insurance_per_hour = 2\n"),
        "processes.toml": ('name = "burn out"\n', "cooling_minutes = 90\n"),
        "products/acorn-knob.toml": ('process = "cast"\n', "gauge_mm = 1.2\n"),
    }
)


def main(into: Path) -> None:
    from tests.folder.workshops import write
    from tests.workbook.incoming_workshop import costing_of, files

    said: dict[str, Any] = {}
    texts = files()
    bare = costing_of(write(into / "bare", dict(texts)))
    for file, (after, line) in STATED.items():
        texts[file] = texts[file].replace(after, after + line, 1)
    texts["doubts.toml"] = '"machines.kiln.insurance_per_hour" = { low = 1, high = 3 }\n'
    root = write(into / "stated", texts)
    costing = costing_of(root)

    said["resolved"] = [list(_resolved(each.computed.resolved)) for each in (bare, costing)]
    said["cost of the kiln's hour"] = float(costing.computed["machine_rate"][0] - bare.computed["machine_rate"][0])
    said["bounds"] = dict(_bounds())
    said["changes"] = _changes(root, costing, into)
    said["form"] = _form()
    said["sheet"] = _sheet()
    said["doubts"] = _doubts(write, into, texts)
    said["causes"] = _causes(bare, costing)
    said["words"] = _words()
    said["thawed"] = _thawed()
    print(json.dumps(said))


def _resolved(resolved) -> Iterator[float]:
    (kiln,) = resolved.machines
    knob = next(row for row in resolved.variants if (row.sku, row.alloy) == ("acorn-knob", "sterling"))
    step = next(step for step in knob.steps if step.name == "burn out")
    yield from (kiln.insurance, step.cooling, knob.gauge)


def _bounds() -> Iterator[tuple[str, str]]:
    from pricing.formulas.bounds import bounds_of

    for name in ("insurance", "cooling", "gauge"):
        yield name, bounds_of(name).words()


def _changes(root: Path, costing, into: Path) -> list[tuple[str, list, Any, Any]]:
    """Typed over in an exported workbook: 2 -> 3.5 for the kiln, 90 -> 60 in one row, 1.2 -> 1.5 in sterling."""
    from pricing.workbook.back.cells import read_workbook
    from pricing.workbook.back.proposal import WANTED, proposal
    from pricing.workbook.sheets import write_workbook
    from tests.workbook.incoming_workshop import DAY, address, retyped

    book = into / "book.xlsx"
    write_workbook(costing, book)
    typed = {
        address(costing, "insurance", "kiln"): 3.5,
        address(costing, "cooling", "acorn-knob", "sterling", "burn out"): 60,
        address(costing, "gauge", "acorn-knob", "sterling"): 1.5,
    }
    found = proposal(retyped(read_workbook(book, WANTED), typed), root, DAY)
    return [(change.file, list(change.path), change.old, change.new) for change in found.changes]


def _form() -> list[tuple[str, str, str]]:
    from pricing.model.process import StepFigures
    from pricing.model.workshop import Machine
    from pricing.page.forms.fields import group_of

    shown = [
        *group_of(Machine, {"insurance_per_hour": 2}, ("machines", "kiln"), "kiln").fields,
        *group_of(StepFigures, {}, ("steps", "burn out"), "burn out").fields,
    ]
    wanted = ("insurance_per_hour", "cooling_minutes")
    return [(field.name, field.value, field.limits) for field in shown if field.key in wanted]


def _sheet() -> list[tuple[str, str, str]]:
    """The column of the makers' sheet, and the figure of a design's form."""
    from pricing.page.forms.draft import FIGURES
    from pricing.workbook.template.sheet import COLUMNS

    columns = [(column.name, column.kind, column.unit) for column in COLUMNS if column.name == "gauge_mm"]
    return [*columns, *((name, "", "") for name in FIGURES if name == "gauge_mm")]


def _doubts(write, into: Path, texts: dict[str, str]) -> list[str]:
    from pricing.errors import Faults
    from pricing.folder.read import read_folder

    wrong = '"machines.kiln.insurance_per_hours" = { low = 1, high = 3 }\n'
    try:
        read_folder(write(into / "doubted", {**texts, "doubts.toml": wrong}))
    except Faults as found:
        return [f"{fault.problem}: {fault.mend}" for fault in found.faults]
    return []


def _causes(bare, costing) -> dict[str, bool]:
    from pricing.studies.causes.groups import kind_of
    from pricing.studies.causes.of_change import causes_of_cost

    causes = causes_of_cost(bare.computed.resolved, costing.computed.resolved)
    moved = {group.kind: bool(abs(share).max() > 1e-9) for group, share in causes.shares.items()}
    kinds = {name: kind_of(table, name) for table, name in (("machine", "insurance"), ("step", "cooling"))}
    return {"moved": sorted(kind for kind, is_moved in moved.items() if is_moved), **kinds}


def _words() -> list[list[str]]:
    from pricing.folder.keys_in_words import entries_of
    from pricing.formulas.graph import cost_model

    (known,) = entries_of(cost_model(), "insurance")
    keys = [
        *entries_of(cost_model(), "insurance_per_hour"),
        *entries_of(cost_model(), "cooling_minutes"),
        *entries_of(cost_model(), "gauge_mm"),
    ]
    return [[known.unit, known.meaning, *known.used_by], *([key.file, key.table] for key in keys)]


def _thawed() -> list[float]:
    from pricing.editions.chain import newest
    from pricing.editions.inputs import inputs_of

    kept = inputs_of(newest(Path(__file__).parents[1] / "editions" / "kept" / "tin-lane"))
    steps = {step.cooling for variant in kept.variants for step in variant.steps}
    return [*{row.insurance for row in kept.machines}, *steps, *{variant.gauge for variant in kept.variants}]


if __name__ == "__main__":
    main(Path(sys.argv[1]))
