"""A workbook that was changed comes back: every figure lands in its file, and the folder then costs what it showed."""

from __future__ import annotations

import difflib
import random
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from pricing.errors import Faults, TroytagError, UsageFault
from pricing.formulas.bounds import bounds_of
from pricing.formulas.columns import columns_of
from pricing.formulas.engine import run
from pricing.formulas.tables import INPUTS
from pricing.workbook.back import writing
from pricing.workbook.back.cells import read_workbook
from pricing.workbook.back.proposal import WANTED, proposal
from pricing.workbook.incoming import propose
from pricing.workbook.sheets import write_workbook
from tests.folders import small_sample
from tests.twin import other_value
from tests.workbook.incoming_workshop import DAY, address, costing_of, retyped
from tests.workbook.workbooks import inputs, plan_of

LATER = date(2026, 11, 24)
FIGURES = ("unit_cost", "fresh_g", "price", "profit")


def state(root: Path) -> dict[str, tuple[bytes, int]]:
    return {
        str(file.relative_to(root)): (file.read_bytes(), file.stat().st_mtime_ns)
        for file in sorted(root.rglob("*"))
        if file.is_file()
    }


def lines_changed(before: dict[str, tuple[bytes, int]], root: Path) -> dict[str, list[str]]:
    """Lines taken out and put in, by file."""
    found = {}
    for file, (content, _) in state(root).items():
        old, new = (text.decode().splitlines() for text in (before.get(file, (b"", 0))[0], content))
        diff = [line for line in difflib.ndiff(old, new) if line[0] in "+-" and line[2:].strip()]
        if diff:
            found[file] = diff
    return found


def test_an_export_that_nobody_changed_writes_nothing(made, root):
    before = state(root)
    found = propose(made[2], root)
    assert (found.changes, found.quotes, dict(found.files), found.notes) == ((), (), {}, ())
    writing.write(found)
    assert state(root) == before


STERLING, BRASS = "sterling", "yellow-brass"
ACORN, LARGE, RING = "products/acorn-knob.toml", "products/large-knob.toml", "products/ring.toml"

#: The cast products, in both alloys.
CAST = [(sku, alloy) for sku in ("acorn-knob", "large-knob") for alloy in (BRASS, STERLING)]
RATE, NEW_RATE = "rate = 24.0   # what Ines asks", "rate = 25.5   # what Ines asks"

