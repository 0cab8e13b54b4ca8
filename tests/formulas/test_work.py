"""Show the work: the numbers put in really give the result, at every place of the Tin Lane folder."""

from __future__ import annotations

import ast
import inspect
import math
from datetime import date
from pathlib import Path
from random import Random

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas.numpy_words import NUMPY_WORDS
from pricing.formulas.work import Worker, result_words, shown_number
from pricing.words import CONSTANTS, WORDS, bind
from tests.folders import alder_wharf

TIN_LANE = Path(__file__).parents[1] / "exact" / "tin_lane"
#: Rows of the folder, in the order in which it is read.
SILVER, GOLD, BRASS = range(3)
HARBOUR_BRASS, _, STUDS_SILVER, STUDS_GOLD, _, PIN_SMALL, PIN = range(7)
GALLERY, STALL, ONLINE = range(3)
BENCH, FINISHER = range(2)


@pytest.fixture(scope="module")
def worker() -> Worker:
    """Of a run of 25, so that whole flasks and loads are shown as well."""
    return Worker(cost(TIN_LANE, asked_for(date(2026, 11, 20), run=25)).computed)


# ---- the text, reckoned again


class AsColumns(ast.NodeTransformer):
    """Lists become numpy columns; with `rough`, what is taken away is added, to see how large the operands are."""

    def __init__(self, rough: bool = False):
        self.rough = rough

    def visit_List(self, node: ast.List) -> ast.Call:
        return ast.Call(ast.Name("column", ast.Load()), [node], [])

    def visit_BinOp(self, node: ast.BinOp) -> ast.BinOp:
        self.generic_visit(node)
        return ast.BinOp(node.left, ast.Add(), node.right) if self.rough and isinstance(node.op, ast.Sub) else node


def reckoned(text: str, rough: bool = False) -> float:
    """What a line of numbers comes to, with the engine's words."""
    tree = ast.fix_missing_locations(AsColumns(rough).visit(ast.parse(text, mode="eval")))
    scope = {**NUMPY_WORDS, "yes": True, "no": False, "column": lambda numbers: np.array(numbers, dtype=float)}
    with np.errstate(all="ignore"):
        return float(np.ravel(eval(compile(tree, text, "eval"), scope))[0])  # noqa: S307


def test_the_numbers_give_the_result(worker):
    """Numbers are shown with six digits, so each operand is off by 5e-6 of itself at most, and differences by more."""
    seen, off = 0, []
    for name, quantity in worker.graph.quantities.items():
        for row in worker.rows[quantity.table]:
            work = worker.work(name, row.index)
            within = 1e-5 * max(abs(work.result), min(abs(reckoned(work.numbers, rough=True)), 1e12)) + 1e-12
            seen += 1
            if not abs(reckoned(work.numbers) - work.result) <= within:
                off.append(f"{name} {row.index}: {work.numbers} is not {work.result}")
    assert off == []
    assert seen > 2000


def test_the_symbols_are_the_formula_with_helpers_spelled_out(worker):
    """Reckoned on random columns, the line of symbols does what the function itself does, helpers and all."""
    for name, quantity in worker.graph.quantities.items():
        if not worker.rows[quantity.table]:
            continue  # there are no sizes and no parts here
        work = worker.work(name, worker.rows[quantity.table][0].index)
        is_whole = len(work.needs) == len(quantity.needs)  # else a sum over no rows is left out
        symbols = work.symbols if is_whole else quantity.formula
        parameters = tuple(inspect.signature(quantity.function).parameters)
        names = {node.id for node in ast.walk(ast.parse(symbols)) if isinstance(node, ast.Name)}
        assert set(parameters) <= names <= {*parameters, *WORDS, *CONSTANTS}, name
        random = Random(name)
        columns = {each: np.array([random.uniform(0.5, 3) for _ in range(3)]) for each in parameters}
        with np.errstate(all="ignore"):
            expected = bind(quantity.function, NUMPY_WORDS)(*columns.values())
            found = eval(symbols, {**NUMPY_WORDS, **columns})  # noqa: S307
        np.testing.assert_array_equal(found, expected, err_msg=name)


# ---- a few examples in whole


