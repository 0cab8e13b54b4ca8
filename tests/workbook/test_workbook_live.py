"""The live workbook in LibreOffice: what it computes is what it carries, and what the engine says, edit for edit."""

from __future__ import annotations

import math
import random
import shutil
from datetime import UTC, datetime

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings

from pricing.costing import asked_for, cost
from pricing.formulas.sheet_layout import long_rows
from pricing.formulas.tables import INPUTS
from pricing.studies.prices_out import prices_out
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from pricing.workbook.sheets import write_workbook
from pricing.workbook.sheets.checks import OK, WRONG
from tests.exact.workshops import workshops
from tests.exact.workshops import write as write_folder
from tests.folders import FEWER, alder_wharf, small_sample, tin_lane
from tests.lists.fernhollow import AS_OF, costing_of
from tests.office import spoil_cached_values
from tests.twin import after_edits, agree, mixed, other_value
from tests.workbook.workbooks import bare_workshop, inputs, live_twin, plan_of

#: One with next to nothing in it, one with everything that can be stated, and one between.
FOLDERS = {"example": lambda _: tin_lane(), "everything": lambda _: alder_wharf(), "bare": bare_workshop}
#: Verdicts, by the defined names of their cells on Checks.
VERDICT, CHANGED = "B4", "B5"


@pytest.fixture(scope="module")
def sample(tmp_path_factory):
    """As few products of the sample as have all kinds of cells between them; nobody changes it."""
    return costing_of(small_sample(tmp_path_factory.mktemp("fewer") / "fernhollow", few=FEWER))


@pytest.fixture(scope="module")
def opened(office, sample, tmp_path_factory):
    """The workbook of the sample, opened once for all tests here."""
    twin = live_twin(office, sample, tmp_path_factory.mktemp("live"))
    yield twin
    twin.book.close()


@pytest.fixture
def twin(opened):
    """The same, for each test as it was exported: what a test typed is put back after it."""
    yield opened
    opened.undo()
    checks = opened.book.values("Checks")
    assert (checks[VERDICT], checks[CHANGED]) == (OK, 0)


@pytest.mark.parametrize("folder", FOLDERS.values(), ids=FOLDERS)
def test_from_spoilt_values_every_cell_of_every_sheet_becomes_what_the_file_carried(office, folder, tmp_path):
    path, spoilt = tmp_path / "live.xlsx", tmp_path / "spoilt.xlsx"
    write_workbook(costing_of(folder(tmp_path / "folder")), path)
    assert spoil_cached_values(path, spoilt) > 200
    carried = openpyxl.load_workbook(path, read_only=True, data_only=True)
    with office.open(spoilt) as book:
        assert book.sheets == tuple(carried.sheetnames)
        assert book.errors() == []
        for name in book.sheets:
            computed, compared = book.values(name), set()
            for row in carried[name].iter_rows():
                for cell in row:
                    if cell.value is not None:
                        compared.add(cell.coordinate)
                        assert same(computed.get(cell.coordinate), cell.value), f"{name}!{cell.coordinate}"
            assert not [at for at in computed.keys() - compared if computed[at] != ""], name


def same(computed, carried) -> bool:
    """Equal to 1e-9; an empty text and nothing are the same, as are true and 1."""
    if isinstance(carried, bool | int | float):
        return isinstance(computed, float) and math.isclose(computed, carried, rel_tol=1e-9, abs_tol=1e-9)
    return (computed or "") == (carried or "")


def test_after_every_edit_every_cell_equals_the_engine(twin, sample):
    wrong, compared = twin.differences()
    assert not wrong
    assert compared > 10_000
    choice, edits = random.Random(4), []
    open_cells: dict[str, list] = {}
    for _, name, position, row, editable in inputs(sample):
        if editable:
            open_cells.setdefault(name, []).append((position, row))
    for name in mixed(open_cells):
        position, row = choice.choice(open_cells[name])
        edits.append((name, position, other_value(INPUTS[name], getattr(row.row, name), choice)))
    for wrong, typed in after_edits(twin, edits):
        assert not wrong, typed
    kinds = {name for name, _, _ in edits}
    assert len(kinds) > 75
    here = {known.table for known in INPUTS.values()} - {"link", "part", "size"}  # these few have none
    assert {INPUTS[name].table for name in kinds} == here
    assert not twin.book.errors()


