"""The cells of one column of a block, from the top down, as they stand in the file."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from xml.sax.saxutils import escape

from pricing.publish.workbook.desk import Desk
from pricing.publish.workbook.editable import is_editable
from pricing.publish.workbook.plan import Block, Item
from pricing.publish.workbook.ready import escaped_formula, formula_cell, letter, number_cell, text_cell
from pricing.publish.workbook.styles import UNSEEN
from pricing.tables import INPUTS
from pricing.words import REASONS


def column_cells(desk: Desk, block: Block, place: int, item: Item) -> Iterator[str]:
    """One cell for each row of the block."""
    writer = {
        "label": _words, "after": _words, "input": _inputs, "was": _as_exported, "word": _switches,
        "result": _formulas, "working": _formulas, "spelled": _spelled, "structure": _row_numbers,
    }[item.kind]  # fmt: skip
    return writer(desk, block, letter(place), item)


def _words(desk: Desk, block: Block, at: str, item: Item) -> Iterator[str]:
    style = desk.styles.index("label" if item.kind == "label" else "after")
    for number, row in enumerate(block.rows, block.first_row):
        yield text_cell(f"{at}{number}", style, item.label.words(row))


def _inputs(desk: Desk, block: Block, at: str, item: Item) -> Iterator[str]:
    styles = desk.styles
    numbers = styles.stated(desk.computed.graph.unit_of(item.name))
    open_style, fixed_style = styles.index("input", numbers=numbers), styles.index("fixed", numbers=numbers)
    unseen_style = styles.index("fixed", numbers=UNSEEN)
    known = INPUTS[item.name]
    for number, row in enumerate(block.rows, block.first_row):
        value = getattr(row.row, item.name)
        if is_editable(desk.words, block.table, item.name, row):
            style = open_style
        else:
            style = unseen_style if value == known.idle and not known.is_switch else fixed_style
        yield number_cell(f"{at}{number}", style, as_stated(value))


def _switches(desk: Desk, block: Block, at: str, item: Item) -> Iterator[str]:
    style = desk.styles.index("hidden")
    for number, row in enumerate(block.rows, block.first_row):
        yield number_cell(f"{at}{number}", style, as_stated(getattr(row.row, item.name)))


def _as_exported(desk: Desk, block: Block, at: str, item: Item) -> Iterator[str]:
    style = desk.styles.index("fixed", numbers=desk.styles.stated(desk.computed.graph.unit_of(item.name)))
    for number, row in enumerate(block.rows, block.first_row):
        yield number_cell(f"{at}{number}", style, as_stated(getattr(row.row, item.name)))


def _row_numbers(desk: Desk, block: Block, at: str, item: Item) -> Iterator[str]:
    style = desk.styles.index("hidden")
    for number, position in enumerate(desk.plan.structure[block.table][item.name], block.first_row):
        yield number_cell(f"{at}{number}", style, position)


def _formulas(desk: Desk, block: Block, at: str, item: Item) -> Iterator[str]:
    unit = desk.computed.graph.unit_of(item.name)
    kind = "result" if item.kind == "result" and item.name in STRONG else "computed"
    style = desk.styles.index(kind, numbers=desk.styles.computed(unit, block.table))
    formula = desk.formulas[item.name]
    template, offsets = escaped_formula(formula.template), formula.offsets
    for position, value in enumerate(desk.values(item.name), 1):
        text = template.format(*[position + offset for offset in offsets])
        yield formula_cell(f"{at}{block.first_row + position - 1}", style, text, held(value, unit))


#: Quantities that are set apart, since they are what one looks for.
STRONG = frozenset({"unit_cost", "price", "spot_per_g", "labour_rate", "buy_price_per_g", "finished_g"})


def _spelled(desk: Desk, block: Block, at: str, item: Item) -> Iterator[str]:
    """What decided a price, in words."""
    style = desk.styles.index("after")
    code = desk.layout["binds"].letter
    words = [reason.replace("_", " ") for reason in REASONS]
    choices = escape(",".join(f'"{word}"' for word in words))
    for number, value in enumerate(desk.values("binds"), block.first_row):
        yield formula_cell(f"{at}{number}", style, f"CHOOSE(${code}{number}+1,{choices})", words[int(value)])


def as_stated(value: float | bool | None) -> float | int | None:
    """A stated figure as a cell holds it: switches as 0 and 1, nothing where nothing is stated."""
    if value is None:
        return None
    return int(value) if value == int(value) else float(value)


def held(value: float, unit: str) -> float | bool | str:
    """The value that a formula has now: empty text for what is undefined."""
    if unit == "switch":
        return bool(value)
    return float(value) if isfinite(value) else ""
