"""What an exported workbook, changed by its maker, would change in the folder; and that the folder then says so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from pricing.costing import Costing, asked_for, cost_folder
from pricing.errors import Fault, Faults, UsageFault
from pricing.folder.files import PRICES_FILE
from pricing.folder.prices.append import with_lines
from pricing.folder.prices.slips import slips, valued_by
from pricing.folder.read import Folder, read_folder
from pricing.folder.toml.places import written
from pricing.folder.toml.text import content_hash, read_content
from pricing.folder.whole_files import changed_meanwhile
from pricing.folder.write import with_edits
from pricing.formulas.sheet_layout import SHEETS
from pricing.workbook.back.cells import Incoming
from pricing.workbook.back.changes import FolderChange
from pricing.workbook.back.direct import LADDER, direct_changes
from pricing.workbook.back.matching import Matched, Rows, Typed, input_specs, inputs_of, match, same
from pricing.workbook.back.products import is_bound, product_changes
from pricing.workbook.back.quotes import NewQuote, new_quotes
from pricing.workbook.back.untaken import untaken
from pricing.workbook.sheets.price_list import SHEET as LIST
from pricing.workbook.sheets.ready_cells import as_stated
from pricing.workbook.sheets.writing import AS_OF, CURRENCY, WORKSHOP


@dataclass(frozen=True)
class Proposal:
    """What would change: figures in files, lines of the price history, and the files as they would be.

    `expected` holds the content hash that each file must still have, None for one that is not there yet; `notes` are
    sentences that a maker should read before writing; `new_products` are the files of new products.
    """

    root: Path
    changes: tuple[FolderChange, ...] = ()
    quotes: tuple[NewQuote, ...] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)
    expected: Mapping[str, str | None] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    new_products: tuple[str, ...] = ()


#: Sheets of an exported workbook that are looked at.
WANTED = (*SHEETS, LIST, "Checks")


def proposal(incoming: Incoming, root: Path, as_of: date | None = None) -> Proposal:
    """What this workbook would change in the folder at `root`; prices that were typed are of `as_of`, default today.

    Raises Faults with every bad cell and every row without a counterpart, and with what the folder would not take.
    """
    folder = read_folder(root)
    exported = _day(incoming.says.get(AS_OF))
    costing = cost_folder(folder, asked_for(exported or as_of))
    home = costing.computed.resolved.currency
    if incoming.says.get(CURRENCY, home) != home:
        said = f"{incoming.path} counts in {incoming.says[CURRENCY]}, and the folder in {home}"
        raise UsageFault(f"{said}: its figures would mean something else. Export the workbook again.")
    matched = match(incoming, costing)
    changes, faults = product_changes(costing, matched.typed)
    if matched.faults or faults:
        raise Faults([*matched.faults, *faults])
    changes = [*direct_changes(costing, matched.typed), *changes]
    quotes = new_quotes(costing, matched.typed, as_of or date.today())
    files = _files(folder, changes, quotes)
    if files or any(each.table not in ("metal", "currency") for each in matched.typed):
        _check(costing, matched, changes, files)
    notes = (*_notes(incoming, folder, matched, quotes, exported), *untaken(incoming, costing))
    expected = {file: folder.hashes.get(file) for file in files}
    return Proposal(root, tuple(changes), tuple(quotes), files, expected, notes)


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        return None


def _files(folder: Folder, changes: list[FolderChange], quotes: list[NewQuote]) -> dict[str, bytes]:
    """The files as they would be."""
    by_file: dict[str, list[FolderChange]] = {}
    for change in changes:
        by_file.setdefault(change.file, []).append(change)
    files = {
        file: with_edits(file, _content(folder, file), [change.edit for change in some])
        for file, some in by_file.items()
    }
    if quotes:
        lines = [(each.quote, each.price) for each in quotes]
        files[PRICES_FILE] = with_lines(_content(folder, PRICES_FILE), lines)
    return files


def _content(folder: Folder, file: str) -> bytes:
    content = read_content(folder.root, file)
    if content_hash(content) != folder.hashes.get(file):
        raise changed_meanwhile(file)
    return content


def _check(costing: Costing, matched: Matched, changes: list[FolderChange], files: Mapping[str, bytes]) -> None:
    """Raise Faults where the folder would not take the files, or would not say what the workbook says."""
    try:
        after = cost_folder(read_folder(costing.folder.root, files), costing.asked)
    except Faults as refused:
        raise Faults([_at_cell(fault, changes) for fault in refused.faults]) from None
    wanted = {(each.table, each.name, each.row.index): each for each in matched.typed}
    odd = list(_odd_figures(costing, after, wanted))
    if odd:
        raise Faults(odd)


def _at_cell(fault: Fault, changes: list[FolderChange]) -> Fault:
    """A fault of a file as one of the cell that asked for it, where one did."""
    for change in changes:
        path = written(change.path)
        near = fault.key == path or fault.key.startswith(f"{path}.") or path.startswith(f"{fault.key}.")
        if change.file == fault.place.file and fault.key and near and change.cells:
            return Fault(change.cells[0].place, fault.key, fault.problem, fault.mend, fault.other)
    return fault


def _odd_figures(
    before: Costing, after: Costing, wanted: Mapping[tuple[str, str, tuple[int, ...]], Typed]
) -> Iterator[Fault]:
    """Figures that would not be what the workbook says: those that were typed, and those that were not."""
    then, now = Rows(before), Rows(after)
    for spec in input_specs():
        if spec.table in ("metal", "currency"):
            continue  # these stand in the price history, which is read back where it is written
        rows = now.of(spec.table, spec.sheet)
        for name, row in then.of(spec.table, spec.sheet).items():
            if name not in rows:
                continue
            if spec.table == "workshop" and not now.long["workshop"][0].row.has_ladder:
                shown = [figure for figure in inputs_of(spec) if figure not in LADDER]  # it went as a whole
            else:
                shown = inputs_of(spec)
            if spec.table == "price" and not is_bound(then.words.variant(row), row.row.channel):
                continue
            for figure in shown:
                stated = then.words.twins.of(spec.table, figure, row.index) or row.index
                typed = wanted.get((spec.table, figure, stated))
                meant = typed.value if typed else as_stated(getattr(row.row, figure))
                found = as_stated(getattr(rows[name].row, figure))
                if not same(meant, found) and not same(found, meant):
                    words = ", ".join(name[0])
                    cell = typed.cell.place if typed else None
                    problem = f"the folder would say {found} for {words}, and the workbook says {meant}"
                    mend = "Change it in the folder's files, where what it hangs on can be changed with it."
                    place = cell or next(iter(wanted.values())).cell.place
                    yield Fault(place, figure, problem, mend)


def _notes(
    incoming: Incoming, folder: Folder, matched: Matched, quotes: list[NewQuote], exported: date | None
) -> Iterator[str]:
    name = folder.stated.workshop.name
    ladders = [each.value for each in matched.typed if each.name == "has_ladder"]
    has_ladder = ladders[0] if ladders else folder.stated.ladder is not None
    said = incoming.says.get(WORKSHOP, name)
    if said != name:
        yield f"This workbook was exported from {said}, and this folder is {name}'s"
    if exported is None:
        yield "This workbook does not say of which day it is: its prices are compared with those in force now"
    if matched.outdated:
        many = matched.outdated > 1
        figures = (
            f"{matched.outdated} figures that nobody typed here stay"
            if many
            else "one figure that nobody typed here stays"
        )
        yield f"The folder was changed since this export: {figures} as the folder has {'them' if many else 'it'}"
    for each in dict.fromkeys(matched.asked):
        yield f"{each} is asked on the command line (troytag cost --run); no file holds it"
    if any(each.name in LADDER[1:] for each in matched.typed) and not has_ladder:
        yield "keystone and one_retail_price have no effect where has_ladder is 0; no file holds them then"
    stated = folder.stated
    for quote in quotes:
        for slip in slips(quote.quote, stated.quotes, valued_by(stated.alloys), stated.workshop.currency, quote.price):
            yield f"{quote.quote.metal}: {slip.problem}. See whether it is right before it is written"
        if quote.newer:
            yield f"The price of {quote.quote.metal} of {quote.newer} is newer and stays in force from that day on"
