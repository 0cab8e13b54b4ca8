"""The live workbook of pieces within pieces, sizes, plating, tiers, channels abroad: each cell equals the engine."""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterable
from pathlib import Path

import openpyxl
import pytest

from pricing.costing import asked_for, cost
from pricing.errors import Faults
from pricing.formulas.rerun import at_one_price
from pricing.formulas.tables import INPUTS
from pricing.workbook.back import writing
from pricing.workbook.incoming import propose
from pricing.workbook.sheets import write_workbook
from pricing.workbook.sheets.checks import OK
from pricing.workbook.sheets.twins import Twins, is_size, sku_within
from tests.folders import alder_wharf
from tests.lists.fernhollow import AS_OF
from tests.twin import after_edits, mixed, other_value
from tests.workbook.workbooks import inputs, live_twin, plan_of

#: Figures of pieces that are in others, each edited where the piece itself is listed.
OF_PIECES = (
    ("volume_cm3", "casting", "fern-bail"), ("step_minutes", "step", "fern-bail"), ("good", "step", "fern-bail"),
    ("sprue_ratio", "variant", "fern-bail"), ("metal_g", "casting", "anchor-charm"),
    ("finding_premium", "finding", "drop-studs"), ("microns", "use", "fern-pendant"),
)  # fmt: skip


NOT_IN_SAMPLE = ("link", "size")


@pytest.fixture(scope="module")
def costing():
    return cost(alder_wharf(), asked_for(AS_OF))


@pytest.fixture(scope="module")
def written(costing, tmp_path_factory):
    """Its workbook as a file; nobody changes it."""
    path = tmp_path_factory.mktemp("written") / "book.xlsx"
    write_workbook(costing, path)
    return path


@pytest.fixture(scope="module")
def read(written):
    """The same as a library reads it; nobody changes it."""
    return openpyxl.load_workbook(written)


def test_heads_of_costs_stay_in_sight_where_parts_follow(costing, read):
    costs = read["Costs"]
    first, parts = (block for block in plan_of(costing).blocks if block.sheet == "Costs")
    assert (first.table, parts.table) == ("variant", "part")
    assert costs.freeze_panes == f"C{first.first_row}"
    assert costs.auto_filter.ref.endswith(str(first.last_row)) and first.last_row < parts.head_row


@pytest.fixture(scope="module")
def opened(office, costing, tmp_path_factory):
    """Its workbook, opened once."""
    twin = live_twin(office, costing, tmp_path_factory.mktemp("live"))
    yield twin
    twin.book.close()


@pytest.fixture
def twin(opened):
    """The same; what a test typed is put back after it."""
    yield opened
    opened.undo()


def test_every_cell_from_spoilt_values_equals_the_engine(twin):
    all_equal(twin)


def test_every_cell_of_a_run_from_spoilt_values_equals_the_engine(office, tmp_path):
    twin = live_twin(office, cost(alder_wharf(), asked_for(AS_OF, 25)), tmp_path)
    all_equal(twin)
    twin.book.close()


def all_equal(twin) -> None:
    assert len(twin.computed.resolved.hidden) > 10
    wrong, compared = twin.differences()
    errors, verdict = twin.book.errors(), twin.book.values("Checks")["B4"]
    assert not wrong
    assert not errors
    assert verdict == OK
    assert compared > 10_000


def some_of_each_table(names: Iterable[str]) -> list[str]:
    """Every third input of each table, at least one; of tables that the sample has no row of, all. Of the others each
    is edited in the sample's own workbook."""
    by_table: dict[str, list[str]] = {}
    for name in sorted(names):
        by_table.setdefault(INPUTS[name].table, []).append(name)
    return [name for table, each in by_table.items() for name in (each if table in NOT_IN_SAMPLE else each[::3])]


def test_after_edits_of_every_kind_every_cell_equals_the_engine(twin, costing):
    choice, edits = random.Random(12), []
    open_cells: dict[str, list] = {}
    for _, name, position, row, editable in inputs(costing):
        if editable:
            open_cells.setdefault(name, []).append((position, row))
    variants = costing.computed.resolved.variants
    for name, table, sku in OF_PIECES:
        position, row = next(each for each in open_cells[name] if variants[each[1].index[0]].sku == sku)
        assert INPUTS[name].table == table
        edits.append((name, position, other_value(INPUTS[name], getattr(row.row, name), choice)))
    for name in mixed(some_of_each_table(open_cells)):
        position, row = choice.choice(open_cells[name])
        value = other_value(INPUTS[name], getattr(row.row, name), choice)
        if value is not None:
            edits.append((name, position, value))
    assert {INPUTS[name].table for name, _, _ in edits} == {known.table for known in INPUTS.values()} - {"part"}
    before = twin.engine()["unit_cost"].copy()
    for wrong, typed in after_edits(twin, edits):
        assert not wrong, typed
    assert not twin.book.errors()
    assert (twin.engine()["unit_cost"][:-1] != before[:-1]).all()


# ---- the way back


