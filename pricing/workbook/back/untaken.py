"""What a workbook says that no file takes: rows taken out, formulas typed over, words changed, columns put in.

Nothing of it is written, and nothing of it is passed over in silence: each is told with its place and what to do.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from string import ascii_uppercase

from pricing.costing import Costing
from pricing.folder.stated_at import DEFINED
from pricing.formulas.sheet_layout import LongRow, sheet_of
from pricing.formulas.tables import INPUTS
from pricing.words import CONSTANTS
from pricing.workbook.back.cells import Incoming, ReadCell, ReadSheet
from pricing.workbook.back.find_blocks import KEPT_DIGITS, KEYS, Fingerprints, FoundRow, block_rows, fingerprints
from pricing.workbook.back.matching import AS_EXPORTED, Rows
from pricing.workbook.sheets.blocks import SPECS, Spec
from pricing.workbook.sheets.check_sections import WRONG
from pricing.workbook.sheets.constants import TITLE as CONSTANTS_TITLE
from pricing.workbook.sheets.labels import SURE
from pricing.workbook.sheets.price_list import HEADS as LIST_HEADS
from pricing.workbook.sheets.price_list import MASS_HEAD, SHEET

#: So many are named one by one, and the others counted.
NAMED = 3
#: The column that spells out what decided a price.
SPELLED = "decided by"
EXPORT_AGAIN = "Nothing is taken from there: export the workbook again to have the formula back"
OWN_PRICE = (
    "A price of your own is stated in the folder's files, policy = { fixed = … }, or decided with troytag reprice"
)
_PLACE = re.compile(r"(?<![A-Za-z_.])(\$?[A-Z]{1,3})(\d+)(?![\d(])")


def untaken(incoming: Incoming, costing: Costing) -> Iterator[str]:
    """A sentence for each thing that was done in a workbook of this folder and that no file takes."""
    rows, prints = Rows(costing), fingerprints(incoming.sheets.get("Checks"))
    told_tables: set[tuple[str, str]] = set()
    for spec in SPECS:
        sheet = incoming.sheets.get(spec.sheet)
        found = block_rows(sheet, spec.table, spec.title) if sheet else None
        if found is None:
            if sheet and rows.long.get(spec.table) and "input" not in spec.kinds:
                yield f'{spec.sheet}: the part "{spec.title}" is missing; nothing is taken from it'
            continue
        if (spec.sheet, spec.table) not in told_tables:
            yield from _taken_out(costing, rows, spec, found, prints)
        told_tables.add((spec.sheet, spec.table))
        yield from _typed_over(costing, spec, [row for row in found if not _has_price_of_all(rows, spec, row)])
        yield from _other_words(rows, spec, found)
        yield from _put_in(costing, rows, spec, found)
    yield from _constants(incoming.sheets.get("Inputs"))
    yield from _listed_prices(incoming.sheets.get(SHEET))
    if incoming.verdict.startswith(WRONG):
        yield f"The sheet Checks of this workbook says {WRONG}: see there what does not agree before you rely on it"


def _some(names: Sequence[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _row_name(words: Sequence[str]) -> str:
    return " · ".join(word for word in words if word)


# -- rows that are gone


def _taken_out(
    costing: Costing, rows: Rows, spec: Spec, found: Sequence[FoundRow], prints: Fingerprints
) -> Iterator[str]:
    known = rows.of(spec.table, spec.sheet)
    there = {(row.words, row.turn) for row in found}
    missing = [name for name in known if name not in there]
    counts = {count for name, count in prints.counts.items() if name in INPUTS and INPUTS[name].table == spec.table}
    if not missing or spec.table == "workshop" or (counts and len(found) >= max(counts)):
        return  # a folder may have grown since the export
    names = [_row_name(words) for words, _ in missing]
    of = f'{spec.sheet}, "{spec.title}"'
    if len(missing) > 1:
        said = f"{of}: {len(missing)} rows are not in this workbook any more: {_some(names)}. The folder keeps them"
    else:
        said = f"{of}: the row {names[0]} is not in this workbook any more. The folder keeps it"
    yield f"{said}; what is no longer wanted is taken out of {_file(costing, spec.table, known[missing[0]])}"


def _file(costing: Costing, table: str, row: LongRow) -> str:
    """Where a row is stated, as far as one file is."""
    if table in DEFINED:
        return DEFINED[table][0]
    if table in ("variant", "casting", "finding", "use", "step", "price"):
        variant = costing.computed.resolved.all_variants[row.index[0]]
        product = costing.folder.product_file(variant.product)
        return f"{product} or its process in {DEFINED['process'][0]}" if table in ("use", "step") else product
    return "the folder's files"


# -- formulas that are gone


def _typed_over(costing: Costing, spec: Spec, found: Sequence[FoundRow]) -> Iterator[str]:
    graph = costing.computed.graph
    names = [
        name
        for name in dict.fromkeys(name for row in found for name in row.cells)
        if (name == SPELLED and spec.table == "price")
        or (name in graph.quantities and graph.table_of(name) == spec.table
            and sheet_of(name, spec.table) == spec.sheet)
    ]  # fmt: skip
    for name in names:
        cells = [(row, row.cells[name]) for row in found if name in row.cells]
        plain = [(row, cell) for row, cell in cells if not cell.is_formula]
        lost = [(row, cell) for row, cell in cells if cell.is_formula and "#REF!" in str(cell.value)]
        formulas = [(row, cell) for row, cell in cells if cell.is_formula]
        forms = _forms([cell for _, cell in formulas])
        usual = Counter(forms).most_common(1)[0][0] if forms else ""
        other = [
            (row, cell) for (row, cell), form in zip(formulas, forms, strict=True)
            if form != usual and "#REF!" not in str(cell.value)
        ]  # fmt: skip
        mend = OWN_PRICE if name == "price" else EXPORT_AGAIN
        if plain:
            yield f"{_at(plain, name)}: typed over {_its_formula(plain)}{_typed(plain)}. {mend}"
        if other:
            yield f"{_at(other, name)}: {_its_formula(other)} is another than in the rest of the column. {EXPORT_AGAIN}"
        if lost:
            yield f"{_at(lost, name)}: {_its_formula(lost)} looks for what is not there any more. {EXPORT_AGAIN}"


def _has_price_of_all(rows: Rows, spec: Spec, row: FoundRow) -> bool:
    """Whether a row is that of a single size, whose price stands with that of all sizes."""
    here = rows.of(spec.table, spec.sheet).get((row.words, row.turn)) if spec.table == "price" else None
    return here is not None and rows.words.twins.price_of(here.index) is not None


def _at(cells: Sequence[tuple[FoundRow, ReadCell]], name: str) -> str:
    """`Costs!F7 (unit_cost of thimble · sterling)`, and how many more."""
    row, cell = cells[0]
    of = f" of {_row_name(row.words)}" if row.words else ""
    more = f" and {len(cells) - 1} more of this column" if len(cells) > 1 else ""
    return f"{cell.place} ({name}{of}){more}"


def _its_formula(cells: Sequence[object]) -> str:
    return "their formulas" if len(cells) > 1 else "its formula"


def _typed(cells: Sequence[tuple[FoundRow, ReadCell]]) -> str:
    if len(cells) > 1:
        return ""
    value = cells[0][1].value
    return ", with nothing" if value is None else f", with {value:g}" if isinstance(value, float | int) else ""


def _forms(cells: Sequence[ReadCell]) -> list[str]:
    """The forms of a column. Most of its formulas read as the first one does in their row, which is soon seen."""
    if not cells:
        return []
    first, number, pieces = _form(cells[0]), _row_of(cells[0]), _PLACE.split(_text_of(cells[0]))
    steps = [int(row) - number for row in pieces[2::3]]
    forms = []
    for cell in cells:
        row = _row_of(cell)
        pieces[2::3] = [str(row + step) for step in steps]
        forms.append(first if "".join(pieces) == _text_of(cell) else _form(cell))
    return forms


def _row_of(cell: ReadCell) -> int:
    return int(cell.address.lstrip(ascii_uppercase))


def _text_of(cell: ReadCell) -> str:
    return str(getattr(cell.value, "text", cell.value))


def _form(cell: ReadCell) -> str:
    """A formula with the rows that move along told as distances from its own: the same text all down a column."""
    number, pieces = _row_of(cell), _PLACE.split(_text_of(cell))  # between two texts stand a column and a row
    row = str(number)
    for at in range(1, len(pieces), 3):
        pieces[at] = pieces[at].lstrip("$")
        pieces[at + 1] = "[0]" if pieces[at + 1] == row else f"[{int(pieces[at + 1]) - number}]"
    return "".join(pieces)


# -- words and columns


def _other_words(rows: Rows, spec: Spec, found: Sequence[FoundRow]) -> Iterator[str]:
    """Words beside the figures that are not the folder's: they are changed where they are stated."""
    known = rows.of(spec.table, spec.sheet)
    labels = [
        *(rows.words.labels(spec.sheet, spec.table) if "label" in spec.kinds else ()),
        *(rows.words.after(spec.table) if "after" in spec.kinds else ()),
    ]
    for label in labels:
        if not label.head or label.head in KEYS[spec.table]:
            continue
        odd = []
        for row in found:
            here: LongRow | None = known.get((row.words, row.turn))
            if here is not None and label.head in row.cells and not row.cells[label.head].is_formula:
                says, said = row.cells[label.head].text, " ".join(label.words(here).split())
                if " ".join(says.split()) != said:
                    odd.append((row, row.cells[label.head], said))
        if odd:
            row, cell, said = odd[0]
            more = f" (and {len(odd) - 1} more of this column)" if len(odd) > 1 else ""
            yield (
                f'{cell.place} ({label.head} of {_row_name(row.words)}) says "{cell.text}", the folder "{said}"{more}. '
                "Words are changed in the folder's files"
            )


