"""A workshop with sizes, plating, tiers of postage, a channel abroad, castings bought: live, and on its way back."""

from __future__ import annotations

import random
import re
import shutil
from pathlib import Path

import openpyxl
import pytest

from pricing.errors import Faults
from pricing.formulas.bounds import bounds_of
from pricing.formulas.sheet_layout import long_rows
from pricing.formulas.tables import INPUTS
from pricing.workbook.back import writing
from pricing.workbook.back.cells import read_workbook
from pricing.workbook.back.proposal import WANTED, proposal
from pricing.workbook.sheets import write_workbook
from tests.folders import alder_wharf
from tests.lists.fernhollow import AS_OF, costing_of
from tests.twin import after_edits, mixed, other_value
from tests.workbook.incoming_workshop import address, retyped
from tests.workbook.test_import_workbook import another, whole_rows
from tests.workbook.workbooks import inputs, live_twin, plan_of

#: Tables and inputs that only such a workshop shows.
NEW = {"up_to_g", "tier_charged", "tier_cost", "microns", "covers", "effort", "bought_premium", "is_own", "packing_g"}
#: Inputs that cannot be changed by themselves in this workshop: the gallery asks earnings of an own hour.
REFUSED = frozenset({"is_own"})


def without_parts(into: Path) -> Path:
    """Alder Wharf's folder, its pieces sold as they are and none joined to another."""
    root = Path(shutil.copytree(alder_wharf(), into, ignore=shutil.ignore_patterns("*.json", "README.md")))
    (root / "products" / "tide-set.toml").unlink()
    for file in (root / "products").glob("*.toml"):
        text = re.sub(r"\{ product = [^}]*\},?\s*", "", file.read_text(encoding="utf-8"))
        file.write_text(text, encoding="utf-8")
    bail = root / "products" / "fern-bail.toml"
    bail.write_text(bail.read_text(encoding="utf-8").replace("sold_in = []\n", ""), encoding="utf-8")
    return root


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    directory = tmp_path_factory.mktemp("more")
    costing = costing_of(without_parts(directory / "folder"))
    write_workbook(costing, directory / "book.xlsx")
    return costing, directory / "book.xlsx", read_workbook(directory / "book.xlsx", WANTED)


@pytest.fixture
def root(made, tmp_path):
    return Path(shutil.copytree(made[0].folder.root, tmp_path / "folder"))


def test_after_edits_of_every_new_input_every_cell_equals_the_engine(office, made, tmp_path):
    costing = made[0]
    twin = live_twin(office, costing, tmp_path)
    wrong, compared = twin.differences()
    assert not wrong and compared > 5_000
    choice, edits = random.Random(6), []
    open_cells: dict[str, list] = {}
    for _, name, position, row, editable in inputs(costing):
        if editable:
            open_cells.setdefault(name, []).append((position, row))
    assert NEW <= open_cells.keys()
    others = [name for name in mixed(open_cells) if name not in NEW]
    for name in mixed([*NEW, *others[::4]]):  # all of them are edited where pieces are in pieces
        position, row = choice.choice(open_cells[name])
        edits.append((name, position, other_value(INPUTS[name], getattr(row.row, name), choice)))
    for wrong, typed in after_edits(twin, edits):
        assert not wrong, typed
    assert not twin.book.errors()
    twin.book.close()


def test_an_export_of_it_brings_nothing_back(made, root):
    found = proposal(made[2], root)
    assert (found.changes, found.quotes, dict(found.files), found.notes) == ((), (), {}, ())


def test_sums_abroad_have_their_currency(made):
    costing = made[0]
    book, plan = openpyxl.load_workbook(made[1]), plan_of(costing)
    heads = {cell.value: cell.column for cell in book["Prices"][plan.block("Prices", "price").head_row]}
    told = {
        (book["Prices"].cell(row, heads["channel"]).value, book["Prices"].cell(row, heads["in"]).value)
        for row in range(plan.block("Prices", "price").first_row, plan.block("Prices", "price").last_row + 1)
    }
    assert told == {("shop", "GBP"), ("gallery", "GBP"), ("trade", "GBP"), ("abroad", "USD")}
    said = [str(cell.value) for row in book["Price list"].iter_rows(max_row=8) for cell in row]
    assert (
        "retail, USD" in said
        and "retail, GBP" in said
        and any(each.startswith("Prices in GBP, USD, ") for each in said)
    )


@pytest.mark.parametrize("name", sorted(NEW))
def test_a_new_input_has_words_bounds_and_a_place_in_a_file(made, name):
    known = INPUTS[name]
    assert known.meaning and (known.is_switch or bounds_of(name) is not None)
    assert known.path


def with_all_sizes(costing, name, rows):
    """The rows, and those of the other sizes of the same product that are alike in all else."""
    if not rows or INPUTS[name].table not in ("variant", "casting", "finding", "step", "use", "price"):
        return rows
    variants = costing.computed.resolved.variants

    def stem(row):
        variant = variants[row.index[0]]
        return variant.sku.removesuffix(f"-{variant.size}"), variant.alloy, row.index[1:]

    wanted = {stem(row) for _, row in rows}
    return [(position, row) for _, each, position, row, open_ in inputs(costing)
            if each == name and open_ and stem(row) in wanted]  # fmt: skip


def test_a_figure_of_one_size_only_is_told(made, root):
    costing, _, incoming = made
    at = address(costing, "step_minutes", "wave-band-50", "print")
    with pytest.raises(Faults, match="the sizes of wave-band are one product.*Type it for wave-band-54, wave-band-60"):
        proposal(retyped(incoming, {at: 7}), root, AS_OF)


#: What is shared with other workshops, but told here by sizes, in another currency or beside what is new.
BESIDE = ("volume_cm3", "work_multiple", "use_quantity", "step_minutes", "fee_fixed", "least_price", "sprue_ratio")


@pytest.mark.parametrize("name", sorted({*NEW, *BESIDE, "plating_waste", "refund_loss", "packing_per_set"}))
def test_what_is_typed_goes_to_its_file_and_the_folder_then_says_so(made, root, name):
    """Or it is refused with a mend; never taken for something else."""
    costing, _, incoming = made
    rows = with_all_sizes(costing, name, whole_rows(costing, name))
    if not rows:
        pytest.skip("no cell of it may be changed in this workshop")
    column = plan_of(costing).layout[name]
    value = another(name, getattr(rows[0][1].row, name))
    typed = int(value) if INPUTS[name].is_switch else value
    cells = {(column.sheet, column.cell(position)): typed for position, _ in rows}
    try:
        found = proposal(retyped(incoming, cells), root, AS_OF)
    except Faults as refused:
        assert all(fault.mend for fault in refused.faults)
        assert name in REFUSED
        return
    assert found.files and name not in REFUSED
    writing.write(found)
    after = costing_of(root)
    told = long_rows(after.computed.resolved)[INPUTS[name].table]
    for position, _ in rows:
        assert getattr(told[position - 1].row, name) == pytest.approx(value, rel=1e-12)
