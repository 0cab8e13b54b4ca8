"""Which figures of a workbook are not what the folder says: its rows are matched with the folder's by their words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from pricing.costing import Costing
from pricing.errors import Fault, did_you_mean
from pricing.formulas.bounds import bounds_of
from pricing.formulas.sheet_layout import LongRow, long_rows, sheet_of
from pricing.formulas.tables import INPUTS
from pricing.workbook.back.cells import Incoming, ReadCell, number_fault, switch_fault
from pricing.workbook.back.find_blocks import KEYS, Fingerprints, FoundRow, block_rows, fingerprints
from pricing.workbook.sheets.blocks import SPECS, Spec
from pricing.workbook.sheets.editable import is_editable
from pricing.workbook.sheets.labels import Words
from pricing.workbook.sheets.ready_cells import as_stated
from pricing.workbook.sheets.twins import Twins

#: The words of a row, and which it is of those alike.
Name = tuple[tuple[str, ...], int]
#: Inputs beside which stands what they were when exported.
AS_EXPORTED = "as exported"
#: What to do about a row that the folder has not.
ADD = "A new one is added in the folder's files; export again where the folder has changed."


@dataclass(frozen=True)
class Typed:
    """A figure that was typed into a workbook: the input's table and name, its row in the folder, its cell, its value.

    `value` is None where a cell was emptied; `before` is what the folder says.
    """

    table: str
    name: str
    row: LongRow
    cell: ReadCell
    value: float | int | None
    before: float | int | None


@dataclass
class Matched:
    """Everything that was typed, what is wrong with it, and how many figures the folder has changed meanwhile."""

    typed: list[Typed] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    outdated: int = 0
    asked: list[str] = field(default_factory=list)


class Rows:
    """The rows of a costing by their words."""

    def __init__(self, costing: Costing):
        self.words = Words(costing)
        self.long = long_rows(costing.computed.resolved)
        self._by_table: dict[str, dict[Name, LongRow]] = {}

    def of(self, table: str, sheet: str) -> Mapping[Name, LongRow]:
        """The rows of a table by name; the workshop's only row has no words."""
        if table not in self._by_table:
            self._by_table[table] = dict(self._named(table, sheet))
        return self._by_table[table]

    def _named(self, table: str, sheet: str) -> Iterator[tuple[Name, LongRow]]:
        labels = {label.head: label for label in self.words.labels(sheet, table)}
        seen: Counter[tuple[str, ...]] = Counter()
        for row in self.long[table]:
            words = tuple(labels[key].words(row).strip() for key in KEYS[table])
            yield (words, seen[words]), row
            seen[words] += 1


def input_specs() -> Iterator[Spec]:
    """The blocks that hold inputs, each table once."""
    seen: set[tuple[str, str]] = set()
    for spec in SPECS:
        if "input" in spec.kinds and (spec.sheet, spec.table) not in seen and inputs_of(spec):
            seen.add((spec.sheet, spec.table))
            yield spec


def inputs_of(spec: Spec) -> list[str]:
    """The inputs that a block shows."""
    return [
        known.name
        for known in INPUTS.values()
        if known.table == spec.table
        and not known.stated
        and known.typed
        and sheet_of(known.name, spec.table) == spec.sheet
    ]


def match(incoming: Incoming, costing: Costing) -> Matched:
    """Everything that was typed into a workbook of this folder; faults of all its cells at once."""
    matched, rows = Matched(), Rows(costing)
    prints = fingerprints(incoming.sheets.get("Checks"))
    for spec in input_specs():
        sheet = incoming.sheets.get(spec.sheet)
        found = block_rows(sheet, spec.table, spec.title) if sheet else None
        if found is None:
            if rows.long[spec.table]:
                place = ReadCell(spec.sheet, "A1")
                problem = f'the part "{spec.title}" is missing, or the names above its columns are'
                matched.faults.append(place.fault("", problem, "Export the workbook again."))
            continue
        _match_block(matched, rows, spec, found, prints)
    return matched


