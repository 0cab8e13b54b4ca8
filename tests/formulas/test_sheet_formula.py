"""The workbook's formulas, recalculated by LibreOffice, say what the engine says: cell for cell, edit for edit."""

import random
from dataclasses import replace
from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.formulas.graph import build, cost_model
from pricing.formulas.sheet_formula import formula_of
from pricing.formulas.sheet_layout import SHEETS, Column, Layout, sheet_of, sure_columns
from pricing.formulas.tables import INPUTS, Input
from tests.folders import tin_lane
from tests.formulas.plain_workbook import write
from tests.twin import Twin, after_edits, mixed, other_value

AS_OF = date(2026, 11, 20)
FOLDERS = {"example": tin_lane}


def plain_twin(office, computed, directory):
    """The plain workbook of a costing, open in LibreOffice."""
    layout, rows = write(computed, directory / "plain.xlsx")
    twin = Twin(office, computed, directory / "plain.xlsx", layout, rows)
    assert twin.spoilt > 1000
    return twin


@pytest.fixture(params=FOLDERS)
def twin(request, office, tmp_path):
    computed = cost(FOLDERS[request.param](), asked_for(AS_OF)).computed
    twin = plain_twin(office, computed, tmp_path)
    yield twin
    twin.book.close()


def test_every_cell_equals_the_engine_from_wrong_cached_values_and_after_every_edit(twin):
    wrong, compared = twin.differences()
    assert not wrong
    assert compared > 2000
    assert not twin.book.errors()
    choice = random.Random(1)
    edits = []
    for name in edited(twin):
        position = choice.randrange(len(twin.rows[INPUTS[name].table])) + 1
        row = twin.rows[INPUTS[name].table][position - 1].row
        value = other_value(INPUTS[name], getattr(row, name), choice)
        if value is not None:
            edits.append((name, position, value))
    for wrong, typed in after_edits(twin, edits):
        assert not wrong, typed
    assert len({INPUTS[name].table for name, _, _ in edits}) >= 12


def edited(twin):
    """Every input but those that say how things hang together, in an order that mixes tables."""
    return mixed(known.name for known in INPUTS.values() if known.stated is None and twin.rows[known.table])


def test_a_run_is_whole_in_the_sheet_too(office, tmp_path):
    twin = plain_twin(office, cost(tin_lane(), asked_for(AS_OF, run=25, charge_design=True)).computed, tmp_path)
    wrong, _ = twin.differences()
    twin.edit("run_sets", 1, 7)
    wrong_after, _ = twin.differences()
    twin.book.close()
    assert not wrong and not wrong_after


def test_no_chain_of_formulas_comes_back_to_a_sheet_that_it_left():
    graph = cost_model()
    for quantity in graph.quantities.values():
        here = SHEETS.index(sheet_of(quantity.name, quantity.table))
        for need in quantity.needs:
            if need.column in graph.quantities:
                there = SHEETS.index(sheet_of(need.column, graph.table_of(need.column)))
                assert there <= here, (
                    f"{quantity.name} on {SHEETS[here]} looks ahead to {need.column} on {SHEETS[there]}"
                )


# ---- tiny formulas, each beside its text

INPUT = {
    name: Input(name, table, "1", "For this test.", 0.0) for name, table in
    (("first_cost", "variant"), ("second_cost", "variant"), ("pieces", "step"), ("limit", "step"), ("hourly", "role"))
}  # fmt: skip
LAYOUT = Layout(
    {
        "first_cost": Column("Costs", "B", 5, 3),
        "second_cost": Column("Costs", "C", 5, 3),
        "outcome": Column("Costs", "D", 5, 3),
        "variant: first step": Column("Costs", "E", 5, 3),
        "variant: last step": Column("Costs", "F", 5, 3),
        "pieces": Column("Steps", "G", 2, 9),
        "limit": Column("Steps", "H", 2, 9),
        "step: own row": Column("Steps", "A", 2, 9),
        "step: row of variant": Column("Steps", "I", 2, 9),
        "step: first step": Column("Steps", "J", 2, 9),
        "step: last step": Column("Steps", "K", 2, 9),
        "step: key role": Column("Steps", "L", 2, 9),
        "step_outcome": Column("Steps", "M", 2, 9),
        "hourly": Column("Inputs", "B", 3, 2),
    }
)


def text_of(function, position=2):
    graph = build([function], INPUT)
    return formula_of(graph, function.__name__, LAYOUT).at(position)


