"""What is checked: compositions, where metal goes, costs and prices against the engine's, fingerprints of inputs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.free_rows import CellPut, Live
from pricing.workbook.sheets.plan import Block

#: Where metal that was bought can be, all of it.
WHERE_METAL_GOES = ("finished_g", "removed_g", "melt_lost_g", "surplus_g", "reject_lost_g")
OK, WRONG, CHANGED, AS_EXPORTED = "OK", "WRONG", "differs because inputs were changed", "as exported"
#: How far a figure of the sheet may be from the engine's, relative: floats are added in another order.
TOLERANCE = 1e-9
#: The same for fingerprints: near enough that no change of a figure goes unnoticed.
FINGERPRINT_TOLERANCE = 1e-11
#: Weights of a fingerprint repeat after so many rows.
FINGERPRINT_CYCLE = 101


@dataclass(frozen=True)
class CheckSection:
    """One table of checks: its rows, and the letters of the columns that hold verdicts."""

    title: str
    heads: tuple[str, ...]
    rows: Sequence[tuple[CellPut, ...]]
    verdicts: tuple[str, ...]
    top: int

    def head_kinds(self, place: int) -> tuple[str, ...]:
        """How a column's head is set: as what stands below it."""
        kinds = self.rows[0][place].kinds if self.rows else ("label",)
        return {"label": ("head_left",), "verdict": ("head_left", "set_in")}.get(kinds[0], ("head",))

    def verdict_ranges(self) -> list[str]:
        """The cells that hold verdicts; none where there is nothing to check."""
        return [f"{each}{self.first_row}:{each}{self.last_row}" for each in self.verdicts] if self.rows else []

    @property
    def first_row(self) -> int:
        return self.top + 2

    @property
    def last_row(self) -> int:
        return self.first_row + len(self.rows) - 1


def _within(difference: str, of: str, tolerance: str) -> str:
    return f"ABS({difference})<={tolerance}*MAX(1,ABS({of}))"


def compositions(book: Book, top: int) -> CheckSection:
    """Fractions of every alloy."""
    contents = book.plan.block("Inputs", "content")
    alloys = book.computed.resolved.alloys
    labels = f"Inputs!$A${contents.first_row}:$A${contents.last_row}"
    rows = []
    for number, alloy in enumerate(alloys, top + 2):
        summed = sum(content.mass_fraction for content in alloy.contents)
        rows.append(
            (
                CellPut(alloy.name, ("label",)),
                CellPut(Live(f"SUMPRODUCT(({labels}=$A{number})*mass_fraction)", summed), ("computed",), "0.0000"),
                CellPut(
                    Live(f'IF(ABS($B{number}-1)<=composition_tolerance+check_tolerance,"{OK}","{WRONG}")', OK),
                    ("verdict",),
                ),
            )
        )
    return CheckSection("Does every composition sum to 1?", ("alloy", "sum of fractions", "verdict"), rows, ("C",), top)


def balances(book: Book, top: int) -> CheckSection:
    """Metal bought against where it is, and the unit cost against the engine's, for each variant."""
    fresh, cost_then = book.values("fresh_g"), book.values("unit_cost")
    goes = [book.values(name) for name in WHERE_METAL_GOES]
    rows = []
    for place, variant in enumerate(book.computed.resolved.all_variants):
        number = top + 2 + place
        position = place + 1
        accounted = "+".join(_cell(book, name, position) for name in WHERE_METAL_GOES)
        kept = sum(each[place] for each in goes)
        balanced = _within(f"$D{number}", f"$B{number}", "check_tolerance")
        rows.append(
            (
                CellPut(f"{book.words.skus[place]} in {variant.alloy}", ("label",)),
                CellPut(Live(_cell(book, "fresh_g", position), fresh[place]), ("computed",), "#,##0.00"),
                CellPut(Live(accounted, kept), ("computed",), "#,##0.00"),
                CellPut(Live(f"$B{number}-$C{number}", fresh[place] - kept), ("computed",), "0.0E+0"),
                CellPut(Live(f'IF({balanced},"{OK}","{WRONG}")', OK), ("verdict",)),
                *_against_engine(book, "unit_cost", position, cost_then[place], number, ("F", "G")),
            )
        )
    heads = (
        "variant",
        "fresh_g",
        "accounted for",
        "difference",
        "mass balance",
        "unit_cost as exported",
        "unit_cost",
        "verdict",
    )
    title = "Does the metal balance, and does the unit cost agree with the engine?"
    return CheckSection(title, heads, rows, ("E", "H"), top)


