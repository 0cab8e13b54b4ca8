"""What is allowed and looks like a slip."""

from __future__ import annotations

import pytest

from pricing.errors import Faults
from pricing.folder.read import read_folder
from tests.folder.workshops import MARK, Change, changed, marks, read, write

WORKSHOP = "workshop.toml"
ALLOYS = "alloys.toml"
PROCESSES = "processes.toml"
CHANNELS = "channels.toml"
KNOB = "products/acorn-knob.toml"
LARGE = "products/large-knob.toml"


def test_a_folder_in_order_has_none(tmp_path):
    assert read(tmp_path).warnings == ()


@pytest.mark.parametrize(
    ("file", "old", "new", "told", "other"),
    [
        (PROCESSES, 'material = "investment"', 'material = ▶"patina"',
         'processes.cast[1].uses[0].material: "patina" fills the flask "medium", whose own material is "investment". '
         "Write the same material in both places.", "workshop.toml:27:12"),
        (LARGE, "pieces_per_flask = 10\n",
         'pieces_per_flask = 10\nalloys = ["sterling"]\n[for_alloy.▶yellow-brass]\nsprue_ratio = 0.5\n',
         'for_alloy.yellow-brass: it has no effect, since the product is not made in "yellow-brass". '
         "Add the alloy to alloys, or take the table out.", "products/large-knob.toml:6:10"),
        (ALLOYS, 'quote = "brass-grain"', 'quote = "brass-grain"\n▶scrap_pays = ["Cu"]',
         "alloys.yellow-brass.scrap_pays: it has no effect on an alloy that is priced by a quote. "
         'Leave it out, or write priced_by = "content".', None),
        (ALLOYS, 'quote = "brass-grain"', 'quote = "brass-grain"\n▶unpriced = ["Zn"]',
         "alloys.yellow-brass.unpriced: it has no effect on an alloy that is priced by a quote. "
         'Leave it out, or write priced_by = "content".', None),
        (ALLOYS, 'priced_by = "content"', 'priced_by = "content"\nunpriced = ["Cu"]\nscrap_pays = ["Ag", ▶"Cu"]',
         "alloys.sterling.scrap_pays: Cu is unpriced, so that nothing is reckoned for it. "
         "Take it out of unpriced, or out of here.", None),
        (ALLOYS, "melt_loss = 0.01", "melt_loss = 0.01\npremium = ▶1.5",
         "alloys.sterling.premium: 1.5 is 150 % on top. If you meant 1.5 %, write 0.015.", None),
        (WORKSHOP, "rate = 24.0", "rate = 24.0\non_cost = ▶2",
         "labour.bench.on_cost: 2 is 200 % on top. If you meant 2 %, write 0.02.", None),
        (PROCESSES, "per_cm2 = 0.03 }", 'per_cm2 = 0.03 }, { alloy = "sterling", microns = 2, waste = ▶1.2 }',
         "processes.cast[3].uses[1].waste: 1.2 is 120 % on top. If you meant 1.2 %, write 0.012.", None),
        (KNOB, "quantity = 2, price = 0.11 }",
         'quantity = 2, price = 0.11, metal_g = 1, alloy = "sterling", premium = ▶2.5 }',
         "findings[0].premium: 2.5 is 250 % on top. If you meant 2.5 %, write 0.025.", None),
        (WORKSHOP, "water_per_100 = 40", "water_per_100 = ▶0.4",
         "flasks.medium.water_per_100: 0.4 g of water to 100 g of powder is hardly a drop. "
         "If you meant the fraction, write 40.", None),
        (CHANNELS, "step = 0.5", "step = ▶0.005",
         "channels.shop.rounding.steps_by_price[0].step: 0.005 gives prices that GBP has no coin for. "
         "The currency has 2 decimals.", None),
    ],
)  # fmt: skip
def test_told(tmp_path, file, old, new, told, other):
    change = Change(file, old, new)
    (warning,) = read(tmp_path, change).warnings
    (place,) = marks(changed(change), MARK)
    assert warning.headline() == f"{place} {told}"
    assert [str(place) for place in warning.other] == ([other] if other else [])


RED_BRASS = """\
[alloys.red-brass]
name = "Red brass"
density = 8.75
composition = { Cu = 0.85, Zn = 0.15 }
priced_by = "quote"
quote = "brass-grain"
melt_loss = 0.03
"""


def test_a_new_alloy_that_is_in_no_list_of_steps(tmp_path):
    """Brass is darkened, red brass was forgotten: it would be sold bright, and too cheap."""
    changes = (
        Change(ALLOYS, "[alloys.yellow-brass]", RED_BRASS + "[alloys.yellow-brass]"),
        Change(PROCESSES, 'name = "darken"', 'name = "darken"\nalloys = ["yellow-brass"]'),
        Change(KNOB, '"sterling"]', '"sterling", "red-brass"]'),
    )
    (warning,) = read(tmp_path, *changes).warnings  # once, though a cousin is made in it too
    assert warning.headline() == (
        "products/acorn-knob.toml:4:39 alloys: red-brass is in none of the alloys = lists of cast, "
        'so that "darken", which yellow-brass has, is left out. '
        f"Add it to the lists of the steps that it needs{BY_CONTENT.format('Cu')}."
    )
    assert [str(place) for place in warning.other] == ["processes.toml:18:1"]


