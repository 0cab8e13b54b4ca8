"""The cells of one column of a block, from the top down, as they stand in the file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import isfinite
from xml.sax.saxutils import escape

from pricing.formulas.sheet_layout import LongRow
from pricing.formulas.tables import INPUTS
from pricing.words import REASONS
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.editable import is_editable
from pricing.workbook.sheets.plan import Block, PlannedColumn
from pricing.workbook.sheets.ready_cells import (
    escaped_formula,
    formula_cell,
    letter,
    number_body,
    number_cell,
    text_body,
)
from pricing.workbook.sheets.styles import UNSEEN


def column_cells(book: Book, block: Block, place: int, item: PlannedColumn) -> Iterator[str]:
    """One cell for each row of the block."""
    writer = {
        "label": _words, "after": _words, "sure": _how_sure, "input": _inputs, "was": _as_exported, "word": _switches,
        "result": _formulas, "working": _formulas, "spelled": _spelled, "structure": _row_numbers,
    }[item.kind]  # fmt: skip
    return writer(book, block, letter(place), item)


def _words(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    style = book.styles.index("label" if item.kind == "label" else "after")
    bodies: dict[str, str] = {}
    label = item.label
    assert label is not None  # columns of words have one
    for number, row in enumerate(block.rows, block.first_row):
        words = label.words(row)
        body = bodies.get(words)
        if body is None:
            body = bodies[words] = text_body(style, words)
        yield f'<c r="{at}{number}"{body}'


def _how_sure(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    """An end of what is asked in eight of ten worlds, as it was when exported."""
    for number, row in enumerate(block.rows, block.first_row):
        numbers = book.styles.computed("quoted", block.table, book.currency_of(block.table, row))
        end = book.words.how_sure(row).get(item.name)
        yield number_cell(f"{at}{number}", book.styles.index("fixed", numbers=numbers), end)


def _inputs(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    bodies: dict[int, str] = {}  # by the identity of the row: products share the steps of a process
    twins = book.words.twins
    for number, row in enumerate(block.rows, block.first_row):
        if twins.are_some and twins.is_hidden(block.table, row.index):
            twin = twins.of(block.table, item.name, row.index)
            if twin is not None:
                yield _pointing(book, block, f"{at}{number}", item.name, row, twin)
                continue
            yield f'<c r="{at}{number}"{_input_body(book, block, item.name, row)}'
            continue
        body = bodies.get(id(row.row))
        if body is None:
            body = bodies[id(row.row)] = _input_body(book, block, item.name, row)
        yield f'<c r="{at}{number}"{body}'


def _input_body(book: Book, block: Block, name: str, row: LongRow) -> str:
    styles, known, value = book.styles, INPUTS[name], getattr(row.row, name)
    numbers = styles.stated(known.unit, book.currency_of(block.table, row))
    if is_editable(book.words, block.table, name, row):
        style = styles.index("input", numbers=numbers)
    else:
        has_no_effect = value == known.idle and not known.is_switch
        style = styles.index("fixed", numbers=UNSEEN if has_no_effect else numbers)
    return number_body(style, as_stated(value))


def _pointing(book: Book, block: Block, address: str, name: str, row: LongRow, twin: tuple[int, ...]) -> str:
    """A locked cell that says what stands in the listed row where the same figure is stated."""
    known, value = INPUTS[name], as_stated(getattr(row.row, name))
    column = book.layout[name]
    there = f"${column.letter}{column.first_row + book.position(block.table, twin) - 1}"
    is_stated = is_editable(book.words, block.table, name, LongRow(twin, row.row))
    has_no_effect = value == known.idle and not known.is_switch and not is_stated
    numbers = book.styles.stated(known.unit, book.currency_of(block.table, row))
    style = book.styles.index("fixed", numbers=UNSEEN if has_no_effect else numbers)
    formula = f'IF({there}="","",{there})' if known.optional else there
    return formula_cell(address, style, formula, "" if value is None else float(value))


def _switches(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    style = book.styles.index("hidden")
    for number, row in enumerate(block.rows, block.first_row):
        yield number_cell(f"{at}{number}", style, as_stated(getattr(row.row, item.name)))


def _as_exported(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    style = book.styles.index("fixed", numbers=book.styles.stated(book.computed.graph.unit_of(item.name)))
    for number, row in enumerate(block.rows, block.first_row):
        yield number_cell(f"{at}{number}", style, as_stated(getattr(row.row, item.name)))


def _row_numbers(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    style = book.styles.index("hidden")
    for number, position in enumerate(book.plan.structure[block.table][item.name], block.first_row):
        yield number_cell(f"{at}{number}", style, position)


def _formulas(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    unit = book.computed.graph.unit_of(item.name)
    kind = "result" if item.kind == "result" and item.name in STRONG else "computed"
    by_currency = {
        currency: book.styles.index(kind, numbers=book.styles.computed(unit, block.table, currency))
        for currency in book.currencies(block)
    }
    style = next(iter(by_currency.values()), 0)
    varies = len(set(by_currency.values())) > 1
    formula = book.formulas[item.name]
    template = escaped_formula(formula.template)
    shifts = [offset + 1 - block.first_row for offset in formula.offsets]  # from this row to those it refers to
    pieces = template.split("{0}") if len(shifts) == 1 else None  # joining is twice as fast as formatting
    shared = _shared_prices(book, block, at) if item.name == "price" and block.table == "price" else {}
    values = book.values(item.name)
    if not varies and not shared and unit != "switch" and all(map(isfinite, values)):
        yield from _plain_formulas(at, block.first_row, style, template, shifts, list(map(float, values)))
        return
    for number, value in enumerate(values, block.first_row):
        if number in shared:
            text = shared[number]
        elif pieces:
            text = str(number + shifts[0]).join(pieces)
        else:
            text = template.format(*[number + shift for shift in shifts])
        if varies:
            style = by_currency[book.currency_of(block.table, block.rows[number - block.first_row])]
        yield formula_cell(f"{at}{number}", style, text, held(value, unit))


def _plain_formulas(
    at: str, first: int, style: int, template: str, shifts: list[int], values: list[float]
) -> Iterator[str]:
    """Formulas of one style that all give numbers: most of a workbook. The cells are those of `formula_cell`."""
    head, inside = f'<c r="{at}', f'" s="{style}"><f>'
    if len(shifts) == 1:
        (shift,), pieces = shifts, template.split("{0}")
        for number, value in enumerate(values, first):
            yield f"{head}{number}{inside}{str(number + shift).join(pieces)}</f><v>{value!r}</v></c>"
        return
    places = [int(place) for place in _PLACE.findall(template)]
    written = f"{head}%d{inside}{_PLACE.sub('%d', template.replace('%', '%%'))}</f><v>%r</v></c>"
    ordered = [shifts[place] for place in places]
    for number, value in enumerate(values, first):
        yield written % (number, *[number + shift for shift in ordered], value)


def _shared_prices(book: Book, block: Block, at: str) -> dict[int, str]:
    """What stands in the rows of single sizes, by their numbers: the one price that all sizes have."""
    found: dict[int, str] = {}
    for number, row in enumerate(block.rows, block.first_row):
        twin = book.words.twins.price_of(row.index)
        if twin is not None:
            found[number] = f"${at}{block.first_row + book.position('price', twin) - 1}"
    return found


#: Where the number of a row is put into a formula.
_PLACE = re.compile(r"\{(\d+)\}")
#: Quantities that are set apart, since they are what one looks for.
STRONG = frozenset({"unit_cost", "price", "spot_per_g", "labour_rate", "buy_price_per_g", "finished_g"})


def _spelled(book: Book, block: Block, at: str, item: PlannedColumn) -> Iterator[str]:
    """What decided a price, in words."""
    style = book.styles.index("after")
    code = book.layout["binds"].letter
    words = [reason.replace("_", " ") for reason in REASONS]
    choices = escape(",".join(f'"{word}"' for word in words))
    shared, values = _shared_prices(book, block, at), book.values("binds")
    for number, value in enumerate(values, block.first_row):
        if number in shared:
            of_all = int(shared[number].removeprefix(f"${at}"))
            decided = words[int(values[of_all - block.first_row])]
            yield formula_cell(f"{at}{number}", style, shared[number], decided)
            continue
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
