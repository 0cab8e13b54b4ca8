"""What was done in a workbook that no file takes: each is told with its place and mend, and nothing else is lost."""

from __future__ import annotations

from dataclasses import replace

import pytest
from openpyxl.formula.translate import Translator

from pricing.workbook.back import writing
from pricing.workbook.back.cells import Incoming, ReadCell, ReadSheet
from pricing.workbook.back.cells import address as cell_address
from pricing.workbook.back.proposal import proposal
from pricing.workbook.incoming import propose
from pricing.workbook.sheets.ready_cells import letter
from tests.workbook.incoming_workshop import address, retyped
from tests.workbook.test_import_workbook import BRASS, LATER, RING, STERLING, lines_changed, state
from tests.workbook.workbooks import plan_of


def without_rows(incoming: Incoming, sheet: str, rows: set[int]) -> Incoming:
    """The workbook with rows of a sheet taken out, and those below moved up, as spreadsheet programs do."""
    kept = {}
    for number, cells in incoming.sheets[sheet].rows.items():
        if number not in rows:
            to = number - sum(each < number for each in rows)
            kept[to] = {place: moved(cell, at_row(cell.address, to)) for place, cell in cells.items()}
    return replace(incoming, sheets={**incoming.sheets, sheet: ReadSheet(sheet, kept)})


def with_column(incoming: Incoming, sheet: str, before: int, typed: dict[int, object]) -> Incoming:
    """The workbook with a column put in before the one at this place, and something in it by row."""
    found = {}
    for number, cells in incoming.sheets[sheet].rows.items():
        found[number] = {
            place + (place >= before): replace(cell, address=cell_address(number, place + (place >= before)))
            for place, cell in cells.items()
        }
    for number, value in typed.items():
        found.setdefault(number, {})[before] = ReadCell(sheet, cell_address(number, before), value)
    return replace(incoming, sheets={**incoming.sheets, sheet: ReadSheet(sheet, found)})


def moved(cell: ReadCell, to: str) -> ReadCell:
    """A cell moved to another row; its formula moves along, as in every spreadsheet program."""
    formula = Translator(cell.value, cell.address).translate_formula(to) if cell.is_formula else cell.value
    return replace(cell, address=to, value=formula)


def at_row(address: str, row: int) -> str:
    return f"{address.rstrip('0123456789')}{row}"


def row_of(at: tuple[str, str]) -> int:
    return int(at[1].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))


def test_a_row_that_was_taken_out_is_told_and_stays_in_the_folder(made, root):
    row = row_of(address(made[1], "step_minutes", "ring", STERLING, "pierce"))
    cut = without_rows(made[3], "Steps", {row})
    found = proposal(cut, root)
    assert dict(found.files) == {}
    title = "Every step of every product in each alloy"
    assert found.notes == (
        f'Steps, "{title}": the row ring · sterling · pierce is not in this workbook any more. The folder keeps it; '
        f"what is no longer wanted is taken out of {RING} or its process in processes.toml",
    )
    wage = address(made[1], "wage", "bench")  # what was typed elsewhere is not lost over it
    assert [change.new for change in proposal(retyped(cut, {wage: 25}), root).changes] == [25]
    many = proposal(without_rows(made[3], "Steps", set(range(row - 4, row + 1))), root)
    (note,) = many.notes
    assert "5 rows are not in this workbook any more: " in note and " and 2 more. The folder keeps them" in note


def test_a_row_that_the_folder_got_since_is_no_row_taken_out(made, root):
    (root / "workshop.toml").write_text(
        (root / "workshop.toml").read_text() + "\n[labour.apprentice]\nrate = 11.0\n", encoding="utf-8"
    )
    assert proposal(made[3], root).notes == ()


@pytest.mark.parametrize(
    ("name", "words", "value", "told"),
    [
        ("unit_cost", ("ring", STERLING), 12.5, "with 12.5. Nothing is taken from there: export the workbook again"),
        ("finished_g", ("ring", STERLING), None, "with nothing. Nothing is taken from there"),
        ("price", ("ring", STERLING, "shop"), 48, "with 48. A price of your own is stated in the folder's files"),
    ],
)
def test_a_formula_typed_over_is_told_with_its_place(made, root, name, words, value, told):
    at = address(made[1], name, *words, kind="result")
    found = proposal(retyped(made[3], {at: value}), root)
    (note,) = found.notes
    assert note.startswith(f"{'!'.join(at)} ({name} of {' · '.join(words)}): typed over its formula, {told}")
    assert dict(found.files) == {}


def test_a_formula_that_was_rewritten_is_told(made, root):
    sheet, at = address(made[1], "labour_cost", "ring", STERLING, kind="result")
    column = {**made[3].sheets[sheet].rows[row_of((sheet, at))]}
    (place,) = [each for each, cell in column.items() if cell.address == at]
    column[place] = ReadCell(sheet, at, "=1+2", True)
    rows = {**made[3].sheets[sheet].rows, row_of((sheet, at)): column}
    odd = replace(made[3], sheets={**made[3].sheets, sheet: ReadSheet(sheet, rows)})
    (note,) = proposal(odd, root).notes
    assert note.startswith(f"{sheet}!{at} (labour_cost of ring · sterling): its formula is another than in the rest")


def test_a_price_typed_on_the_list_to_print_is_told(made, root):
    rows = made[3].sheets["Price list"].rows
    row = next(number for number, cells in rows.items() if cells.get(0) and "Twig ring" in cells[0].text)
    (note,) = proposal(retyped(made[3], {("Price list", f"E{row}"): 99}), root).notes
    assert note.startswith(f"Price list!E{row} (shop): typed over what is listed. A price of your own is stated")


