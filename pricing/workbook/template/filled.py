"""A filled *Products* template: new product files, and what differs in those that stand already."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pricing.errors import Fault, Faults, did_you_mean
from pricing.folder.read import Folder, read_folder
from pricing.folder.toml.text import content_hash, read_content
from pricing.folder.whole_files import changed_meanwhile
from pricing.folder.write import product_text, with_edits
from pricing.workbook.back.cells import Incoming, ReadCell, ReadSheet, number_fault
from pricing.workbook.back.changes import FolderChange, as_written
from pricing.workbook.back.family import plain
from pricing.workbook.back.proposal import Proposal
from pricing.workbook.template.sheet import COLUMNS, COMMA, SHEET, TemplateColumn


@dataclass
class FilledRow:
    """A filled row: its product's values as a file has them, and the cell of each column."""

    number: int
    values: dict[str, Any] = field(default_factory=dict)
    casting: dict[str, Any] = field(default_factory=dict)
    cells: dict[str, ReadCell] = field(default_factory=dict)

    @property
    def sku(self) -> str:
        return str(self.values.get("sku", ""))


def template_proposal(incoming: Incoming, root: Path) -> Proposal:
    """The files of new products, and changes to products that stand already where their row says otherwise.

    Cells that are left empty change nothing. Raises Faults with every bad cell at once.
    """
    folder = read_folder(root)
    sheet = incoming.sheets[SHEET]
    rows, faults = _rows(sheet)
    faults += _skus(rows)
    if faults:
        raise Faults(faults)
    files: dict[str, bytes] = {}
    changes: list[FolderChange] = []
    new: list[str] = []
    by_file: dict[str, FilledRow] = {}
    for row in rows:
        if row.sku in folder.stated.products:
            some, wrong = _changed(folder, row)
            faults += wrong
            changes += some
            if some:
                file = some[0].file
                content = read_content(root, file)
                if content_hash(content) != folder.hashes.get(file):
                    raise changed_meanwhile(file)
                files[file] = with_edits(file, content, [change.edit for change in some])
                by_file[file] = row
            continue
        values = {**row.values, **({"castings": [_casting(row)]} if row.casting else {})}
        file, files_content = product_text(root, values, files)
        by_file[file] = row
        if file in folder.hashes or file in files:
            cell = row.cells["sku"]
            faults.append(cell.fault("sku", f"{file} stands already, with another sku", "Choose another sku."))
            continue
        files[file] = files_content
        new.append(file)
    if faults:
        raise Faults(faults)
    if files:
        try:
            read_folder(root, files)
        except Faults as refused:
            raise Faults([_at_cell(fault, by_file) for fault in refused.faults]) from None
    expected = {file: folder.hashes.get(file) for file in files}
    return Proposal(root, tuple(changes), (), files, expected, (), tuple(new))


def _rows(sheet: ReadSheet) -> tuple[list[FilledRow], list[Fault]]:
    known = {column.name: column for column in COLUMNS}
    head = next((number for number in sheet.rows if sheet.text(number, 0) == COLUMNS[0].name), None)
    if head is None:
        problem = f"no row begins with {COLUMNS[0].name}, so that no column can be told"
        return [], [ReadCell(SHEET, "A1").fault("", problem, "Begin with troytag export FOLDER template.")]
    faults: list[Fault] = []
    columns: dict[int, TemplateColumn] = {}
    for place, cell in sheet.rows[head].items():
        if cell.text in known and known[cell.text] not in columns.values():
            columns[place] = known[cell.text]
        elif cell.text in known:
            faults.append(cell.fault(cell.text, "this column is there twice", "Take one of them out."))
        elif cell.text:
            faults.append(cell.fault("", f'no column "{cell.text}" is known', did_you_mean(cell.text, known)))
    rows = []
    for number in sorted(number for number in sheet.rows if number > head):
        row = FilledRow(number, cells={column.name: sheet.cell(number, place) for place, column in columns.items()})
        filled = [(column, row.cells[column.name]) for column in columns.values()]
        if any(cell.value is not None and cell.text for _, cell in filled) or any(
            each.is_formula for _, each in filled
        ):
            for column, cell in filled:
                faults += _take(row, column, cell)
            rows.append(row)
    return rows, faults


