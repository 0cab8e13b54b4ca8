"""Reads a quantity as the text of a live spreadsheet formula.

The quantity's own function is called on `Cell` objects; each operator and word puts the text together.
Along an axis that is taken away the operands are ranges, and there a choice is written as arithmetic on
truth values, since IF, AND, MIN and MAX do not go element by element in every spreadsheet program.
Only functions that every program has are used: no MROUND, OFFSET, INDIRECT or CEILING.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

from pricing.formulas.graph import Graph, Need, Quantity
from pricing.formulas.sheet_layout import Column, Layout, first, key, last, own, parent
from pricing.formulas.tables import TABLES
from pricing.words import CONSTANTS, NO_WHOLE, bind, check_vocabulary

#: How tightly a piece of text holds together.
COMPARED, ADDED, MULTIPLIED, WHOLE = range(4)


@dataclass(frozen=True, eq=False)
class Cell:
    """A piece of a formula: its text, how tightly it holds together, and whether it is a range of values."""

    text: str
    grip: int = WHOLE
    many: bool = False

    def within(self, grip: int) -> str:
        """The text, in brackets where it holds less tightly than `grip`."""
        return self.text if self.grip >= grip else f"({self.text})"

    def __add__(self, other: Operand) -> Cell:
        if not self.many and isinstance(other, Cell) and other.text == "0" and not other.many:
            return self  # the sum over a table that a workbook has no row of
        return _joined(self, "+", other, ADDED, ADDED)

    def __radd__(self, other: float) -> Cell:
        return _cell(other) + self

    def __sub__(self, other: Operand) -> Cell:
        return _joined(self, "-", other, ADDED, MULTIPLIED)

    def __rsub__(self, other: float) -> Cell:
        return _cell(other) - self

    def __mul__(self, other: Operand) -> Cell:
        return _joined(self, "*", other, MULTIPLIED, MULTIPLIED)

    def __rmul__(self, other: float) -> Cell:
        return _cell(other) * self

    def __truediv__(self, other: Operand) -> Cell:
        return _joined(self, "/", other, MULTIPLIED, WHOLE)

    def __rtruediv__(self, other: float) -> Cell:
        return _cell(other) / self

    def __lt__(self, other: Operand) -> Cell:
        return _joined(self, "<", other, COMPARED, ADDED)

    def __le__(self, other: Operand) -> Cell:
        return _joined(self, "<=", other, COMPARED, ADDED)

    def __gt__(self, other: Operand) -> Cell:
        return _joined(self, ">", other, COMPARED, ADDED)

    def __ge__(self, other: Operand) -> Cell:
        return _joined(self, ">=", other, COMPARED, ADDED)

    def __eq__(self, other: Operand) -> Cell:  # type: ignore[override]  # a text, no truth value
        return _joined(self, "=", other, COMPARED, ADDED)

    __hash__ = None  # type: ignore[assignment]  # so that none is looked up


#: What stands beside a sign or goes into a word: a piece of a formula, or a number.
Operand: TypeAlias = Cell | float


def _joined(left: Cell, sign: str, right: Operand, grip: int, right_grip: int) -> Cell:
    right = _cell(right)
    left_grip = ADDED if grip == COMPARED else grip
    return Cell(f"{left.within(left_grip)}{sign}{right.within(right_grip)}", grip, left.many or right.many)


def _cell(value: Operand) -> Cell:
    return value if isinstance(value, Cell) else Cell(literal(value))


def literal(value: float) -> str:
    """A number as a formula writes it."""
    text = repr(float(value)).upper()
    return text.removesuffix(".0")


def _call(name: str, *parts: Operand, many: bool = False) -> Cell:
    return Cell(f"{name}({','.join(_cell(part).text for part in parts)})", WHOLE, many)


def _chosen(condition: Cell, then: Cell, otherwise: Cell) -> Cell:
    """A choice along a range: exact, since one of the two terms is multiplied by 0."""
    then_text, otherwise_text = then.within(WHOLE), otherwise.within(WHOLE)
    condition_text = condition.within(WHOLE)
    taken = "" if otherwise_text == "0" else f"+(1-{condition_text})*{otherwise_text}"
    return Cell(f"{condition_text}*{then_text}{taken}", ADDED if taken else MULTIPLIED, True)


def _where(condition: Operand, then: Operand, otherwise: Operand) -> Cell:
    condition, then, otherwise = _cell(condition), _cell(then), _cell(otherwise)
    if condition.many or then.many or otherwise.many:
        return _chosen(condition, then, otherwise)
    return _call("IF", condition, then, otherwise)


def _minimum(left: Operand, right: Operand) -> Cell:
    left, right = _cell(left), _cell(right)
    if left.many or right.many:
        return _chosen(left <= right, left, right)
    return _call("MIN", left, right)


def _maximum(left: Operand, right: Operand) -> Cell:
    left, right = _cell(left), _cell(right)
    if left.many or right.many:
        return _chosen(left >= right, left, right)
    return _call("MAX", left, right)


def _held(amount: Operand, low: Operand, high: Operand) -> Cell:
    amount, low, high = _cell(amount), _cell(low), _cell(high)
    if not (amount.many or low.many or high.many):
        return _call("MIN", high, _call("MAX", low, amount))
    below, above = amount < low, amount > high
    within = Cell(f"(1-{below.within(WHOLE)}-{above.within(WHOLE)})*{amount.within(WHOLE)}", MULTIPLIED, True)
    return Cell(f"{(below * low).text}+{(above * high).text}+{within.text}", ADDED, True)


def _both(left: Operand, right: Operand) -> Cell:
    left, right = _cell(left), _cell(right)
    if left.many or right.many:
        return Cell(f"{left.within(WHOLE)}*{right.within(WHOLE)}", MULTIPLIED, True)
    return _call("AND", left, right)


def _either(left: Operand, right: Operand) -> Cell:
    left, right = _cell(left), _cell(right)
    if left.many or right.many:
        return Cell(f"({left.within(WHOLE)}+{right.within(WHOLE)})>0", COMPARED, True)
    return _call("OR", left, right)


def _opposite(condition: Operand) -> Cell:
    condition = _cell(condition)
    return 1 - condition if condition.many else _call("NOT", condition)


def _ratio(part: Operand, whole: Operand) -> Cell:
    part, whole = _cell(part), _cell(whole)
    return _call("IF", _call("ABS", whole) <= NO_WHOLE, Cell('""'), part / whole)


def _square(amount: Operand) -> Cell:
    return _cell(amount) * _cell(amount)


def _cube(amount: Operand) -> Cell:
    return _cell(amount) * _cell(amount) * _cell(amount)


def _ceil(amount: Operand) -> Cell:
    return Cell(f"(-INT(-{_cell(amount).within(WHOLE)}))")


def _floor(amount: Operand) -> Cell:
    return _call("INT", amount)


@dataclass(frozen=True)
class Formula:
    """The formula of one quantity, for any row of its block."""

    quantity: str
    template: str
    offsets: tuple[int, ...]

    def at(self, position: int) -> str:
        """The text for the row at a position counted from 1, with its leading equals sign."""
        return self.template.format(*[position + offset for offset in self.offsets])


class _Sheet:
    """Puts together the formula of one quantity as it stands on its own sheet."""

    def __init__(self, graph: Graph, quantity: Quantity, layout: Layout):
        self.graph, self.quantity, self.layout = graph, quantity, layout
        self.table = quantity.table
        self.home = layout[quantity.name].sheet
        self.offsets: list[int] = []

    def formula(self) -> Formula:
        words = {
            **{name: self.constant(name, value) for name, value in CONSTANTS.items()},
            **SHEET_WORDS,
            "total": lambda amounts: self.taken("SUM", amounts, "0"),
            "product": lambda amounts: self.taken("PRODUCT", amounts, "1"),
            "largest": lambda amounts: self.taken("MAX", amounts, "0"),
            "downstream": self.downstream,
            "upstream": self.upstream,
        }
        check_vocabulary(words)
        function = bind(self.quantity.function, words)
        result = _cell(function(*[self.fetch(need) for need in self.quantity.needs]))
        return Formula(self.quantity.name, f"={result.text}", tuple(self.offsets))

    # -- references

    def constant(self, name: str, value: float) -> Cell:
        return Cell(name if name in self.layout.constants else literal(value))

    def prefix(self, column: Column) -> str:
        return "" if column.sheet == self.home else f"{column.sheet}!"

    def same_row(self, column: Column) -> Cell:
        """The cell of a column of the same table, in this row."""
        if self.table == "workshop":
            return self.single(column)
        offset = column.first_row - 1
        if offset not in self.offsets:
            self.offsets.append(offset)
        return Cell(f"{self.prefix(column)}${column.letter}{{{self.offsets.index(offset)}}}")

    def single(self, column: Column) -> Cell:
        """The one cell of a column of the workshop."""
        return Cell(column.name or f"{self.prefix(column)}${column.letter}${column.first_row}")

    def whole(self, column: Column) -> str:
        """All rows of a column."""
        if column.name:
            return column.name
        end = column.first_row + max(column.rows, 1) - 1
        return f"{self.prefix(column)}${column.letter}${column.first_row}:${column.letter}${end}"

    def picked(self, column: Column, position: Cell) -> Cell:
        return Cell(f"INDEX({self.whole(column)},{position.text})")

    def position_in(self, table: str) -> Cell:
        """Position of the row of `table` that this row is nested in, or of itself."""
        if table == self.table:
            return self.same_row(self.layout[own(table)])
        return self.same_row(self.layout[parent(self.table, table)])

    def fetch(self, need: Need) -> Cell:
        path, name = need.path, need.column
        if self.is_absent(need):
            return Cell("0", WHOLE, True)
        known = self.graph.inputs.get(name)
        if known and known.stated:  # an optional input is stated where its cell is not empty
            cell = self.fetch(Need(known.stated, known.stated, path))
            return Cell(f'{cell.within(ADDED)}<>""', COMPARED, cell.many)
        column = self.layout[name]
        if path.prefix == "other":
            return self.stretch(column, path.source)
        if path.prefix:
            name_of_key = key(self.table, path.prefix)
            return self.keyed(column, self.same_row(self.layout[name_of_key]), name_of_key in self.layout.sure, 0.0)
        if path.extra:
            return self.stretch(column, path.source)
        if path.keys:
            names = [key(table, name_of_key) for table, name_of_key in path.keys]
            position, sure = self.key_position(*path.keys[0]), names[0] in self.layout.sure
            for further in names[1:]:
                position = self.keyed(self.layout[further], position, sure, 0.0)
                sure = sure and further in self.layout.sure
            return self.keyed(column, position, sure, known.idle if known else 0.0)
        if path.source == self.table:
            return self.same_row(column)
        if path.source == "workshop":
            return self.single(column)
        return self.picked(column, self.position_in(path.source))

    def is_absent(self, need: Need) -> bool:
        """Whether a workbook has no row at all of a nested table that is taken together here."""
        known = self.graph.inputs.get(need.column)
        return bool(need.path.extra) and (known.stated if known and known.stated else need.column) not in self.layout

    def key_position(self, table: str, name: str) -> Cell:
        column = self.layout[key(table, name)]
        return self.same_row(column) if table == self.table else self.picked(column, self.position_in(table))

    def keyed(self, column: Column, position: Cell, sure: bool, idle: float) -> Cell:
        """What a key leads to, and the idle value where it is open."""
        if column.rows == 0:
            return Cell(literal(idle))
        if sure:
            return self.picked(column, position)
        return Cell(f"IF({position.text}=0,{literal(idle)},{self.picked(column, position).text})")

    def stretch(self, column: Column, below: str) -> Cell:
        """The rows of a nested table (or of siblings) that belong to this row, as a range."""
        begin, end = self.ends(below)
        rows = self.whole(column)
        return Cell(f"INDEX({rows},{begin.text}):INDEX({rows},{end.text})", WHOLE, True)

    def holder(self, below: str) -> str:
        """The table, this one or one around it, whose rows know where the rows of `below` begin and end."""
        return next(table for table in (self.table, *TABLES[self.table].inside) if first(table, below) in self.layout)

    def ends(self, below: str) -> tuple[Cell, Cell]:
        holder = self.holder(below)
        columns = self.layout[first(holder, below)], self.layout[last(holder, below)]
        if holder == self.table:
            return self.same_row(columns[0]), self.same_row(columns[1])
        position = self.position_in(holder)
        return self.picked(columns[0], position), self.picked(columns[1], position)

    # -- words that need to know the rows

    def taken(self, function: str, amounts: Operand, empty: str) -> Cell:
        """A sum, product or maximum over the nested rows, and what it is where there is none."""
        amounts = _cell(amounts)
        if any(self.is_absent(need) for need in self.quantity.needs):
            return Cell(empty)
        below = self.nested()
        begin, end = self.ends(below)
        if any(self.fetch(need).text == amounts.text for need in self.quantity.needs):  # a range as it stands
            inner = f"{function}({amounts.text})"
        else:  # SUMPRODUCT makes every program go along the range
            inner = f"SUMPRODUCT({amounts.text if function == 'SUM' else f'{function}({amounts.text})'})"
        if function == "MAX":
            inner = f"MAX(0,{inner})"
        if first(self.holder(below), below) in self.layout.sure:
            return Cell(inner)
        return Cell(f"IF({end.text}<{begin.text},{empty},{inner})")

    def nested(self) -> str:
        """The table whose rows are taken together."""
        need = next(need for need in self.quantity.needs if need.path.extra)
        return need.path.source

    def running(self, amounts: Cell) -> tuple[str, Cell, Cell, Cell]:
        need = next(need for need in self.quantity.needs if self.fetch(need).text == amounts.text)
        begin, end = self.ends(self.table)
        return self.whole(self.layout[need.column]), begin, self.same_row(self.layout[own(self.table)]), end

    def downstream(self, amounts: Cell) -> Cell:
        rows, _, here, end = self.running(amounts)
        return Cell(f"PRODUCT(INDEX({rows},{here.text}):INDEX({rows},{end.text}))")

    def upstream(self, amounts: Cell) -> Cell:
        rows, begin, here, _ = self.running(amounts)
        before = f"PRODUCT(INDEX({rows},{begin.text}):INDEX({rows},{here.text}-1))"
        return Cell(f"IF({here.text}={begin.text},1,{before})")


SHEET_WORDS: Mapping[str, object] = MappingProxyType(
    {
        "minimum": _minimum,
        "maximum": _maximum,
        "held": _held,
        "ceil": _ceil,
        "floor": _floor,
        "square": _square,
        "cube": _cube,
        "where": _where,
        "both": _both,
        "either": _either,
        "opposite": _opposite,
        "ratio": _ratio,
    }
)


def formula_of(graph: Graph, name: str, layout: Layout) -> Formula:
    """The formula of a quantity in a workbook laid out so; one text for its whole column."""
    return _Sheet(graph, graph.quantities[name], layout).formula()
