"""A small workshop whose workbook comes back: cousins, two alloys, every way of stating a casting, notes everywhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

from pricing.costing import Costing, asked_for, cost
from pricing.shown import metal_named
from pricing.workbook.back.cells import Incoming, ReadCell, ReadSheet
from tests.folder.workshops import FILES, write
from tests.workbook.workbooks import plan_of

DAY = date(2026, 11, 20)

#: The small workshop of the folder's own tests, and in it what a workbook can change besides.
MORE: Mapping[str, tuple[tuple[str, str], ...]] = {
    "workshop.toml": (
        ("rate = 24.0\n", "rate = 24.0   # what Ines asks\n"),
        ("power_kw = 2.4\n", "power_kw = 2.4\nduty = 0.6\n"),
    ),
    "alloys.toml": (
        ('mark = "925"\n', 'mark = "925"\nunpriced = ["Cu"]\nstock_premium = 0.09   # sheet\nscrap_payout = 0.9\n'),
        ("melt_loss = 0.03\n", "melt_loss = 0.03\n# brass is sold by the kilo\nscrap_payout = 0.4\n"),
    ),
    "processes.toml": (
        ("minutes = 3\nmetal_loss", "minutes = 3        # with the small brush\nrework = 0.1\nmetal_loss"),
        ("rework = 0.1\n", "rework = 0.1\nrework_minutes = 2\n"),
        ("metal_loss = 0.002\n", "metal_loss = 0.002\ncaught = 0.5\ngood = 0.97\n"),
    ),
    "channels.toml": (
        ("policy = { margin = 0.25 }", "policy = { margin = 0.25 }   # after fees"),
        ('policy = { metal_multiple = 1.3, work_multiple = 2.0 }\n',
         'policy = { metal_multiple = 1.3, work_multiple = 2.0 }\n'
         '[channels.fair]\naudience = "retail"\npolicy = { markup = 0.6 }\n'
         '[channels.web]\naudience = "retail"\nminutes = 5\nlabour = "bench"\npolicy = { earn = 30.0 }\n'
         '[channels.club]\naudience = "retail"\npolicy = { multiple = 2.2 }\n'
         '[channels.gift]\naudience = "retail"\npolicy = { keystone_of = "trade", multiple = 2.4 }\n'),
    ),
    "products/acorn-knob.toml": (
        ('sold_in = ["shop", "trade"]\n', ""),
        ("price = 0.11 }]", "price = 0.11 }]   # steel"),
        ("minutes = 5\n", "minutes = 5       # the stalk is fiddly\n"),
    ),
}  # fmt: skip
RING = """\
# a ring, sawn from sheet
sku = "ring"
name = "Twig ring"
alloys = ["sterling"]
process = "sawn"
sprue_ratio = 0.3          # offcut
castings = [
    { name = "band", count = 1, model_g = 2.5, model_density = 1.12 },
    { name = "leaf", count = 3, metal_g = 0.8, in_alloy = "sterling", weighed = "finished" },
]
findings = [{ name = "jump ring", quantity = 2, price = 0.05, metal_g = 0.1, alloy = "sterling" }]
[in_channel.fair]
policy = { fixed = 48.0 }
"""


def files() -> dict[str, str]:
    """The files of the workshop."""
    found = dict(FILES)
    for file, pieces in MORE.items():
        for old, new in pieces:
            assert old in found[file], (file, old)
            found[file] = found[file].replace(old, new, 1)
    found["products/ring.toml"] = RING
    return found


def workshop(into: Path) -> Path:
    return write(into, files())


def costing_of(root: Path) -> Costing:
    return cost(root, asked_for(DAY))


def address(costing: Costing, name: str, *words: str, kind: str = "input") -> tuple[str, str]:
    """Sheet and address of the cell of an input (or a result) in the row with these words (sku, alloy, step …)."""
    plan = plan_of(costing)
    column = plan.layout[name]
    block = next(
        block for block in plan.blocks if any(item and (item.kind, item.name) == (kind, name) for item in block.items)
    )
    labels = [item.label for item in block.items if item and item.kind == "label"]
    for position, row in enumerate(block.rows, 1):
        said = [label.words(row) for label in labels]
        if all(word in said or metal_named(word) in said for word in words):
            return column.sheet, column.cell(position)
    raise LookupError((name, words))


def retyped(incoming: Incoming, cells: Mapping[tuple[str, str], object]) -> Incoming:
    """The workbook with other values in some cells, as if they had been typed."""
    sheets = dict(incoming.sheets)
    for (name, at), value in cells.items():
        number = int(at.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
        rows = {**sheets[name].rows, number: dict(sheets[name].rows[number])}
        letters = at.removesuffix(str(number))
        place = 0
        for letter in letters:
            place = place * 26 + ord(letter) - ord("A") + 1
        rows[number].pop(place - 1, None)
        if value is not None:
            rows[number][place - 1] = ReadCell(name, at, value)
        sheets[name] = ReadSheet(name, rows)
    return replace(incoming, sheets=sheets)