def _put_in(costing: Costing, rows: Rows, spec: Spec, found: Sequence[FoundRow]) -> Iterator[str]:
    """Columns that no workbook of ours has, and in which something was typed."""
    if spec.table == "workshop":
        return
    graph, words = costing.computed.graph, rows.words
    ours = {label.head for label in (*words.labels(spec.sheet, spec.table), *words.after(spec.table))}
    ours |= {AS_EXPORTED, SPELLED, "", *SURE}
    for name in dict.fromkeys(name for row in found for name in row.cells):
        is_ours = name in ours or name in graph.quantities or name in INPUTS or re.match(r"\w+: ", name)
        typed = [row.cells[name] for row in found if name in row.cells and row.cells[name].value is not None]
        if typed and not is_ours:
            yield f'{typed[0].place}: the column "{name}" is none of this workbook\'s own; nothing is taken from it'


def _constants(inputs: ReadSheet | None) -> Iterator[str]:
    if inputs is None:
        return
    for row in sorted(inputs.rows):
        for place, cell in inputs.rows[row].items():
            if cell.text == CONSTANTS_TITLE:
                yield from _odd_constants(inputs, row + 1, place)


def _is_constant(value: object, constant: float) -> bool:
    """Whether a cell holds the constant, with the 15 digits that some programs keep."""
    return isinstance(value, int | float) and math.isclose(value, constant, rel_tol=KEPT_DIGITS)


