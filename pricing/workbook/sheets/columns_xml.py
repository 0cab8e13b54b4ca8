"""The cells of one column of a block as strands, from the top down, as they stand in the file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.sax.saxutils import escape

import numpy as np

from pricing.words import REASONS
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.inputs_xml import inputs
from pricing.workbook.sheets.plan import Block, PlannedColumn
from pricing.workbook.sheets.ready_cells import (
    as_stated,
    escaped_formula,
    letter,
    number_body,
    number_cell,
    text_body,
)
from pricing.workbook.sheets.strands import Strand, told

#: Quantities that are set apart, since they are what one looks for.
STRONG = frozenset({"unit_cost", "price", "spot_per_g", "labour_rate", "buy_price_per_g", "finished_g"})
#: Where the number of a row is put into a formula.
PLACE = re.compile(r"\{(\d+)\}")


def column_cells(book: Book, block: Block, place: int, item: PlannedColumn) -> list[Strand]:
    """One cell for each row of the block."""
    writer = {
        "label": _words, "after": _words, "sure": _how_sure, "input": inputs, "was": _as_exported, "word": _switches,
        "result": _formulas, "working": _formulas, "spelled": _spelled, "structure": _row_numbers,
    }[item.kind]  # fmt: skip
    return writer(book, block, letter(place), item)


def _words(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    style = book.styles.index("label" if item.kind == "label" else "after")
    texts = book.texts(block, item)
    bodies = {words: text_body(style, words) for words in set(texts)}
    return [f'<c r="{at}', book.numbers(block), '"', map(bodies.__getitem__, texts)]


def _how_sure(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    """An end of what is asked in eight of ten worlds, as it was when exported."""

    def cells() -> Iterator[str]:
        for number, (row, currency) in enumerate(
            zip(block.rows, book.rows(block.table).currencies, strict=True), block.first_row
        ):
            numbers = book.styles.computed("quoted", block.table, currency)
            end = book.words.how_sure(row).get(item.name)
            yield number_cell(f"{at}{number}", book.styles.index("fixed", numbers=numbers), end)

    return [cells()]


def _switches(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    return _numbers_as_stated(book, block, at, item, book.styles.index("hidden"))


def _as_exported(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    unit = book.computed.graph.unit_of(item.name)
    return _numbers_as_stated(book, block, at, item, book.styles.index("fixed", numbers=book.styles.stated(unit)))


def _numbers_as_stated(book: Book, block: Block, at: str, item: PlannedColumn, style: int) -> list[Strand]:
    rows = book.rows(block.table)
    bodies = {kind: number_body(style, as_stated(getattr(row.row, item.name))) for kind, row in rows.of_kind.items()}
    return [f'<c r="{at}', book.numbers(block), '"', map(bodies.__getitem__, rows.kinds)]


def _row_numbers(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    positions = book.plan.structure[block.table][item.name]
    inside = f'" s="{book.styles.index("hidden")}"><v>'
    return [f'<c r="{at}', book.numbers(block), inside, map(str, positions), "</v></c>"]


def _formulas(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    """The cells are those of `formula_cell`."""
    figures, is_switch = book.figures(item.name), book.computed.graph.unit_of(item.name) == "switch"
    is_finite = np.isfinite(figures)
    value: Strand
    if is_switch:
        value = map("01".__getitem__, figures.astype(bool).tolist())
    elif is_finite.all():
        value = told(figures)
    else:
        value = (text if is_number else "" for text, is_number in zip(told(figures), is_finite, strict=True))
    head = _heads(book, block, item, ["b"] * len(figures) if is_switch else np.where(is_finite, "", "str").tolist())
    return [f'<c r="{at}', book.numbers(block), head, *_texts(book, block, at, item), "</f><v>", value, "</v></c>"]


def _heads(book: Book, block: Block, item: PlannedColumn, types: list[str]) -> Strand:
    """What stands between the address and the formula: the style, by the row's currency, and the type of the value."""
    unit = book.computed.graph.unit_of(item.name)
    kind = "result" if item.kind == "result" and item.name in STRONG else "computed"
    currencies = book.rows(block.table).currencies
    heads: dict[tuple[str, str], str] = {}
    for currency, of_type in dict.fromkeys(zip(currencies, types, strict=True)):
        style = book.styles.index(kind, numbers=book.styles.computed(unit, block.table, currency))
        type_ = f' t="{of_type}"' if of_type else ""
        heads[currency, of_type] = f'" s="{style}"{type_}><f>'
    if len(set(heads.values())) == 1:
        return next(iter(heads.values()))
    return map(heads.__getitem__, zip(currencies, types, strict=True))


def _texts(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    """The formula of each row: one text, the numbers of rows put into it."""
    formula = book.formulas[item.name]
    template, firsts = escaped_formula(formula.template), [offset + 1 for offset in formula.offsets]
    shared = _shared_prices(book, block, at) if (item.name, block.table) == ("price", "price") else {}
    if shared:
        return [
            (
                shared.get(number) or template.format(*[first + number - block.first_row for first in firsts])
                for number in range(block.first_row, block.last_row + 1)
            )
        ]
    pieces = PLACE.split(template)  # in turn a text and which number follows it
    return [book.numbers(block, firsts[int(piece)]) if place % 2 else piece for place, piece in enumerate(pieces)]


def _shared_prices(book: Book, block: Block, at: str) -> dict[int, str]:
    """What stands in the rows of single sizes, by their numbers: the one price that all sizes have."""
    found: dict[int, str] = {}
    rows = book.rows("price")
    for number, row in enumerate(block.rows[rows.listed :], block.first_row + rows.listed):
        twin = book.words.twins.price_of(row.index)
        if twin is not None:
            found[number] = f"${at}{block.first_row + rows.positions[twin] - 1}"
    return found


def _spelled(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    """What decided a price, in words."""
    code = book.layout["binds"].letter
    words = [reason.replace("_", " ") for reason in REASONS]
    choices = escape(",".join(f'"{word}"' for word in words))
    shared, codes = _shared_prices(book, block, at), book.figures("binds").astype(int).tolist()
    texts, decided = [], []
    for number, value in enumerate(codes, block.first_row):
        of_all = shared.get(number)
        texts.append(of_all or f"CHOOSE(${code}{number}+1,{choices})")
        decided.append(words[codes[int(of_all.removeprefix(f"${at}")) - block.first_row] if of_all else value])
    head = f'" s="{book.styles.index("after")}" t="str"><f>'
    return [f'<c r="{at}', book.numbers(block), head, texts, "</f><v>", map(escape, decided), "</v></c>"]
