"""Live workbooks for tests: written, laid out, opened."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from pricing.costing import Costing
from pricing.formulas.sheet_layout import LongRow, long_rows
from pricing.workbook.sheets import write_workbook
from pricing.workbook.sheets.book import planned
from pricing.workbook.sheets.editable import is_editable
from pricing.workbook.sheets.labels import Words
from pricing.workbook.sheets.plan import Block, Plan
from pricing.workbook.sheets.twins import Twins
from tests.folder.workshops import write as write_folder
from tests.twin import Twin

#: A workshop without roles, machines, materials, flasks, findings and fees.
BARE = {
    "workshop.toml": """\
name = "Fernhollow Castings"
currency = "JPY"
overhead = { per_month = 9000, productive_hours = 90 }
""",
    "alloys.toml": """\
[alloys.tin]
name = "Tin"
density = 7.3
composition = { Sn = 1.0 }
priced_by = "content"
melt_loss = 0.01
""",
    "processes.toml": """\
[[processes.cast]]
name = "pour"
per = "piece"
takes_metal = "pour"
""",
    "channels.toml": """\
[channels.stall]
audience = "retail"
policy = { markup = 0.5 }
""",
    "metal_prices.csv": """\
date,metal,price,per,currency,source
2026-11-20,Sn,4500,kg,JPY,market
""",
    "products/charm.toml": """\
sku = "charm"
name = "Charm"
alloys = ["tin"]
process = "cast"
sprue_ratio = 0.5
castings = [{ name = "charm", count = 1, volume_cm3 = 0.5 }]
""",
}


def bare_workshop(into: Path) -> Path:
    """A folder that states next to nothing."""
    return write_folder(into, BARE)


@dataclass(frozen=True, eq=False)
class _Same:
    """A costing by what it is and not by what it says, so that it can be looked up."""

    costing: Costing

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.costing is self.costing

    def __hash__(self) -> int:
        return id(self.costing)


def plan_of(costing: Costing) -> Plan:
    """Where everything stands in the workbook of a costing."""
    return _plan(_Same(costing))


@lru_cache(maxsize=4)
def _plan(same: _Same) -> Plan:
    return planned(same.costing.computed, Words(same.costing))[0]


def live_twin(office, costing: Costing, directory: Path) -> Twin:
    """The live workbook of a costing, open in LibreOffice, with an engine beside it."""
    path = directory / "live.xlsx"
    write_workbook(costing, path)
    resolved = costing.computed.resolved
    return Twin(office, costing.computed, path, plan_of(costing).layout, long_rows(resolved), Twins(resolved))


def inputs(costing: Costing) -> Sequence[tuple[Block, str, int, LongRow, bool]]:
    """Every shown input cell: its block, name, position (from 1), row, and whether it may be changed."""
    return _inputs(_Same(costing))


@lru_cache(maxsize=4)
def _inputs(same: _Same) -> Sequence[tuple[Block, str, int, LongRow, bool]]:
    return tuple(_shown_inputs(same.costing))


def _shown_inputs(costing: Costing) -> Iterator[tuple[Block, str, int, LongRow, bool]]:
    words = Words(costing)
    for block in plan_of(costing).blocks:
        for _, item in block.shown_items:
            if item.kind == "input":
                for position, row in enumerate(block.rows, 1):
                    yield block, item.name, position, row, is_editable(words, block.table, item.name, row)


def from_here(formula: str, row: int) -> str:
    """A formula with the rows that move along told as distances from its own: the same text all down a column."""
    return re.sub(r"(\$[A-Z]{1,3})(\d+)", lambda found: f"{found[1]}[{int(found[2]) - row}]", formula)