@given(workshops())
@settings(
    max_examples=5,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_the_workbook_of_any_workshop_equals_the_engine(office, tmp_path_factory, workshop):
    directory = tmp_path_factory.mktemp("any")
    root = directory / "folder"
    write_folder(workshop, root)
    costing = cost(root, asked_for(workshop.as_of, workshop.run, workshop.charge_design))
    twin = live_twin(office, costing, directory)
    wrong, _ = twin.differences()
    verdict = twin.book.values("Checks")[VERDICT]
    twin.book.close()
    assert not wrong
    assert verdict == OK


# ---- Checks


def test_changed_inputs_are_told_and_are_forgotten_when_changed_back(twin):
    assert twin.book.values("Checks")[VERDICT] == OK
    before = twin.computed.resolved.metals[2].quote_price
    twin.edit("quote_price", 3, before * 1.1)
    assert not twin.differences()[0]
    checks = twin.book.values("Checks")
    assert checks[VERDICT] == "OK, with inputs changed since the export"
    assert checks[CHANGED] == 1
    assert twin.book.values("Read me")["B4"] == checks[VERDICT]
    assert "differs because inputs were changed" in checks.values()
    assert WRONG not in checks.values()
    twin.edit("quote_price", 3, before)
    assert not twin.differences()[0]
    assert twin.book.values("Checks")[VERDICT] == OK


def test_a_small_change_in_a_long_column_and_an_emptied_cell_are_noticed(twin):
    twin.edit("good", len(twin.rows["step"]), 0.9999)
    twin.differences()
    assert twin.book.values("Checks")[CHANGED] == 1
    column = twin.layout["stock_premium"]
    stated = next(place for place, row in enumerate(twin.rows["alloy"], 1) if row.row.stock_premium is not None)
    twin.type({(column.sheet, column.cell(stated)): None})
    twin.book.recalculate()
    assert twin.book.values("Checks")[CHANGED] == 2


def test_a_figure_typed_over_a_formula_is_told_as_wrong(office, tmp_path):
    costing = costing_of(tin_lane())
    path, forged = tmp_path / "live.xlsx", tmp_path / "forged.xlsx"
    write_workbook(costing, path)
    book = openpyxl.load_workbook(path)
    fresh, cost_cell = (plan_of(costing).layout[name] for name in ("fresh_g", "unit_cost"))
    book["Costs"][fresh.cell(1)].value = 1.0
    book["Costs"][cost_cell.cell(5)].value = 1.0
    book.save(forged)
    with office.open(forged) as opened:
        checks = opened.values("Checks")
    assert checks[VERDICT].startswith(WRONG)
    # The mass of the first variant, its cost and prices, and the cost of the fifth, which follow from it.
    assert list(checks.values()).count(WRONG) >= 3


def test_a_word_pasted_where_a_figure_belongs_is_told(twin):
    column = twin.layout["wage"]
    twin.type({(column.sheet, column.cell(1)): "eighteen"})
    twin.book.recalculate()
    checks = twin.book.values("Checks")
    assert checks[VERDICT].startswith(WRONG)
    assert checks[CHANGED] == 1


def test_fees_that_eat_the_price_are_told(twin):
    first = next(place for place, row in enumerate(twin.rows["fee"], 1) if row.row.fee_rate > 0)
    twin.edit("fee_rate", first, 0.99)
    twin.book.recalculate()
    checks = twin.book.values("Checks")
    assert checks[VERDICT].startswith(WRONG)
    assert twin.book.values("Read me")["B4"].startswith(WRONG)


def test_a_composition_that_does_not_sum_to_one_is_told(twin, sample):
    position = next(
        position for _, name, position, _, editable in inputs(sample) if name == "mass_fraction" and editable
    )
    twin.edit("mass_fraction", position, 0.9)
    twin.book.recalculate()
    assert twin.book.values("Checks")[VERDICT].startswith(WRONG)


# ---- the sheet to print


def test_the_price_list_shows_the_live_prices_of_what_is_sold(twin, sample):
    variants, channels = twin.computed.resolved.variants, twin.computed.resolved.channels
    silver = next(place for place, row in enumerate(twin.rows["metal"], 1) if row.row.name == "Ag")
    twin.edit("quote_price", silver, 60.0)
    twin.edit("sold", 2, 0)
    wrong, _ = twin.differences()
    assert not wrong
    values, shown = twin.engine(), twin.book.values("Price list")
    lines = [cells for cells in rows_of(shown) if {"A", "B", "E"} <= cells.keys() and isinstance(cells.get("D"), float)]
    assert len(lines) == len(variants)
    found = {(cells["A"], cells["B"]): cells for cells in lines}
    words = words_on_the_list(sample)
    for row, variant in enumerate(variants):
        cells = found[words(variant)]
        for place, channel in enumerate(channels):
            cell = cells.get("EFGHI"[place])
            if values["sold"][row, place]:
                assert agree(cell, float(values["price"][row, place])), f"{variant.sku} in {channel.name}"
            else:
                assert cell == ""
    notes = [cell for cell in shown.values() if isinstance(cell, str) and cell.startswith("Silver ")]
    assert notes == ["Silver (Ag) 60.00 USD/ozt (typed into this workbook)"]


def rows_of(shown: dict) -> list[dict]:
    """The cells of a sheet row by row, each by its letter."""
    rows: dict[int, dict] = {}
    for address, value in shown.items():
        at = address.rstrip("0123456789")
        rows.setdefault(int(address[len(at) :]), {})[at] = value
    return list(rows.values())


def words_on_the_list(costing):
    """How a variant is named on the list."""
    from pricing.workbook.sheets.labels import Words

    words = Words(costing)
    return lambda variant: (words.product_name(variant.sku), words.stated.alloys[variant.alloy].name)


def test_a_run_that_pays_for_its_design_is_live_too(office, tmp_path):
    costing = cost(tin_lane(), asked_for(AS_OF, run=25, charge_design=True))
    twin = live_twin(office, costing, tmp_path)
    wrong, _ = twin.differences()
    twin.edit("run_sets", 1, 7)
    wrong_after, _ = twin.differences()
    twin.book.close()
    assert not wrong and not wrong_after
    assert len(long_rows(costing.computed.resolved)["variant"]) == 7


def test_the_price_list_shows_what_is_published_until_the_reader_asks_for_what_is_asked(office, tmp_path):
    """Silver doubles after the edition: Prices move with it, the list to hand out does not, unless told to."""
    folder = shutil.copytree(tin_lane(), tmp_path / "tin-lane")
    costing = cost(folder, asked_for(AS_OF))
    publish_prices(reprice(costing, None), datetime(2026, 11, 20, 18, tzinfo=UTC))
    published = {name: each.price for name, each in prices_out(costing).published.items()}
    twin = live_twin(office, costing, tmp_path)
    position = next(place for place, row in enumerate(twin.rows["metal"], 1) if row.row.name == "Ag")
    twin.edit("quote_price", position, 2 * costing.computed["quote_price"][position - 1])
    twin.book.recalculate()
    asked = {
        (variant.sku, variant.alloy, channel.name): float(twin.engine()["price"][row, column])
        for row, variant in enumerate(costing.computed.resolved.variants)
        for column, channel in enumerate(costing.computed.resolved.channels)
    }
    assert asked != {name: price for name, price in published.items() if name in asked}
    assert listed(twin) == published
    twin.book.set({("Price list", "B4"): "asked now"})
    twin.book.recalculate()
    assert listed(twin) == pytest.approx({name: asked[name] for name in published}, rel=1e-9)
    twin.book.close()


def listed(twin) -> dict[tuple[str, str, str], float]:
    """The prices on the sheet to print, by variant and channel; the variant's place stands hidden behind them."""
    variants, channels = twin.computed.resolved.variants, twin.computed.resolved.channels
    found = {}
    for cells in rows_of(twin.book.values("Price list")):
        behind = cells.get("EFGHIJ"[len(channels)])
        if isinstance(behind, float) and isinstance(cells.get("D"), float):
            variant = variants[int(behind) // len(channels)]
            for place, channel in enumerate(channels):
                if isinstance(price := cells.get("EFGHIJ"[place]), float):
                    found[variant.sku, variant.alloy, channel.name] = price
    return found