def position_of(costing, name: str, sku: str, words: str = "") -> int:
    """The row of a listed variant's open input; `words` is the name of its step, casting, size or channel."""
    resolved = costing.computed.resolved
    for _, found, position, row, editable in inputs(costing):
        if found != name or not editable:
            continue
        named = getattr(row.row, "name", None) or getattr(row.row, "channel", "")
        variant = Twins(resolved).variants[row.index[0]]
        if words in ("", named) and sku in (variant.sku, named):
            return position
    raise LookupError(name)


#: What is typed into the workbook and where it lands: name, sku (or channel) and words of the row, value, file.
BACK = (
    ("volume_cm3", "fern-bail", "bail", 0.062, "products/fern-bail.toml"),
    ("step_minutes", "fern-bail", "model", 75, "products/fern-bail.toml"),
    ("link_quantity", "anchor-charm", "", 2, "products/anchor-leaf.toml"),
    ("link_spoil", "drop-studs", "", 0.04, "products/tide-set.toml"),
    ("size_sales", "tide-bangle", "L", 2.5, "products/tide-bangle.toml"),
    ("own_sets_per_order", "harbour-knocker", "trade", 3, "products/harbour-knocker.toml"),
    ("microns", "fern-pendant", "", 2.9, "processes.toml"),
)


def test_what_is_typed_comes_back_and_the_folder_costs_what_the_workbook_showed(twin, costing, tmp_path):
    root = Path(shutil.copytree(alder_wharf(), tmp_path / "folder"))
    for name, sku, words, value, _ in BACK:
        twin.edit(name, position_of(costing, name, sku, words), value)
    tiers = [place for place, _ in enumerate(twin.rows["postage_tier"], 1)]
    channel = costing.computed.resolved.channels[twin.rows["postage_tier"][0].index[0]].name
    twin.edit("tier_cost", tiers[0], 4.21)
    twin.edit("up_to_g", tiers[0], 260)
    for position, row in enumerate(twin.rows["fee"], 1):
        if costing.computed.resolved.channels[row.index[0]].currency != costing.computed.resolved.currency:
            twin.edit("fee_rate", position, 0.123)
            break
    wrong, _ = twin.differences()
    assert not wrong
    shown = twin.book.save_as(tmp_path / "back.xlsx", "xlsx")
    expected = twin.engine()
    found = propose(shown, root)
    assert {file for *_, file in BACK} | {"channels.toml"} == set(found.files)
    writing.write(found)
    again = cost(root, asked_for(AS_OF)).computed
    figures = at_one_price(again)
    for name in ("unit_cost", "price", "profit", "total_g", "unit_cost"):
        assert figures[name] == pytest.approx(expected[name], rel=1e-9, nan_ok=True), name
    assert "260" in (root / "channels.toml").read_text(encoding="utf-8")
    assert channel in {each.name for each in again.resolved.channels}


def test_a_figure_typed_over_a_piece_within_another_is_refused_with_a_mend(costing, written, tmp_path):
    root = Path(shutil.copytree(alder_wharf(), tmp_path / "folder"))
    path = tmp_path / "book.xlsx"
    book = openpyxl.load_workbook(written)
    twins, column = Twins(costing.computed.resolved), plan_of(costing).layout["sprue_ratio"]
    place = next(place for place, row in enumerate(twins.variants) if row.links and row.sku == "fern-bail")
    cell = book["Parts"][column.cell(place + 1)]
    assert cell.value.startswith("=") and cell.protection.locked
    cell.value = 2.5
    book.save(path)
    with pytest.raises(Faults) as refused:
        propose(path, root)
    (fault,) = refused.value.faults
    assert fault.place.file == f"Parts!{column.cell(place + 1)}"
    assert "type it in the row of fern-bail itself" in fault.mend


def test_an_export_that_nobody_changed_writes_nothing(written):
    found = propose(written, alder_wharf())
    assert (found.changes, found.quotes, dict(found.files), found.notes) == ((), (), {}, ())


def test_a_figure_of_a_piece_within_another_is_shown_where_it_counts_even_if_it_is_the_usual_one(costing, read):
    """One pendant goes into a gift set: the row of its bail shows the 1, and points at where it may be typed."""
    plan = plan_of(costing)
    block, column = plan.block("Parts", "link"), plan.layout["link_quantity"]
    words = block.items[0].label.words
    inner = "fern-bail in fern-pendant in tide-set (sterling)"
    named = [(words(row), row.row.name) for row in block.rows]
    position = named.index((inner, "fern-bail")) + 1
    cell = read["Parts"][column.cell(position)]
    assert cell.value.startswith("=$") and cell.protection.locked
    assert cell.number_format == "General"


def test_every_hidden_row_says_what_it_is_in(costing):
    twins = Twins(costing.computed.resolved)
    names = [sku_within(twins.variants, place) for place in range(len(twins.variants))]
    assert "fern-bail in fern-pendant (sterling)" in names
    assert "fern-bail in fern-pendant in tide-set (sterling)" in names
    assert "reed-ring, size Z+1" in names
    assert sum(is_size(row) for row in twins.variants) == 2 * 5 + 3  # the ring in two alloys, the bangle