#: Cells that were typed over → lines that change, by file.
CASES = {
    "a wage": (
        [("wage", ("bench",), 25.5)], {"workshop.toml": [f"- {RATE}", f"+ {NEW_RATE}"]}),
    "overhead": ([("overhead_per_month", (), 700)], {"workshop.toml": ["- per_month = 640.0", "+ per_month = 700"]}),
    "a share that no file stated": (
        [("unreclaimed_tax", (), 0.2)], {"workshop.toml": ["+ unreclaimed_tax = 0.2"]}),
    "an empty premium": ([("stock_premium", (BRASS,), 0.4)], {"alloys.toml": ["+ stock_premium = 0.4"]}),
    "a premium emptied": (
        [("stock_premium", (STERLING,), None)], {"alloys.toml": ["- stock_premium = 0.09   # sheet"]}),
    "an element": (
        [("mass_fraction", (STERLING, "Ag"), 0.926)],
        {"alloys.toml": ["- composition = { Ag = 0.925, Cu = 0.075 }", "+ composition = { Ag = 0.926, Cu = 0.075 }"]}),
    "a step of one product in one alloy": (
        [("step_minutes", ("acorn-knob", BRASS, "model"), 280), ],
        {ACORN: ["+ [for_alloy.yellow-brass.steps.model]", "+ minutes = 280"],
         LARGE: ["+ [for_alloy.yellow-brass.steps.model]", "+ minutes = 300"]}),
    "a step of one product in all its alloys": (
        [("step_minutes", ("large-knob", each, "model"), 90) for each in (BRASS, STERLING)],
        {LARGE: ["+ [steps.model]", "+ minutes = 90"]}),
    "a figure that a cousin has from another product": (
        [("step_minutes", ("large-knob", each, "darken"), 7) for each in (BRASS, STERLING)],
        {LARGE: ["+ [steps.darken]", "+ minutes = 7"]}),
    "a figure of its own that its cousin takes too": (
        [("step_minutes", (*each, "darken"), 6) for each in CAST],
        {ACORN: ["- minutes = 5       # the stalk is fiddly", "+ minutes = 6       # the stalk is fiddly"]}),
    "a figure of its own in one alloy": (
        [("good", (sku, STERLING, "pour"), 0.9) for sku in ("acorn-knob", "large-knob")],
        {ACORN: ["- good = 0.95", "+ good = 0.9"]}),
    "a step of every product that has it": (
        [("machine_minutes", (*each, "burn out"), 420) for each in CAST],
        {"processes.toml": ["- machine_minutes = 480", "+ machine_minutes = 420"]}),
    "a step of a process that one product has": (
        [("step_minutes", ("ring", STERLING, "pierce"), 8)], {"processes.toml": ["- minutes = 9", "+ minutes = 8"]}),
    "what a step uses": (
        [("per_cm2", ("large-knob", each, "darken"), 0.04) for each in (BRASS, STERLING)],
        {LARGE: ["+ [steps.darken]", '+ uses = [{ material = "patina", per_cm2 = 0.04 }]']}),
    "a sprue ratio in one alloy": (
        [("sprue_ratio", ("large-knob", STERLING), 0.5)], {LARGE: ["+ [for_alloy.sterling]", "+ sprue_ratio = 0.5"]}),
    "a scale": (
        [("scale", ("large-knob", each), 1.3) for each in (BRASS, STERLING)],
        {LARGE: ["- scale = 1.25", "+ scale = 1.3"]}),
    "a casting": (
        [("casting_count", ("ring", "leaf"), 4)],
        {RING: ['-     { name = "leaf", count = 3, metal_g = 0.8, in_alloy = "sterling", weighed = "finished" },',
                '+     { name = "leaf", count = 4, metal_g = 0.8, in_alloy = "sterling", weighed = "finished" },']}),
    "a finding of a cousin": (
        [("finding_price", ("large-knob", each, "M4 stud"), 0.15) for each in (BRASS, STERLING)],
        {LARGE: ['+ findings = [{ name = "M4 stud", quantity = 2, price = 0.15 }]']}),
    "a tax": (
        [("tax_rate", ("shop",), 0.21)],
        {"channels.toml": ["- tax = { rate = 0.2, included = true }", "+ tax = { rate = 0.21, included = true }"]}),
    "a fee without a cap": (
        [("fee_max", ("shop", "card"), None)],
        {"channels.toml": ['- fees = [{ name = "card", rate = 0.015, min = 0.2, max = 2.0 }]',
                           '+ fees = [{ name = "card", rate = 0.015, min = 0.2 }]']}),
    "a fee on postage too": (
        [("fee_of_order", ("shop", "card"), 1)],
        {"channels.toml": ['- fees = [{ name = "card", rate = 0.015, min = 0.2, max = 2.0 }]',
                           '+ fees = [{ name = "card", rate = 0.015, min = 0.2, max = 2.0, of = "order" }]']}),
    "a step of rounding": (
        [("applies_below", ("shop", "step 1"), 25)],
        {"channels.toml": ["- rounding = { step = 1.0, steps_by_price = [{ below = 20, step = 0.5 }] }",
                           "+ rounding = { step = 1.0, steps_by_price = [{ below = 25, step = 0.5 }] }"]}),
    "a policy of one product": (
        [("asked_margin", (*each, "shop"), 0.35) for each in CAST],
        {ACORN: ["- policy = { margin = 0.3 }", "+ policy = { margin = 0.35 }"]}),
    "a policy of all": (
        [("unit_multiple", (*each, "club"), 2.5) for each in (*CAST, ("ring", STERLING))],
        {"channels.toml": ["- policy = { multiple = 2.2 }", "+ policy = { multiple = 2.5 }"]}),
    "a price of its own": (
        [("work_multiple", ("ring", STERLING, "trade"), 2.1)],
        {RING: ["+ [in_channel.trade]", "+ policy = { metal_multiple = 1.3, work_multiple = 2.1 }"]}),
    "a price that stands": (
        [("fixed_price", ("ring", "fair"), 52)], {RING: ["- policy = { fixed = 48.0 }", "+ policy = { fixed = 52 }"]}),
    "not sold there": (
        [("sold", ("ring", "gift"), 0)], {RING: ['+ sold_in = ["shop", "trade", "fair", "web", "club"]']}),
    "no ladder": ([("has_ladder", (), 0)], {"channels.toml": ["- [ladder]", "- keystone = 2.0"]}),
    "silver": (
        [("quote_price", ("Ag",), 39.2)],
        {"metal_prices.csv": ["+ 2026-11-24,Ag,39.2,ozt,USD,typed into a workbook"]}),
    "a dollar": (
        [("exchange_rate", ("USD",), 0.8)],
        {"metal_prices.csv": ["+ 2026-11-24,USD,0.8,unit,GBP,typed into a workbook"]}),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_what_was_typed_lands_in_its_file_at_its_line(made, root, case):
    typed, expected = case
    cells = {address(made[1], name, *words): value for name, words, value in typed}
    assert len(cells) == len(typed)
    before = state(root)
    writing.write(proposal(retyped(made[3], cells), root, LATER))
    assert lines_changed(before, root) == expected


def whole_rows(costing, name: str):
    """Editable cells of an input that must be changed together: of one part in all alloys; else the first one."""
    found = [(position, row) for _, each, position, row, editable in inputs(costing) if each == name and editable]
    if not found:
        return []
    first = found[0][1]
    table = INPUTS[name].table
    if table in ("casting", "finding") or name == "scale":
        variants = costing.computed.resolved.variants
        sku = variants[first.index[0]].sku
        return [
            (position, row) for position, row in found
            if variants[row.index[0]].sku == sku and row.index[1:] == first.index[1:]
        ]  # fmt: skip
    return found[:1]


def another(name: str, value):
    """Another value that the folder takes."""
    if name == "mass_fraction":
        return value + 0.0005
    bounds = bounds_of(name)
    if bounds is not None and bounds.whole:
        return value + 1
    other = other_value(INPUTS[name], value, random.Random(name))
    return other if bounds is None or bounds.high is None or other < bounds.high else round(value * 0.93, 6)


#: Shown inputs of which no cell of this workshop may be changed, or that no file holds.
UNCHANGED = {"run_sets", "design_charged", "is_priced", "is_own"}  # with no own hour, nothing could be earned in one
SHOWN = sorted({name for name, known in INPUTS.items() if not known.stated} - UNCHANGED)


@pytest.mark.parametrize("name", SHOWN)
def test_the_folder_then_costs_what_the_workbook_showed(made, root, name):
    _, costing, _, incoming = made
    rows = whole_rows(costing, name)
    if not rows:
        editable = {each for _, each, _, _, may in inputs(costing) if may}
        assert name not in editable
        return
    column = plan_of(costing).layout[name]
    columns = columns_of(costing.computed.resolved)
    changed = {key: values.copy() for key, values in columns.inputs.items()}
    cells = {}
    value = another(name, getattr(rows[0][1].row, name))
    for position, row in rows:
        changed[name][row.index] = value
        if INPUTS[name].optional:
            changed[f"{name}_stated"][row.index] = True
        cells[column.sheet, column.cell(position)] = int(value) if INPUTS[name].is_switch else value
    on = DAY if INPUTS[name].table in ("metal", "currency") else LATER
    found = proposal(retyped(incoming, cells), root, on)
    assert found.files
    writing.write(found)
    found_there = run(replace(columns, inputs=changed), costing.computed.graph)
    after = costing_of(root).computed
    expected = {name: costing.computed.shown(name, found_there[name]) for name in FIGURES}
    sold = after["sold"].astype(bool)
    for figure in FIGURES:
        mask = sold if expected[figure].ndim == 2 else slice(None)
        np.testing.assert_allclose(after[figure][mask], expected[figure][mask], rtol=1e-11, err_msg=figure)


def test_an_element_without_value_is_not_paid_for_either(made, root):
    priced, paid = (address(made[1], name, STERLING, "Ag") for name in ("is_priced", "pays_as_scrap"))
    with pytest.raises(Faults, match="pays_as_scrap: the folder would say 0 .* the workbook says 1"):
        proposal(retyped(made[3], {priced: 0}), root)
    before = state(root)
    writing.write(proposal(retyped(made[3], {priced: 0, paid: 0}), root))
    assert lines_changed(before, root) == {
        "alloys.toml": ['- unpriced = ["Cu"]', '+ unpriced = ["Ag", "Cu"]', "+ scrap_pays = []"]
    }


def test_a_volume_typed_over_a_mesh_takes_its_place(tmp_path):
    """The surface that was measured stays, so that only the volume changes."""
    book, root = tmp_path / "sample.xlsx", small_sample(tmp_path / "sample", few=("thimble",))
    sample = costing_of(root)
    write_workbook(sample, book)
    incoming = read_workbook(book, WANTED)
    assert dict(proposal(incoming, root).files) == {}
    alloys = sample.folder.stated.products["thimble"].alloys
    cells = {address(sample, "volume_cm3", "thimble", alloy): 0.5 for alloy in alloys}
    found = proposal(retyped(incoming, cells), root)
    (row,) = {variant.castings for variant in sample.computed.resolved.variants if variant.sku == "thimble"}
    assert {change.path[2]: change.new for change in found.changes} == {
        "mesh": None, "volume_cm3": 0.5, "area_cm2": row[0].area_cm2,
    }  # fmt: skip


def test_a_cell_typed_in_a_real_file(made, root, tmp_path, monkeypatch, capsys):
    """A library that keeps formulas and writes 16 digits types into the file; the command shows, then writes."""
    import sys

    import openpyxl

    from pricing.cli.main import main

    book = openpyxl.load_workbook(made[2])
    sheet, at = address(made[1], "step_minutes", "large-knob", STERLING, "darken")
    book[sheet][at] = 4.5
    silver, price = address(made[1], "quote_price", "Ag")
    book[silver][price] = 39
    path = tmp_path / "typed.xlsx"
    book.save(path)
    before = state(root)
    monkeypatch.setattr(sys, "argv", ["troytag", "import", str(path), "--into", str(root), "--as-of", "2026-11-24"])
    main_ends(main)
    out, err = capsys.readouterr()
    assert "products/large-knob.toml  for_alloy.sterling.steps.darken.minutes  5 -> 4.5\n" in out
    assert "metal_prices.csv  Silver (Ag)  38.4 -> 39 USD/ozt\n" in out and "dated 2026-11-24" in out
    assert "Nothing is written yet" in err and state(root) == before
    monkeypatch.setattr(sys, "argv", [*sys.argv, "--write"])
    main_ends(main)
    assert lines_changed(before, root) == {
        LARGE: ["+ [for_alloy.sterling.steps.darken]", "+ minutes = 4.5"],
        "metal_prices.csv": ["+ 2026-11-24,Ag,39,ozt,USD,typed into a workbook"],
    }
    capsys.readouterr()
    main_ends(main)  # once more: the folder says all of it already
    assert capsys.readouterr().out == "nothing has changed\n"


def main_ends(main) -> None:
    try:
        main()
    except SystemExit as end:
        assert not end.code


def test_a_workbook_that_libreoffice_saved_comes_back(office, made, root, tmp_path):
    """It writes every cell anew, texts into a part of their own, and numbers with 15 digits."""
    with office.open(made[2]) as book:
        saved = book.save_as(tmp_path / "saved.xlsx", "xlsx")
    whole = propose(saved, root)
    assert dict(whole.files) == {} and not any("full_pi" in note for note in whole.notes)
    products = sorted((root / "products").glob("*.toml"))
    for file in products:  # the folder goes on meanwhile: what nobody typed in the sheet stays as it is now
        file.write_text(re.sub(r"volume_cm3 = ([0-9.]+)", r"volume_cm3 = \g<1>7", file.read_text()))
    newer = state(root)
    assert dict(propose(saved, root).files) == {} and state(root) == newer
    for file in products:
        file.write_text(re.sub(r"volume_cm3 = ([0-9.]+)7", r"volume_cm3 = \g<1>", file.read_text()))
    with office.open(made[2]) as book:
        book.set({address(made[1], "step_minutes", "ring", STERLING, "pierce"): 8.25})
        book.recalculate()
        typed = book.save_as(tmp_path / "typed.xlsx", "xlsx")
    before = state(root)
    writing.write(propose(typed, root))
    assert lines_changed(before, root) == {"processes.toml": ["- minutes = 9", "+ minutes = 8.25"]}


def test_bad_cells_are_told_all_at_once_with_their_address(made, root):
    wage, good = address(made[1], "wage", "bench"), address(made[1], "good", "ring", "pierce")
    count, sold = address(made[1], "casting_count", "ring", "band"), address(made[1], "sold", "ring", "shop")
    before = state(root)
    with pytest.raises(Faults) as refused:
        proposal(retyped(made[3], {wage: "24,50", good: 97, count: 1.5, sold: "yes"}), root)
    told = {str(fault.place): (fault.problem, fault.mend) for fault in refused.value.faults}
    assert told == {
        "!".join(wage): ('the text "24,50" stands where a number belongs', "Type 24.50."),
        "!".join(good): ("97 is out of bounds", "Type a number above 0 to 1. 97 % is 0.97."),
        "!".join(count): ("1.5 is out of bounds", "Type a whole number from 1 to 10000."),
        "!".join(sold): ('the text "yes" stands where 1 or 0 belongs', "Type 1 for yes, 0 for no."),
    }
    assert state(root) == before


def test_a_part_changed_in_one_alloy_only_is_told(made, root):
    at = address(made[1], "casting_count", "acorn-knob", BRASS)
    with pytest.raises(Faults, match="same in every alloy.*Type it in sterling too"):
        proposal(retyped(made[3], {at: 3}), root)


def test_a_fault_of_the_whole_is_told_at_its_cell(made, root):
    at = address(made[1], "mass_fraction", STERLING, "Ag")
    with pytest.raises(Faults) as refused:
        proposal(retyped(made[3], {at: 0.9}), root)
    told = {str(fault.place): fault.problem for fault in refused.value.faults}
    assert "0.975" in told["!".join(at)], told  # 0.9 + 0.075


def test_an_old_export_works_after_a_product_was_added(made, root):
    (root / "products" / "a-pin.toml").write_text(
        'sku = "a-pin"\nname = "Pin"\nlike = "ring"\n[steps.pierce]\nminutes = 3\n', encoding="utf-8"
    )
    at = address(made[1], "step_minutes", "ring", STERLING, "pierce")
    found = proposal(retyped(made[3], {at: 8}), root)
    # The pin has minutes of its own, but the process has another product now: only the ring changes.
    assert [(change.file, change.path, change.new) for change in found.changes] == [
        (RING, ("steps", "pierce", "minutes"), 8)
    ]


def test_a_row_that_the_folder_has_no_longer_is_named(made, root):
    (root / "products" / "ring.toml").unlink()
    at = address(made[1], "step_minutes", "ring", STERLING, "pierce")
    with pytest.raises(Faults, match='Steps!A.* the folder has no sku "ring"'):
        proposal(retyped(made[3], {at: 8}), root)
    # An unchanged column says nothing of the row that is gone.
    wage = address(made[1], "wage", "bench")
    assert [change.new for change in proposal(retyped(made[3], {wage: 25}), root).changes] == [25]


def test_what_the_folder_changed_meanwhile_is_not_turned_back(made, root):
    file = root / "workshop.toml"
    file.write_text(file.read_text().replace("per_month = 640.0", "per_month = 700"))
    wage = address(made[1], "wage", "bench")
    found = proposal(retyped(made[3], {wage: 25}), root)
    assert [(change.path, change.new) for change in found.changes] == [(("labour", "bench", "rate"), 25)]
    assert any("changed since this export" in note for note in found.notes)


def test_somebody_elses_change_between_showing_and_writing_is_not_lost(made, root):
    at = address(made[1], "wage", "bench")
    found = proposal(retyped(made[3], {at: 25}), root)
    file = root / "workshop.toml"
    file.write_text(file.read_text().replace("per_month = 640.0", "per_month = 700"))
    before = state(root)
    with pytest.raises(Faults, match="changed since it was read"):
        writing.write(found)
    assert state(root) == before


def test_a_workbook_in_another_currency_is_refused(made, root):
    says = {**made[3].says, "troytag currency": "EUR"}
    with pytest.raises(UsageFault, match="counts in EUR, and the folder in GBP"):
        proposal(replace(made[3], says=says), root)


def test_a_price_of_a_day_with_a_newer_quote_says_that_it_does_not_stay(made, root):
    with (root / "metal_prices.csv").open("a") as history:
        history.write("2026-11-23,Ag,40.00,ozt,USD,morning fix\n")
    at = address(made[1], "quote_price", "Ag")
    found = proposal(retyped(made[3], {at: 39}), root, date(2026, 11, 21))
    assert [str(each.quote.date) for each in found.quotes] == ["2026-11-21"]
    assert found.notes == ("The price of Ag of 2026-11-23 is newer and stays in force from that day on",)


def test_a_price_that_looks_like_a_slip_is_told_before_it_is_written(made, root):
    at = address(made[1], "quote_price", "Ag")
    before = made[1].computed.resolved.metals
    silver = next(metal.quote_price for metal in before if metal.name == "Ag")
    (note,) = proposal(retyped(made[3], {at: 10 * silver}), root).notes
    assert note.startswith(f"Ag: {10 * silver:g} USD per ozt is 10 times the last quote, ")
    assert proposal(retyped(made[3], {at: 2 * silver}), root).notes == ()


def test_a_file_of_another_kind_is_told(root, tmp_path):
    import openpyxl

    openpyxl.Workbook().save(tmp_path / "other.xlsx")
    with pytest.raises(TroytagError, match="neither a sheet Inputs nor a sheet Products"):
        propose(tmp_path / "other.xlsx", root)
