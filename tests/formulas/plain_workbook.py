"""A plain workbook of everything: each table a block of rows, each quantity a live formula from the cells reader."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import xlsxwriter
from xlsxwriter.utility import xl_col_to_name

from pricing.formulas.engine import Computed
from pricing.formulas.sheet_formula import formula_of
from pricing.formulas.sheet_layout import SHEETS, Column, Layout, LongRow, long_rows, sheet_of, structure


def lay_out(computed: Computed, rows: dict[str, list[LongRow]]) -> Layout:
    """Blocks one below the other on each sheet: structure first, then inputs, then quantities."""
    graph, layout = computed.graph, Layout()
    names = {table: [] for table in rows}
    for table, columns in structure(rows).items():
        names[table] += [(sheet_of("", table), name) for name in columns]
    for known in (*graph.inputs.values(), *graph.quantities.values()):
        if getattr(known, "stated", None) is None:
            names[known.table].append((sheet_of(known.name, known.table), known.name))
    for sheet in SHEETS:
        free_row = 1
        for table, block in rows.items():
            here = [name for on_sheet, name in names[table] if on_sheet == sheet]
            for place, name in enumerate(here):
                layout.columns[name] = Column(sheet, xl_col_to_name(place), free_row + 1, len(block))
            free_row += (len(block) + 3) if here else 0
    return layout


def write(computed: Computed, path: Path) -> tuple[Layout, dict[str, list[LongRow]]]:
    """Write the workbook; every formula also holds the engine's value."""
    rows = long_rows(computed.resolved)
    layout = lay_out(computed, rows)
    book = xlsxwriter.Workbook(path, {"strings_to_formulas": False})
    sheets = {name: book.add_worksheet(name) for name in SHEETS}
    for columns in structure(rows).values():
        for name, positions in columns.items():
            _head(sheets, layout, name)
            for place, position in enumerate(positions, 1):
                sheets[layout[name].sheet].write(layout[name].cell(place), position)
    for known in computed.graph.inputs.values():
        if known.stated:
            continue
        _head(sheets, layout, known.name)
        for place, row in enumerate(rows[known.table], 1):
            value = getattr(row.row, known.name)
            if value is not None:
                sheets[layout[known.name].sheet].write_number(layout[known.name].cell(place), float(value))
    for name, quantity in computed.graph.quantities.items():
        _head(sheets, layout, name)
        formula = formula_of(computed.graph, name, layout)
        for place, row in enumerate(rows[quantity.table], 1):
            value = float(computed.values[name][row.index])
            held = "" if np.isnan(value) else value
            sheets[layout[name].sheet].write_formula(layout[name].cell(place), formula.at(place), None, held)
    book.close()
    return layout, rows


def _head(sheets, layout: Layout, name: str) -> None:
    column = layout[name]
    sheets[column.sheet].write_string(f"{column.letter}{column.first_row - 1}", name)