def test_a_column_and_an_empty_row_put_in_lose_nothing(made, root):
    """Behind an empty row the block goes on, and a column of the maker's own is told, not taken for a figure."""
    sheet, at = address(made[1], "step_minutes", "ring", STERLING, "pierce")
    typed = retyped(made[3], {(sheet, at): 8})
    first = row_of(address(made[1], "step_minutes", "acorn-knob", BRASS, "model"))
    head = first - 1
    wider = with_column(typed, sheet, 3, {head: "my note", first: "ask Ines"})
    gap = {number + (number > first): cells for number, cells in wider.sheets[sheet].rows.items()}
    gap = {
        number: {place: moved(cell, cell_address(number, place)) for place, cell in cells.items()}
        for number, cells in gap.items()
    }
    found = proposal(replace(wider, sheets={**wider.sheets, sheet: ReadSheet(sheet, gap)}), root)
    assert [(change.file, change.new) for change in found.changes] == [("processes.toml", 8)]
    assert found.notes == (f'Steps!D{first}: the column "my note" is none of this workbook\'s own; '
                           "nothing is taken from it",)  # fmt: skip
    before_all = with_column(typed, sheet, 0, {})
    assert [change.new for change in proposal(before_all, root).changes] == [8]


def test_a_column_before_the_figures_of_the_workshop_loses_none_of_them(made, root):
    sheet, at = address(made[1], "overhead_per_month")
    moved = with_column(retyped(made[3], {(sheet, at): 700}), sheet, 1, {})
    assert [change.new for change in proposal(moved, root).changes] == [700]


def test_words_typed_over_are_told(made, root):
    sheet, at = address(made[1], "asked_margin", "ring", STERLING, "shop")
    cells = made[3].sheets[sheet].rows[row_of((sheet, at))]
    (policy,) = [cell for cell in cells.values() if cell.value == "margin"]
    (note,) = proposal(retyped(made[3], {(sheet, policy.address): "markup"}), root).notes
    where = f"{sheet}!{policy.address} (policy of ring · sterling · shop)"
    assert note.startswith(f'{where} says "markup", the folder "margin".')
    (constant,) = [cell for cells in made[3].sheets["Inputs"].rows.values() for place, cell in cells.items()
                   if place == 2 and cells.get(0) and cells[0].value == "minutes_per_hour"]  # fmt: skip
    (note,) = proposal(retyped(made[3], {("Inputs", constant.address): 50}), root).notes
    assert note.startswith(f"Inputs!{constant.address}: minutes_per_hour is 60, always")


def test_a_metal_by_its_symbol_as_earlier_workbooks_said_it_is_understood(made, root):
    sheet, at = address(made[1], "quote_price", "Ag")
    name = at_row("A", row_of((sheet, at)))
    assert made[3].sheets[sheet].cell(row_of((sheet, at)), 0).value == "Silver (Ag)"
    found = proposal(retyped(made[3], {(sheet, name): "Ag", (sheet, at): 39.2}), root, LATER)
    assert [(each.quote.metal, each.price) for each in found.quotes] == [("Ag", "39.2")] and not found.notes


def test_one_figure_and_several_are_said_in_good_english(made, root):
    file = root / "workshop.toml"
    file.write_text(file.read_text().replace("per_month = 640.0", "per_month = 700"))
    told = "The folder was changed since this export: one figure that nobody typed here stays as the folder has it"
    assert proposal(made[3], root).notes == (told,)
    file.write_text(file.read_text().replace("rate = 24.0", "rate = 25.0"))
    told = "The folder was changed since this export: 2 figures that nobody typed here stay as the folder has them"
    assert proposal(made[3], root).notes == (told,)


def test_what_libreoffice_sorts_deletes_and_types_over_is_told_or_taken(office, made, root, tmp_path):
    """One session of a maker: silver typed, a step's row deleted, a cost typed over, an input cleared, all saved."""
    steps, minutes = address(made[1], "step_minutes", "ring", STERLING, "pierce")
    costs, total = address(made[1], "unit_cost", "ring", STERLING, kind="result")
    with office.open(made[2]) as book:
        book.set({address(made[1], "quote_price", "Ag"): 39.2, address(made[1], "stock_premium", STERLING): None})
        book.set({(costs, total): 12.5}, over_formulas=True)
        book.delete_rows(steps, row_of((steps, minutes)), 1)
        block = plan_of(made[1]).block("Parts", "casting")
        book.sort("Parts", f"A{block.first_row}:{letter(block.shown_items[-1][0])}{block.last_row}", 0)
        book.insert_column("Channels", 3)
        book.recalculate()
        saved = book.save_as(tmp_path / "session.xlsx", "xlsx")
    before = state(root)
    found = propose(saved, root, LATER)
    told = "\n".join(found.notes)
    assert f"{costs}!{total} (unit_cost of ring · sterling): typed over its formula, with 12.5." in told
    assert "the row ring · sterling · pierce is not in this workbook any more" in told
    assert "The sheet Checks of this workbook says WRONG" in told
    writing.write(found)
    assert lines_changed(before, root) == {
        "alloys.toml": ["- stock_premium = 0.09   # sheet"],
        "metal_prices.csv": ["+ 2026-11-24,Ag,39.2,ozt,USD,typed into a workbook"],
    }