def test_operators_keep_their_order():
    def outcome(first_cost, second_cost) -> "variant":
        """For this test.

        Unit: 1
        Why: for this test.
        """
        return (first_cost - (second_cost - first_cost)) / (first_cost * second_cost) - 1 / (second_cost / first_cost)

    assert text_of(outcome) == "=($B6-($C6-$B6))/($B6*$C6)-1/($C6/$B6)"


def test_a_choice_in_one_cell_is_an_if():
    def outcome(first_cost, second_cost) -> "variant":
        """For this test.

        Unit: 1
        Why: for this test.
        """
        return where(both(first_cost > 0, opposite(second_cost > 1)), minimum(first_cost, 1), ceil(second_cost))  # noqa: F821

    assert text_of(outcome, 1) == "=IF(AND($B5>0,NOT($C5>1)),MIN($B5,1),(-INT(-$C5)))"


def test_a_choice_along_a_range_is_arithmetic():
    def outcome(pieces, limit, first_cost) -> "variant":
        """For this test.

        Unit: 1
        Why: for this test.
        """
        return total(where(pieces > limit, pieces * first_cost, 0))  # noqa: F821

    pieces = "INDEX(Steps!$G$2:$G$10,$E6):INDEX(Steps!$G$2:$G$10,$F6)"
    limit = "INDEX(Steps!$H$2:$H$10,$E6):INDEX(Steps!$H$2:$H$10,$F6)"
    assert text_of(outcome) == f"=IF($F6<$E6,0,SUMPRODUCT(({pieces}>{limit})*({pieces}*$B6)))"


def test_keys_lead_to_their_row_and_surroundings_to_theirs():
    def step_outcome(pieces, hourly, first_cost) -> "step":
        """For this test.

        Unit: 1
        Why: for this test.
        """
        return pieces * hourly + first_cost

    assert text_of(step_outcome, 4) == ("=$G5*IF($L5=0,0,INDEX(Inputs!$B$3:$B$4,$L5))+INDEX(Costs!$B$5:$B$7,$I5)")


def test_running_products_begin_and_end_with_the_variant():
    def step_outcome(pieces) -> "step":
        """For this test.

        Unit: 1
        Why: for this test.
        """
        return downstream(pieces) - upstream(pieces)  # noqa: F821

    assert text_of(step_outcome, 1) == (
        "=PRODUCT(INDEX($G$2:$G$10,$A2):INDEX($G$2:$G$10,$K2))"
        "-IF($A2=$J2,1,PRODUCT(INDEX($G$2:$G$10,$J2):INDEX($G$2:$G$10,$A2-1)))"
    )


def test_columns_that_have_names_are_called_by_them_and_what_is_sure_is_not_asked():
    def outcome(pieces, limit) -> "variant":
        """For this test.

        Unit: 1
        Why: for this test.
        """
        return total(pieces) + total(where(pieces > limit, minutes_per_hour, 0))  # noqa: F821

    graph = build([outcome], INPUT)
    columns = {name: replace(column, name=name if name in INPUT else "") for name, column in LAYOUT.columns.items()}
    layout = Layout(columns, frozenset({"minutes_per_hour"}), frozenset({"variant: first step"}))
    pieces, limit = "INDEX(pieces,$E6):INDEX(pieces,$F6)", "INDEX(limit,$E6):INDEX(limit,$F6)"
    assert formula_of(graph, "outcome", layout).at(2) == (
        f"=SUM({pieces})+SUMPRODUCT(({pieces}>{limit})*minutes_per_hour)"
    )


def test_a_key_that_is_never_open_is_followed_without_asking():
    def step_outcome(hourly) -> "step":
        """For this test.

        Unit: 1
        Why: for this test.
        """
        return hourly

    graph = build([step_outcome], INPUT)
    layout = Layout(LAYOUT.columns, sure=frozenset({"step: key role"}))
    assert formula_of(graph, "step_outcome", layout).at(4) == "=INDEX(Inputs!$B$3:$B$4,$L5)"


def test_structure_columns_are_sure_where_no_key_is_open_and_no_row_is_without_rows_below():
    found = sure_columns(
        {
            "variant": {
                "variant: key alloy": [1, 2], "variant: key flask": [1, 0],
                "variant: first step": [1, 4], "variant: last step": [3, 4],
                "variant: first finding": [1, 1], "variant: last finding": [2, 0],
            }
        }
    )  # fmt: skip
    assert found == {"variant: key alloy", "variant: first step"}
