"""The engine: what does not matter (blocks, company, order), and what the places hold that are not filled."""

from __future__ import annotations

import math
import shutil
import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas import engine
from pricing.formulas.columns import KEYED
from pricing.formulas.engine import Computed, compute
from pricing.formulas.graph import build, cost_model_functions
from pricing.formulas.rerun import at_one_price
from pricing.formulas.tables import CHILDREN, ROW_OF, TABLES
from pricing.model.rows import ROWS
from pricing.records import variant_records
from tests.exact.compare import differences
from tests.exact.workshop_writer import toml_text
from tests.folders import alder_wharf

TIN_LANE = Path(__file__).parents[1] / "exact" / "tin_lane"
DAY = date(2026, 11, 20)
NOT_HERE = {"link", "part", "size", "postage_tier"}  # what this workshop has none of
WHOLE = asked_for(DAY, run=25, charge_design=True)  # of a run, so that whole flasks and loads are computed too


@pytest.fixture(scope="module")
def computed() -> Computed:
    return cost(TIN_LANE, WHOLE).computed


def all_columns(computed: Computed) -> list[str]:
    return [*computed.graph.inputs, *computed.graph.quantities]


# ---- blocks


@pytest.mark.parametrize("block_rows", [1, 24, 36, 48])
def test_the_size_of_a_block_changes_no_bit(computed, block_rows):
    """Seven variants of up to twelve steps: blocks of one, two, three (the last holds one) and four variants."""
    blocks = compute(computed.resolved, block_rows=block_rows)
    for name in all_columns(computed):
        np.testing.assert_array_equal(blocks[name], computed[name], err_msg=name)


def test_only_what_is_wanted_is_kept(computed):
    wanted = compute(computed.resolved, wanted=("unit_cost", "price", "density"))
    assert set(wanted.values) == {"unit_cost", "price", "density"}
    np.testing.assert_array_equal(wanted["unit_cost"], computed["unit_cost"])


def runs_of(
    monkeypatch, resolved, block_rows: int
) -> tuple[dict[str, int], list[tuple[set[str], list[slice], set[str]]]]:
    """The sizes of the axes, and each turn of the engine: the quantities, the blocks, the columns of other variants."""
    runs, run_stage = [], engine._run_stage

    def watched(stage, blocks, values, keys, sizes, kept, across, shared):
        runs.append(({plan.name for plan in stage}, blocks, across))
        run_stage(stage, blocks, values, keys, sizes, kept, across, shared=shared)

    monkeypatch.setattr(engine, "_run_stage", watched)
    return dict(compute(resolved, block_rows=block_rows).columns.sizes), runs