def _match_block(matched: Matched, rows: Rows, spec: Spec, found: Sequence[FoundRow], prints: Fingerprints) -> None:
    known = rows.of(spec.table, spec.sheet)
    orphans: set[FoundRow | int] = set()
    for name in inputs_of(spec):
        cells = [row.cells[name] for row in found if name in row.cells]
        if len(cells) < len(found):
            matched.faults.append(found[0].lead.fault(name, "this column is missing", "Export the workbook again."))
            continue
        told = _told_there(rows.words.twins, spec.table, name, known, found, cells)
        untouched = prints.is_as_exported(
            name, [told.get(place, cell) if cell.is_formula else cell for place, cell in enumerate(cells)]
        )
        for place, (row, cell) in enumerate(zip(found, cells, strict=True)):
            here = known.get((row.words, row.turn))
            if place in told and (cell.is_formula or cell.value == told[place].value):
                continue  # it says what another row says
            if here is None:
                if not untouched and place not in orphans and not _is_as_exported(row, cell):
                    orphans.add(place)
                    matched.faults.append(_orphan(row, spec.table, known))
                continue
            _match_cell(matched, rows.words, spec.table, name, here, cell, untouched or _is_as_exported(row, cell))


def _told_there(
    twins: Twins, table: str, name: str, known: Mapping[Name, LongRow], found: Sequence[FoundRow], cells: list[ReadCell]
) -> dict[int, ReadCell]:
    """What stands in the rows that some rows take their figure from, by the place of those that take it."""
    if not twins.are_some:
        return {}
    here = {
        place: known[row.words, row.turn].index for place, row in enumerate(found) if (row.words, row.turn) in known
    }
    by_index = {index: cells[place] for place, index in here.items()}
    takes = {place: by_index.get(twin) for place, index in here.items() if (twin := twins.of(table, name, index))}
    return {
        place: replace(cells[place], value=there.value, is_formula=there.is_formula)
        for place, there in takes.items()
        if there is not None
    }


def _is_as_exported(row: FoundRow, cell: ReadCell) -> bool:
    """Whether the cell holds what stands beside it as exported, where something does."""
    was = row.cells.get(AS_EXPORTED)
    return was is not None and not cell.is_formula and was.value is not None and was.value == cell.value


def _match_cell(
    matched: Matched, words: Words, table: str, name: str, row: LongRow, cell: ReadCell, untouched: bool
) -> None:
    known, before = INPUTS[name], as_stated(getattr(row.row, name))
    if same(cell.value, before) and not cell.is_formula:
        return
    if untouched:
        matched.outdated += 1
        return
    fault = switch_fault(cell, name) if known.is_switch else number_fault(cell, name, bounds_of(name), known.optional)
    if fault:
        matched.faults.append(fault)
    elif known.asked:
        matched.asked.append(name)
    elif not is_editable(words, table, name, row):
        problem = "a figure has no effect here as the folder stands" if before in (0, None) else "this figure is locked"
        mend = "Put it back, and change the words that it hangs on in the folder's files."
        if not words.twins.is_stated_here(table, name, row.index):
            problem = "this figure is that of the product by itself, and locked here"
            mend = f"Put it back, and type it in the row of {words.variant(row).sku} itself."
        matched.faults.append(cell.fault(name, f"{problem}; it says {_figure_in_words(before)}", mend))
    else:
        value = cell.value
        assert value is None or isinstance(value, (int, float))  # what else a cell may hold is a fault
        value = int(value) if known.is_switch and value is not None else value
        matched.typed.append(Typed(table, name, row, cell, value, before))


def same(stored: object, before: float | int | None) -> bool:
    """Whether a cell holds what the folder says, as stored; programs keep no more than 15 digits for certain."""
    if stored is None or before is None:
        return stored is before
    if not isinstance(stored, (int, float)):
        return False
    return stored == before or f"{stored:.15g}" == f"{before:.15g}"


def _orphan(row: FoundRow, table: str, known: Mapping[Name, LongRow]) -> Fault:
    """A row that the folder has no longer."""
    words = [*row.words]
    for length in range(1, len(words) + 1):
        beside = {names[length - 1] for names, _ in known if list(names[: length - 1]) == words[: length - 1]}
        if words[length - 1] not in beside:
            key = KEYS[table][length - 1]
            of = f" of {' in '.join(words[: length - 1])}" if length > 1 else ""
            problem = f'the folder has no {key} "{words[length - 1]}"{of} (any more)'
            mend = did_you_mean(words[length - 1], beside)
            return row.lead.fault(key, problem, f"{mend} {ADD}".strip())
    problem = f"the folder has fewer rows of {', '.join(words)} than this workbook"
    return row.lead.fault(KEYS[table][-1], problem, "Export again: the folder has changed.")


def _figure_in_words(before: float | int | None) -> str:
    return "nothing" if before is None else f"{before:g}"