VERMEIL = """\
[alloys.vermeil]
name = "Vermeil"
density = 10.36
composition = { Ag = 0.925, Cu = 0.075 }
priced_by = "content"
melt_loss = 0.01
"""
#: The mend by what is in an alloy.
BY_CONTENT = ', or write there holding = ["{}"] in their place'


def test_a_new_silver_that_no_list_names_lacks_what_its_sister_has(tmp_path):
    """Assay, mark and darkening are for sterling by name: a silver that is new would go without them, unasked."""
    changes = (
        Change(ALLOYS, "[alloys.sterling]", VERMEIL + "[alloys.sterling]"),
        Change(PROCESSES, 'name = "darken"', 'name = "darken"\nalloys = ["sterling"]'),
        Change(KNOB, '"sterling"]', '"sterling", "vermeil"]'),
    )
    (warning,) = read(tmp_path, *changes).warnings
    assert 'so that "darken" and "assay mark", which sterling has, are left out.' in warning.problem + "."
    assert warning.mend == f"Add it to the lists of the steps that it needs{BY_CONTENT.format('Ag')}."


def test_a_density_in_kilograms_per_cubic_metre_is_put_right(tmp_path):
    """10 360 kg/m3 is 10.36 g/cm3; what would be wrong in g/cm3 too is not proposed."""
    (warning,) = read(tmp_path, Change(ALLOYS, "density = 10.36", "density = 10360")).warnings
    assert warning.mend == "It looks like kg/m3; if you meant 10.36 g/cm3, write 10.36."
    (warning,) = read(tmp_path / "b", Change(ALLOYS, "density = 10.36", "density = 15360")).warnings
    assert warning.mend == "Look the density up again, or the composition."


def test_a_word_for_a_metal_is_told_with_its_symbol(tmp_path):
    """However often it stands there: the second line of a word is no more right than the first."""
    line = "2026-11-20,USD"
    silver = "2026-11-18,Silver,38,ozt,USD,\n2026-11-19,Silver,38,ozt,USD,\n"
    (warning,) = read(tmp_path, Change("metal_prices.csv", line, silver + line)).warnings
    assert warning.headline() == ('metal_prices.csv:5:12 metal: no alloy is valued by "Silver". Did you mean "Ag"?')


@pytest.mark.parametrize(("fee", "told"), [
    ('rate = 0.25', True), ('rate = 0.24', False), ('rate = 0.25, taxed = false', False),
])  # fmt: skip
def test_a_commission_on_the_price_with_its_tax(tmp_path, fee, told):
    commission = Change(CHANNELS, "fees = [{", f'fees = [{{ name = "commission", {fee} }}, {{')
    warnings = read(tmp_path, commission).warnings
    assert [warning.mend for warning in warnings] == ["If it is so here, write taxed = false beside it."] * told


def test_a_commission_where_there_is_no_tax_is_as_it_is(tmp_path):
    commission = Change(CHANNELS, "fees = [{", 'fees = [{ name = "commission", rate = 0.4 }, {')
    untaxed = Change(CHANNELS, "tax = { rate = 0.2, included = true }\n", "")
    assert read(tmp_path, commission, untaxed).warnings == ()


def test_an_hour_that_costs_nothing_is_told(tmp_path):
    """It is allowed, and what a piece earns in such an hour says little."""
    (warning,) = read(tmp_path, Change(WORKSHOP, "rate = 24.0", "rate = 0")).warnings
    assert warning.headline().startswith("workshop.toml:5:8 labour.bench.rate: an hour of it costs nothing")


def test_a_base_metal_needs_no_hallmark(tmp_path):
    """Only the assay mark is limited, to sterling: that brass has none is no slip."""
    brass = Change(ALLOYS, "[alloys.yellow-brass]", RED_BRASS + "[alloys.yellow-brass]")
    assert read(tmp_path, brass, Change(KNOB, '"sterling"]', '"sterling", "red-brass"]')).warnings == ()


def test_a_keystone_without_anything_wholesale(tmp_path):
    (warning,) = read(tmp_path, Change(CHANNELS, 'audience = "wholesale"', 'audience = "retail"')).warnings
    assert str(warning) == (
        "channels.toml:13:1 ladder.keystone: it has no effect, since no channel is wholesale. "
        'Leave it out, or write audience = "wholesale" on a channel.\n'
        "    13 | keystone = 2.0\n"
        "       | ^"
    )


def test_a_table_for_an_alloy_that_was_taken_along_is_no_slip(tmp_path):
    """The cousin is made in brass only; what it takes along for sterling is the knob's."""
    assert read(tmp_path, Change(LARGE, "scale = 1.25", 'scale = 1.25\nalloys = ["yellow-brass"]')).warnings == ()