@pytest.mark.parametrize("block_rows", [0, 1, 30, 10**6])
def test_a_block_holds_so_many_rows_of_steps(monkeypatch, computed, block_rows):
    """One block follows the other, the idle row closes the last; only a single variant may have more steps than fit."""
    sizes, [(_, blocks, _)] = runs_of(monkeypatch, computed.resolved, block_rows)
    rows = [row for cut in blocks for row in range(cut.start, cut.stop)]
    assert rows == list(range(sizes["variant"] + 1))
    fit = max(1, block_rows // sizes["step"])
    assert {cut.stop - cut.start for cut in blocks[:-1]} <= {fit} and blocks[-1].stop - blocks[-1].start <= fit
    assert len(blocks) == -(-(sizes["variant"] + 1) // fit)


def test_without_any_step_a_row_counts_as_one(monkeypatch, computed):
    bare = [variant.model_copy(update={"steps": ()}) for variant in computed.resolved.variants]
    sizes, [(_, blocks, _)] = runs_of(monkeypatch, computed.resolved.model_copy(update={"variants": tuple(bare)}), 3)
    assert sizes["step"] == 0 and blocks == [slice(0, 3), slice(3, 6), slice(6, 8)]  # seven variants and the idle row


def test_only_what_is_made_of_other_pieces_takes_two_turns(monkeypatch, computed):
    _, [(all_of_them, _, across)] = runs_of(monkeypatch, computed.resolved, 10**6)
    assert across == set()
    _, [first, second] = runs_of(monkeypatch, cost(alder_wharf(), WHOLE).computed.resolved, 10**6)
    assert first[0] | second[0] == all_of_them and not first[0] & second[0]
    assert first[2] == set() and second[2] and second[2] <= first[0]  # what is looked up of others is there by then


# ---- one price for all sizes


def test_without_sizes_every_price_is_its_own(computed):
    assert at_one_price(computed) is computed.values


def test_sizes_of_one_price_stand_at_it_and_parts_at_their_own():
    """Profit is what comes in less what it costs, and a margin the share of it: profit / price before tax."""
    sized = cost(alder_wharf(), WHOLE).computed
    rows = {variant.called: row for row, variant in enumerate(sized.resolved.variants)}
    same = at_one_price(sized)
    assert any(hidden.links for hidden in sized.resolved.hidden)
    for row, hidden in enumerate(sized.resolved.hidden, len(rows)):
        expected = sized.values["price"][row if hidden.links else rows[hidden.of]]
        np.testing.assert_array_equal(same["price"][row], expected)
    shown = slice(len(rows))
    np.testing.assert_array_equal(same["price"][shown], sized.values["price"][shown])
    np.testing.assert_array_equal(same["unit_cost"], sized.values["unit_cost"])
    profit = same["net_receipts"] - same["unit_cost"][:, None]
    np.testing.assert_allclose(same["profit"], profit, rtol=1e-12, atol=1e-12)
    assert (
        np.nanmax(np.abs(same["profit"] - sized.values["profit"])) > 0.01
    )  # sizes cost more and less than the one shown
    np.testing.assert_array_equal(at_one_price(sized, ["margin"])["margin"], same["margin"])


# ---- company


#: These look at the other channels, ladder or not.
LOOK_AT_OTHERS = frozenset({"highest_wholesale", "highest_retail", "keystone_price", "keystone_step"})


def same_where_filled(
    alone: Computed, together: Computed, row: dict[str, int], but_for: frozenset[str] = frozenset()
) -> None:
    """Every column of `alone`, at all its places, is what `together` holds where axis `row` has that place."""
    for name in set(all_columns(together)) - but_for:
        axes = TABLES[together.graph.table_of(name)].axes
        mine, all_of_them = alone[name], together[name]
        places = tuple(
            slice(row[axis], row[axis] + 1) if axis in row else slice(size)
            for axis, size in zip(axes, mine.shape, strict=True)
        )
        np.testing.assert_allclose(mine, all_of_them[places], rtol=1e-13, atol=1e-13, err_msg=name)


def test_all_variants_at_once_are_one_at_a_time(computed):
    resolved = computed.resolved
    for place, variant in enumerate(resolved.variants):
        alone = compute(resolved.model_copy(update={"variants": (variant,)}))
        assert alone["times"].shape == (1, len(variant.steps))
        same_where_filled(alone, computed, {"variant": place})


def test_all_channels_at_once_are_one_at_a_time(computed):
    """But for the ladder, on which channels stand together."""
    ladderless = computed.resolved.workshop.model_copy(update={"has_ladder": False, "keystone": 0.0})
    resolved = computed.resolved.model_copy(update={"workshop": ladderless})
    together = compute(resolved)
    for place, channel in enumerate(resolved.channels):
        variants = tuple(
            variant.model_copy(update={"prices": (variant.prices[place],)}) for variant in resolved.variants
        )
        alone = compute(resolved.model_copy(update={"channels": (channel,), "variants": variants}))
        assert alone["fee_slope"].shape == (1, len(channel.fees))
        same_where_filled(alone, together, {"channel": place}, but_for=LOOK_AT_OTHERS)


# ---- order


def turned(value, path: tuple[str, ...] = ()):
    """The same tables the other way round, at every depth, save for lists whose order means something."""
    if isinstance(value, dict):
        return {key: turned(inner, (*path, key)) for key, inner in reversed(value.items())}
    if isinstance(value, list):
        inner = [turned(each, path) for each in value]
        return inner if path[0] == "processes" and path[-1] != "uses" or path[-1] == "steps_by_price" else inner[::-1]
    return value


def test_order_changes_nothing(tmp_path):
    """Of products, elements, fees, uses, findings, castings, alloys, channels and every table of the workshop."""
    straight, reverse = tmp_path / "straight", tmp_path / "reverse"
    shutil.copytree(TIN_LANE, straight)
    second_use = 'uses = [{ material = "resin", per_cm3 = 1.31 }, { material = "wax", quantity = 0.7 }]'
    processes = (straight / "processes.toml").read_text(encoding="utf-8")
    assert processes.count('uses = [{ material = "resin", per_cm3 = 1.31 }]') == 1
    (straight / "processes.toml").write_text(
        processes.replace('uses = [{ material = "resin", per_cm3 = 1.31 }]', second_use), encoding="utf-8"
    )
    shutil.copytree(straight, reverse)
    products = sorted((reverse / "products").glob("*.toml"))
    for file in [*reverse.glob("*.toml"), *products]:
        tables = tomllib.loads(file.read_text(encoding="utf-8"), parse_float=Decimal)
        text = toml_text(turned(tables))
        assert text != toml_text(tables)
        file.write_text(text, encoding="utf-8")
    for place, file in enumerate(reversed(products)):  # products come in the order of their files' names
        file.rename(file.with_name(f"{place}-{file.name}"))
    as_written, other_way = (cost(root, WHOLE).computed for root in (straight, reverse))
    names = [[row.sku for row in computed.resolved.variants] for computed in (as_written, other_way)]
    assert names[0] == names[1][::-1]
    assert differences(variant_records(other_way), variant_records(as_written), relative=1e-13) == []


# ---- places that are not filled


def test_every_nested_table_has_places_that_are_not_filled(computed):
    """So that the tests here and above speak of them: a table's box is as wide as its widest row."""
    resolved = computed.resolved
    parents = {"alloy": resolved.alloys, "variant": resolved.variants, "channel": resolved.channels}
    parents["step"] = [step for variant in resolved.variants for step in variant.steps]
    for table, (above, attribute) in CHILDREN.items():
        counts = {len(getattr(row, attribute)) for row in parents[above]}
        assert table == "price" or len(counts) > 1 or (counts == {0} and table in NOT_HERE), table


def test_what_is_taken_together_holds_no_nan(computed):
    """Neither in places that are not filled nor in the idle row at the end: one NaN would spoil the whole sum."""
    taken = {
        need.column
        for quantity in computed.graph.quantities.values()
        for need in quantity.needs
        if need.path.extra or quantity.name in ("starts", "mass_in")  # these run along the steps
    }
    assert len(taken) > 40
    for name in taken:
        assert np.isfinite(computed.values[name]).all(), name


def test_an_open_key_leads_to_what_the_sheet_assumes(computed):
    """The cells reader writes the idle value of an input, and 0 for a quantity, where a key is open."""
    followed = [
        (need.column, key)
        for quantity in computed.graph.quantities.values()
        for need in quantity.needs
        for key in need.path.keys
    ]
    assert len(followed) > 15
    for name, (table, key) in followed:
        assert TABLES[table].keys[key] in KEYED
        if not ROW_OF[table].inputs[key].optional:
            continue  # never open in a row that is there
        known = computed.graph.inputs.get(name)
        idle = computed.values[name][-1]
        assert np.all(idle == (known.idle if known else 0)), name


def test_no_open_key_leads_to_whether_something_is_stated(computed):
    """A sheet tells it by an empty cell, and an open key leads to none."""
    open_keys = {
        (row.table, key)
        for row in ROWS
        for key in TABLES[row.table].keys
        if type(None) in getattr(row.model_fields[key].annotation, "__args__", ())
    }
    assert ("step", "machine") in open_keys and ("variant", "alloy") not in open_keys
    for quantity in computed.graph.quantities.values():
        for need in quantity.needs:
            known = computed.graph.inputs.get(need.column)
            assert not (known and known.stated and open_keys & set(need.path.keys)), quantity.name


# ---- the way along two keys, which a quantity of one's own may take


def rate_of_content(exchange_rate) -> "content":
    """What the currency is worth that an element of an alloy is quoted in.

    Unit: cur/quoted
    Why: shows the way from content to metal to currency.
    """
    return exchange_rate


def test_a_quantity_may_be_fetched_along_two_keys():
    costing = cost(alder_wharf(), asked_for(DAY))
    resolved = costing.computed.resolved
    computed = compute(resolved, build([*cost_model_functions(), rate_of_content]), wanted=["rate_of_content"])
    rates = {each.name: each.exchange_rate for each in resolved.currencies}
    metals = {metal.name: metal for metal in resolved.metals}
    found = computed["rate_of_content"]
    quoted = set()
    for row, alloy in enumerate(resolved.alloys):
        for place, content in enumerate(alloy.contents):
            if content.metal:
                currency = metals[content.metal].currency
                quoted.add(currency)
                assert found[row, place] == rates[currency]
    assert len(quoted) > 1, "the workshop has metals quoted in one currency only"


def half_turn() -> "variant":
    """Half a turn, the same for all.

    Unit: 1
    Why: shows a quantity that needs nothing.
    """
    return full_pi


@pytest.mark.parametrize("block_rows", [1, 10**6])
def test_a_quantity_may_need_nothing_and_then_stands_in_every_row(computed, block_rows):
    whole = build([*cost_model_functions(), half_turn])
    found = compute(computed.resolved, whole, wanted=["half_turn"], block_rows=block_rows)["half_turn"]
    assert found.tolist() == [math.pi] * 7


def test_where_a_key_is_open_the_one_followed_counts_as_nothing():
    followed = engine._followed(np.array([[5.0, 7.0], [3.0, 4.0]]), np.array([[1, -1], [0, 0]]))
    assert followed.tolist() == [[7, 0], [3, 3]]


def test_what_is_computed_says_how_much_it_is(computed):
    assert repr(computed) == f"<{len(computed.graph.quantities)} quantities of 7 variants>"