def prices(book: Book, top: int) -> CheckSection:
    """Every price against the engine's, and whether it can be had."""
    block = book.plan.block("Prices", "price")
    then = book.values("price")
    rows = []
    for place, row in enumerate(block.rows):
        if book.words.twins.is_hidden("price", row.index):
            break  # single sizes, behind all that is listed: they have the price of all sizes
        number, position = top + 2 + place, place + 1
        variant = book.words.variant(row)
        impossible = f"AND({_cell(book, 'sold', position)},NOT({_cell(book, 'can_be_had', position)}))"
        rows.append(
            (
                CellPut(f"{variant.sku} in {variant.alloy}", ("label",)),
                CellPut(row.row.channel, ("label",)),
                CellPut(Live(f'IF({impossible},"{WRONG}","{OK}")', OK), ("verdict",)),
                *_against_engine(
                    book, "price", position, then[place], number, ("D", "E"), book.currency_of("price", row)
                ),
            )
        )
    heads = ("variant", "channel", "can be had", "price as exported", "price", "verdict")
    return CheckSection("Does every price agree with the engine, and can it be had?", heads, rows, ("C", "F"), top)


def _against_engine(
    book: Book, name: str, position: int, then: float, number: int, at: tuple[str, str], currency: str | None = None
) -> tuple[CellPut, ...]:
    """The engine's figure as a plain number, the live one, and what their difference means."""
    was, now = (f"${each}{number}" for each in at)
    agrees = _within(f"{now}-{was}", was, "check_tolerance")
    verdict = f'IF({agrees},"{OK}",IF(inputs_changed>0,"{CHANGED}","{WRONG}"))'
    money = book.styles.money(currency=currency)
    return (
        CellPut(then, ("fixed",), money),
        CellPut(Live(_cell(book, name, position), then), ("computed",), money),
        CellPut(Live(verdict, OK), ("verdict",)),
    )


def _cell(book: Book, name: str, position: int) -> str:
    column = book.layout[name]
    return f"{column.sheet}!${column.letter}{column.first_row + position - 1}"


def fingerprints(book: Book, top: int) -> CheckSection:
    """One number for each column of inputs, which changes with any of its cells."""
    rows: list[tuple[CellPut, ...]] = []
    for name, block in _input_columns(book):
        column = book.layout[name]
        number = top + 2 + len(rows)
        weights = f"1+MOD(ROW({column.name}),{FINGERPRINT_CYCLE})/{FINGERPRINT_CYCLE}"
        print_now = f"SUMPRODUCT({column.name},{weights})+COUNT({column.name})"
        stated = book.rows(block.table).stated(name)
        (filled,) = np.nonzero(~np.isnan(stated))
        then = fingerprint_of(column.first_row + filled, stated[filled])
        same = _within(f"$E{number}-$D{number}", f"$D{number}", "fingerprint_tolerance")
        rows.append(
            (
                CellPut(name, ("label",)),
                CellPut(column.sheet, ("label",)),
                CellPut(float(column.rows), ("computed",), "0"),
                CellPut(then, ("fixed",), "0.000000"),
                CellPut(Live(print_now, then), ("computed",), "0.000000"),
                CellPut(Live(f'IF({same},"{AS_EXPORTED}","changed")', AS_EXPORTED), ("verdict",)),
            )
        )
    heads = ("column of inputs", "sheet", "cells", "fingerprint as exported", "fingerprint", "state")
    return CheckSection("Were inputs changed since the export?", heads, rows, ("F",), top)


def _input_columns(book: Book) -> list[tuple[str, Block]]:
    return [
        (item.name, block)
        for block in book.plan.blocks
        for _, item in block.shown_items
        if item.kind == "input" and block.rows
    ]


def fingerprint_of(rows: npt.ArrayLike, figures: npt.ArrayLike) -> float:
    """The fingerprint of the filled cells of a column: the numbers of their rows, and what they hold."""
    held = np.asarray(figures, dtype=float)
    with np.errstate(over="ignore"):
        weighed = held * (1 + np.asarray(rows, dtype=int) % FINGERPRINT_CYCLE / FINGERPRINT_CYCLE)
    return float(sum(weighed.tolist()) + len(held))