def _odd_constants(inputs: ReadSheet, head: int, place: int) -> Iterator[str]:
    at = next((each for each, cell in inputs.rows.get(head, {}).items() if cell.text == "value"), place)
    for row in range(head + 1, inputs.last_row + 1):
        name, cell = inputs.text(row, place), inputs.cell(row, at)
        if name in CONSTANTS and not _is_constant(cell.value, float(CONSTANTS[name])):
            yield f"{cell.place}: {name} is {float(CONSTANTS[name]):g}, always; it is no figure to type. {EXPORT_AGAIN}"


# -- the list


def _listed_prices(sheet: ReadSheet | None) -> Iterator[str]:
    """Prices and masses that were typed over on the sheet to print."""
    if sheet is None:
        return
    heads: Mapping[int, str] = {}
    named: list[int] = []
    odd: list[tuple[ReadCell, str]] = []
    for row in sorted(sheet.rows):
        texts = {place: cell.text for place, cell in sheet.rows[row].items()}
        if set(LIST_HEADS) <= set(texts.values()):
            begin = next(place for place, text in texts.items() if text.startswith(MASS_HEAD))
            heads = {place: text for place, text in texts.items() if place >= begin}
            named = [place for place, text in texts.items() if text in LIST_HEADS[:2]]
        elif named and all(texts.get(place) for place in named):  # a line of the list
            cells = [(sheet.cell(row, place), head) for place, head in heads.items()]
            odd += [(cell, head) for cell, head in cells if not cell.is_formula]
    if odd:
        cell, head = odd[0]
        more = f" and {len(odd) - 1} more" if len(odd) > 1 else ""
        yield f"{cell.place} ({head}){more}: typed over what is listed. {OWN_PRICE}"