@pytest.mark.parametrize(
    ("name", "index", "place", "symbols", "numbers", "result", "words"),
    [
        (
            "labour_rate", (BENCH,), "bench", "wage * (1 + on_cost)", "21.35 * (1 + 0.137)",
            21.35 * 1.137, "24.275 EUR/h",  # 24.27495
        ),
        (
            "overhead_rate", (), "", "overhead_per_month / productive_hours", "713.5 / 96.5",
            713.5 / 96.5, "7.39378 EUR/h",  # 7.393782…
        ),
        (
            "machine_rate", (1,), "kiln",
            "(purchase - residual) / life_hours + maintenance_per_hour + power_kw * duty * price_per_kwh",
            "(1799 - 150) / 5200 + 0.07 + 2.85 * 0.41 * 0.317",
            1649 / 5200 + 0.07 + 0.3704145, "0.75753 EUR/h",  # 0.3171154 + 0.07 + 0.3704145 = 0.7575299
        ),
        (
            # Au 4012.4 × 0.8641 / 31.1034768 × 0.585 = 65.2101; Ag 49.385 × 0.8641 / 31.1034768 × 0.2 = 0.274397
            "melt_value_per_g", (GOLD,), "gold-14k", "total(where(is_priced, content_value_per_g, 0))",
            "total(where([yes, yes, no, no], [65.2101, 0.274397, 0, 0], 0))",
            (4012.4 * 0.585 + 49.385 * 0.2) * 0.8641 / 31.1034768, "65.4845 EUR/g",
        ),
        (
            # 410 minutes once for the 40 sets that the design will sell
            "step_labour_hours", (HARBOUR_BRASS, 0), "model",
            "(times * step_minutes + units * rework * rework_minutes) / minutes_per_hour"
            " * where(is_piece, mean_effort, 1)",
            "(0.025 * 410 + 0.025 * 0 * 0) / 60 * where(no, 1, 1)",
            410 / 40 / 60, "0.170833 h",
        ),
        (
            # the gallery's price of the pin in expected_run_25.json; stall and online are retail
            "highest_wholesale", (PIN, STALL), "stall", "largest(other_wholesale_ex_tax_price)",
            "largest([28, 0, 0])", 28.0, "28 EUR",
        ),
        (
            "stated_cm3", (HARBOUR_BRASS, 1), "buoy",
            "where(volume_cm3_stated, volume_cm3, where(model_g_stated, model_g / model_density, metal_g / density))",
            "where(no, 0, where(no, 0 / 1, 19.8 / 8.41))",
            19.8 / 8.41, "2.35434 cm3",  # 2.354340…
        ),
        (
            "postage_received", (PIN, ONLINE), "online", "order_postage_charged / (1 + tax_rate) / order_sets",
            "4.2 / (1 + 0.19) / 1.15", 4.2 / 1.19 / 1.15, "3.06905 EUR",  # 3.069053…
        ),
        (
            "fee_high", (PIN, ONLINE, 3), "online, placement", "where(fee_max_stated, fee_max * fee_weight, no_limit)",
            "where(yes, 6.5 * 0.347826, 1e+15)",  # a share of 0.4 of an order of 1.15 sets: 0.4 / 1.15
            6.5 * 0.4 / 1.15, "2.26087 EUR",
        ),
        (
            "is_made_whole", (HARBOUR_BRASS, 5), "burn out", "both(run_sets > 0, opposite(shared))",
            "both(25 > 0, opposite(yes))", 0, "no",  # the kiln load is filled up with other work
        ),
        (
            "is_made_whole", (HARBOUR_BRASS, 6), "pour", "both(run_sets > 0, opposite(shared))",
            "both(25 > 0, opposite(no))", 1, "yes",
        ),
        (
            "counted_use_cost", (HARBOUR_BRASS, 3, 0), "tree, wax",
            "where(takes_flask_powder, 0, use_quantity * material_unit_cost)",
            "where(no, 0, 21.5 * 0.027738)",  # 13.4 / 500 × 1.035 = 0.027738
            21.5 * 13.4 / 500 * 1.035, "0.596367 EUR",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) and value.isidentifier() else "",
)  # fmt: skip
def test_examples(worker, name, index, place, symbols, numbers, result, words):
    work = worker.work(name, index)
    assert (work.quantity, work.place, work.symbols) == (name, place, symbols)
    assert work.numbers == numbers
    assert work.result == pytest.approx(result, rel=1e-12)
    assert result_words(work, "EUR") == words
    assert (work.meaning, work.unit) == (worker.graph.known(name).meaning, worker.graph.unit_of(name))


def test_what_runs_along_the_steps(worker):
    """The small pin: nothing spoiled at lay out or finish, 0.965 good at pierce, which leaves 0.986 of the metal."""
    assert worker.work("starts", (PIN_SMALL, 0)).numbers == "1 / product([1, 0.965, 1])"
    assert worker.work("starts", (PIN_SMALL, 2)).numbers == "1 / product([1])"
    cast = 0.62 * 0.72**3 * 10.36  # 2.39745 g: volume by scale thrice by density
    assert worker.work("mass_in", (PIN_SMALL, 2)).numbers == "where(yes, 2.39745 * product([1, 0.986]), 0)"
    assert worker.work("mass_in", (PIN_SMALL, 2)).result == pytest.approx(cast * 0.986, rel=1e-12)


def test_results_in_words(worker):
    """A reason is told by its name; these two stand in expected_run_25.json."""
    assert result_words(worker.work("binds", (HARBOUR_BRASS, GALLERY)), "EUR") == "policy"
    assert result_words(worker.work("binds", (HARBOUR_BRASS, STALL)), "EUR") == "keystone"
    assert (
        result_words(worker.work("castings_per_set", (HARBOUR_BRASS,)), "EUR") == "4"
    )  # three boats and a buoy, no unit


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (0.1, "0.1"),
        (24.27495, "24.275"),
        (-3.5, "-3.5"),
        (123456.7, "123457"),
        (1234567.0, "1234567"),  # whole digits are not cut off
        (float("nan"), "undefined"),
        (float("inf"), "unlimited"),
        (1e15, "1e+15"),  # stands for "no maximum"
        (1e-9, "1e-09"),  # a tolerance
        (0.0000123456, "0.0000123456"),
    ],
)
def test_numbers_as_people_read_them(value, text):
    assert shown_number(value) == text