@pytest.mark.parametrize(
    "name",
    [
        "metal_prices (conflicted copy 2026-11-26).csv",
        "metal_prices (Maker's conflicted copy).csv",
        "metal_prices.sync-conflict-20261126-101500-ABCDEFG.csv",
        "metal_prices 2.csv",
        "metal_prices (1).csv",
        "metal_prices - Copy.csv",
        "metal_prices-WORKBENCH-PC.csv",
    ],
)
def test_prices_that_another_machine_has_added_to_a_copy_are_told(tmp_path, name):
    """Two machines added a line each: the drive keeps both files, and one of them is read."""
    root = write(tmp_path, changed())
    (root / name).write_bytes((root / "metal_prices.csv").read_bytes() + b"2026-11-26,Ag,50,ozt,USD,elsewhere\n")
    (warning,) = read_folder(root).warnings
    assert warning.headline().startswith(
        f"{name} this looks like a copy of metal_prices.csv that a synced drive has put"
    )


@pytest.mark.parametrize(
    "name", ["metal_prices-2025.csv", "metal_prices-USD.csv", "old workshop.toml", "workshop.toml.txt", "copy.csv"]
)
def test_other_files_of_a_maker_are_none_of_our_business(tmp_path, name):
    root = write(tmp_path, changed())
    (root / name).write_text("")
    assert read_folder(root).warnings == ()


def test_a_product_that_a_synced_drive_has_put_beside_is_told_as_one(tmp_path):
    root = write(tmp_path, changed())
    copy = root / "products" / "acorn-knob.sync-conflict-20261126-101500-ABCDEFG.toml"
    copy.write_bytes((root / KNOB).read_bytes())
    with pytest.raises(Faults, match="One looks like a copy that a synced drive has put beside: compare them"):
        read_folder(root)


@pytest.mark.parametrize(
    ("path", "doubt", "stated"),
    [
        ("labour.bench.rate", "{ low = 25, high = 30 }", "24"),
        ("products.acorn-knob.pieces_per_flask", "{ low = 20, high = 30 }", "18"),
        ("alloys.sterling.density", "{ low = 10.3, high = 10.4 }", None),
        ("labour.bench.rate", "{ low = 25, high = 30, batch = 1 }", None),  # what the log has taught may lie elsewhere
    ],
)
def test_a_figure_that_lies_outside_of_its_doubt(tmp_path, path, doubt, stated):
    """A guess that was measured since: its old range would say that the measured figure cannot be."""
    found = read_folder(write(tmp_path, {**changed(), "doubts.toml": f'"{path}" = {doubt}\n'})).warnings
    told = f"it is stated as {stated}, and here it is doubted from "
    assert [told in str(warning) for warning in found] == ([True] if stated else [])


PRICES = "metal_prices.csv"


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (["2026-11-21,Ag,▶384,ozt,USD,fix"], "price: 384.00 USD per ozt is 10 times the last quote, 38.40 USD per ozt"),
        (["2026-11-21,Ag,▶960000,ozt,USD,fix"], "price: 960,000.00 USD per ozt is 25,000 times the last quote"),
        (["2026-11-21,Ag,▶38.40,g,USD,fix"], "price: 38.40 USD per g is 31.1 times the last quote, 38.40 USD per ozt"),
        (["2026-11-21,▶Agg,38.50,ozt,USD,fix"], 'metal: no alloy is valued by "Agg", and it was never quoted. Did'),
        (
            ["2026-11-21,Ag,38.50,ozt,▶UYU,fix"],
            "currency: Silver (Ag) is told in UYU, of which no exchange rate is known;",
        ),
        (["2026-11-21,Ag,▶38.5,ozt,UYU,fix", "2026-11-21,UYU,0.019,unit,GBP,bank"], "price: 38.50 UYU per ozt is"),
        (["2026-11-21,Ag,1597,ozt,UYU,fix", "2026-11-21,UYU,0.019,unit,GBP,bank"], None),  # 30.34 GBP, 38.40 USD × 0.79
        (["2026-11-21,USD,▶7.55,unit,GBP,bank"], "price: 7.5500 GBP is "),
        (["2026-11-21,Ag,384,ozt,USD,fix", "2026-11-22,Ag,385,ozt,USD,fix"], None),  # confirmed by the next
        (["2026-11-21,Pt,940,ozt,USD,fix"], None),  # kept by a maker who uses none yet
    ],
)
def test_the_newest_price_is_doubted_as_where_it_is_typed(tmp_path, lines, told):
    files = changed()
    files[PRICES] = files[PRICES].rstrip("\n") + "\n" + "\n".join(lines) + "\n"
    found = read_folder(write(tmp_path, files)).warnings
    assert [str(warning).partition(" ")[0] for warning in found] == marks(files, MARK)
    assert all(str(warning).partition(" ")[2].startswith(told) for warning in found) and bool(found) == bool(told)