def _take(row: FilledRow, column: TemplateColumn, cell: ReadCell) -> Iterator[Fault]:
    """Put a cell's value where it belongs."""
    if not (cell.text or cell.is_formula):
        return
    value: Any
    if column.kind in ("number", "whole"):
        fault = number_fault(cell, column.name, None)
        if fault:
            yield fault
            return
        value = cell.value
        if column.kind == "whole" and value != int(value):
            yield cell.fault(column.name, f"{value:g} stands where a whole number belongs", "Type it without a point.")
            return
        value = int(value) if column.kind == "whole" else as_written(float(value))
    elif cell.is_formula:
        yield cell.fault(column.name, "a formula stands where words belong", "Type the words themselves.")
        return
    elif isinstance(cell.value, bool) or not isinstance(cell.value, (str, int, float)):
        yield cell.fault(column.name, "a date or a switch stands where words belong", "Type the words, as text.")
        return
    else:
        value = cell.text
        if column.kind == "names":
            value = [name.strip() for name in value.split(COMMA) if name.strip()]
    (row.casting if column.of_casting else row.values)[column.key] = value


def _skus(rows: list[FilledRow]) -> Iterator[Fault]:
    seen: dict[str, FilledRow] = {}
    for row in rows:
        cell = row.cells["sku"]
        if not row.sku:
            yield cell.fault("sku", "this row has no sku", "Give the product a short name of its own.")
        elif row.sku in seen:
            place = seen[row.sku].cells["sku"].place
            yield cell.fault("sku", f'"{row.sku}" stands in {place} already', "Give one of them another sku.")
        else:
            seen[row.sku] = row


def _casting(row: FilledRow) -> dict[str, Any]:
    """The row's one casting; it is called as the product where it has no name, and is there once."""
    return {"name": row.casting.get("name", row.sku), "count": row.casting.get("count", 1), **row.casting}


def _changed(folder: Folder, row: FilledRow) -> tuple[list[FolderChange], list[Fault]]:
    """What a row says otherwise of a product that stands already."""
    product = folder.products[row.sku]
    stated = folder.stated.products[row.sku]
    file = folder.product_file(row.sku)
    changes = []
    for key, value in row.values.items():
        now = plain(getattr(stated if key in ("scale", "like") else product, key))
        if key not in ("sku",) and not _alike(now, value):
            changes.append(FolderChange(file, (key,), now, value, (row.cells[key],)))
    castings = product.castings or ()
    now = [plain(each) for each in castings]
    if not row.casting or (len(now) == 1 and _part_of(row.casting, now[0])):
        return changes, []
    if len(now) != 1 or stated.castings is None:
        cells = [row.cells[column.name] for column in COLUMNS if column.of_casting and column.name in row.cells]
        cell = next(each for each in cells if each.value is not None)
        problem = f"{row.sku} has its castings from elsewhere, or more than one"
        return changes, [cell.fault("castings", problem, f"Leave these cells empty and change {file}.")]
    for key, value in row.casting.items():
        if not _alike(now[0].get(key), value):
            name = "casting" if key == "name" else key
            changes.append(FolderChange(file, ("castings", 0, key), now[0].get(key), value, (row.cells[name],)))
    return changes, []


def _alike(now: Any, value: Any) -> bool:
    return now == value or (not isinstance(now, (str, list)) and now is not None and float(now) == float(value))


def _part_of(casting: Mapping[str, Any], whole: Mapping[str, Any]) -> bool:
    return all(_alike(whole.get(key), value) for key, value in casting.items())


def _at_cell(fault: Fault, by_file: Mapping[str, FilledRow]) -> Fault:
    """A fault of a product's file as one of the cell that says so."""
    row = by_file.get(fault.place.file)
    if row is None:
        return fault
    of_casting = fault.key.startswith("castings")
    key = fault.key.split(".")[-1] if of_casting else fault.key
    key = key.split("[")[0]
    names = [column.name for column in COLUMNS if column.key == key and column.of_casting == of_casting]
    cell = next((row.cells[name] for name in names if name in row.cells), row.cells["sku"])
    return cell.fault(names[0] if names else key, fault.problem, fault.mend)