# ---- what stands behind a figure


def test_behind_a_cost_stand_only_the_rows_that_it_comes_from(worker):
    """The small pin is sawn from silver: three steps, no flask, no machine, no material, no other alloy."""
    behind = list(worker.behind(("unit_cost",), PIN_SMALL))
    places = {}
    for work in behind:
        places.setdefault(worker.graph.table_of(work.quantity), []).append(work.place)
    assert {table: list(dict.fromkeys(names)) for table, names in places.items()} == {
        "workshop": [""],
        "metal": ["Ag", "Cu"],
        "content": ["silver-925, Ag", "silver-925, Cu"],
        "alloy": ["silver-925"],
        "role": ["bench", "finisher"],
        "variant": [""],
        "casting": ["pin"],
        "step": ["lay out", "pierce", "finish"],
    }
    assert behind[-1].quantity == "unit_cost"


def test_behind_a_price_stand_the_channels_that_the_ladder_looks_at(worker):
    """Online is lifted to twice what the gallery pays; the stall is looked at for the highest retail price."""
    behind = list(worker.behind(("price",), STUDS_GOLD, ONLINE))
    prices = [work.place for work in behind if work.quantity == "price"]
    looked_at = [work.place for work in behind if work.quantity == "wholesale_ex_tax_price"]
    assert prices == ["online"]
    assert looked_at == ["gallery", "stall", "online"]


def test_behind_what_a_fee_takes_stand_the_fees_of_the_channel_alone(worker):
    behind = list(worker.behind(("solved_price",), STUDS_SILVER, ONLINE))
    fees = {work.place for work in behind if worker.graph.table_of(work.quantity) == "fee"}
    assert fees == {"online, listing", "online, sale", "online, payment", "online, placement"}


def test_each_figure_comes_after_those_that_it_is_made_of(worker):
    told = {"own_ex_tax_price"}  # of a channel that is followed, and the stall follows none
    told |= {name for name, each in worker.graph.quantities.items() if not worker.rows[each.table]}
    for work in worker.behind(("price", "margin"), STUDS_SILVER, STALL):
        assert set(work.needs) <= told | set(worker.graph.inputs), work.quantity
        told.add(work.quantity)
    assert {"price", "margin", "unit_cost", "labour_rate"} <= told


def test_what_is_added_over_no_rows_is_left_out_and_comes_to_nothing(worker):
    """A pin without pieces of its own within it, and in no other; the studs have findings, the brass pull none."""
    cost_of = worker.work("metal_cost", (PIN,))
    assert cost_of.symbols == "metal_itself"
    assert cost_of.numbers == shown_number(cost_of.result)
    assert cost_of.needs == ("metal_itself",)
    assert worker.work("run_share", (PIN,)).numbers == "1"
    assert worker.work("findings_metal_itself", (HARBOUR_BRASS,)).numbers == "0"
    assert "[]" not in "".join(each.numbers for each in worker.behind(["unit_cost", "price"], PIN, STALL))


def test_a_whole_is_told_the_pieces_in_it():
    computed = cost(alder_wharf(), asked_for(date(2026, 11, 20))).computed
    place = [variant.sku for variant in computed.resolved.variants].index("fern-pendant")
    work = Worker(computed).work("metal_cost", (place,))
    assert work.symbols == "metal_itself + total(part_metal)"
    assert reckoned(work.numbers) == pytest.approx(work.result, rel=1e-5)


def test_the_work_of_a_piece_made_of_pieces_goes_through_its_parts():
    """Every figure of every variant, with all that leads to it: rows of pieces within pieces are there too."""
    costing = cost(alder_wharf(), asked_for(date(2026, 11, 20)))
    computed = costing.computed
    worker, through = Worker(computed), 0
    joined = np.flatnonzero(computed["metal_cost"] != computed["metal_itself"]).tolist()
    assert joined
    for row in joined:
        for each in worker.behind(["unit_cost", "total_g"], row):
            through += each.quantity.startswith("part_")
            assert math.isfinite(each.result) or each.quantity == "mean_effort"  # undefined without castings
    assert through > 0
