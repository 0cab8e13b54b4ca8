"""The workbook's formulas, recalculated by LibreOffice, say what the engine says: cell for cell, edit for edit."""

import math
import random
from dataclasses import replace
from datetime import date

import pytest

from pricing.columns import columns_of
from pricing.costing import asked_for, cost
from pricing.engine import run
from pricing.graph import build, cost_model
from pricing.readers.cells import formula_of
from pricing.readers.layout import SHEETS, Column, Layout, sheet_of
from pricing.resources import sample_catalog
from pricing.tables import INPUTS, Input
from tests.folders import tin_lane
from tests.office import spoil_cached_values
from tests.readers.plain_workbook import write

AS_OF = date(2026, 11, 20)
FOLDERS = {"example": tin_lane, "sample": sample_catalog}


class Twin:
    """A workbook open in LibreOffice and the columns that the engine computes from."""

    def __init__(self, office, computed, directory):
        self.computed = computed
        self.layout, self.rows = write(computed, directory / "plain.xlsx")
        assert spoil_cached_values(directory / "plain.xlsx", directory / "spoilt.xlsx") > 1000
        self.book = office.open(directory / "spoilt.xlsx")
        self.columns = columns_of(computed.resolved)

    def edit(self, name, position, value):
        """Type `value` into an input cell, and give it to the engine too."""
        column, row = self.layout[name], self.rows[INPUTS[name].table][position - 1]
        self.book.set({(column.sheet, column.cell(position)): float(value)})
        inputs = dict(self.columns.inputs)
        changed = {name: value, **({f"{name}_stated": True} if INPUTS[name].optional else {})}
        for key, new in changed.items():
            inputs[key] = inputs[key].copy()
            inputs[key][row.index] = new
        self.columns = replace(self.columns, inputs=inputs)

    def differences(self):
        """Cells that differ from the engine, and how many were compared."""
        values = run(self.columns, self.computed.graph)
        self.book.recalculate()
        shown = {sheet: self.book.values(sheet) for sheet in SHEETS}
        wrong, compared = [], 0
        for name, quantity in self.computed.graph.quantities.items():
            column = self.layout[name]
            for position, row in enumerate(self.rows[quantity.table], 1):
                expected = float(values[name][row.index])
                cell = shown[column.sheet].get(column.cell(position))
                compared += 1
                if not agree(cell, expected):
                    wrong.append(
                        f"{column.sheet}!{column.cell(position)} {name}: {cell!r}, the engine says {expected!r}"
                    )
        return wrong, compared


def agree(cell, expected):
    """Equal to 1e-9 relative; what is undefined is an empty text in a cell."""
    if not math.isfinite(expected):
        return cell in ("", None)
    return isinstance(cell, float) and math.isclose(cell, expected, rel_tol=1e-9, abs_tol=1e-9)


@pytest.fixture(params=FOLDERS)
def twin(request, office, tmp_path):
    computed = cost(FOLDERS[request.param](), asked_for(AS_OF)).computed
    twin = Twin(office, computed, tmp_path)
    yield twin
    twin.book.close()


def test_every_cell_equals_the_engine_from_wrong_cached_values_and_after_every_edit(twin):
    wrong, compared = twin.differences()
    assert not wrong
    assert compared > 2000
    assert not twin.book.errors()
    choice = random.Random(1)
    tables = set()
    for name in edited(twin):
        position = choice.randrange(len(twin.rows[INPUTS[name].table])) + 1
        row = twin.rows[INPUTS[name].table][position - 1].row
        value = other_value(INPUTS[name], getattr(row, name), choice)
        if value is None:
            continue
        twin.edit(name, position, value)
        tables.add(INPUTS[name].table)
        wrong, _ = twin.differences()
        assert not wrong, f"after {name} of row {position} changed"
    assert len(tables) >= 12


def edited(twin):
    """Every input but those that say how things hang together, in an order that mixes tables."""
    names = [known.name for known in INPUTS.values() if known.stated is None and twin.rows[known.table]]
    return sorted(names, key=lambda name: random.Random(name).random())


def other_value(known: Input, value, choice: random.Random):
    """A different value of the same kind."""
    if known.is_switch:
        return not value
    if known.name == "step_position" or (known.name == "applies_below" and value is None):
        return None  # not a figure that anyone types
    if value is None:
        return choice.choice((0.05, 0.31, 2.5))
    if known.name in ("good", "duty", "fee_share"):
        return round(choice.uniform(0.5, 0.95), 3)
    return round(value * choice.uniform(1.01, 1.2) + choice.uniform(0.001, 0.1), 6)


def test_a_run_is_whole_in_the_sheet_too(office, tmp_path):
    twin = Twin(office, cost(tin_lane(), asked_for(AS_OF, run=25, charge_design=True)).computed, tmp_path)
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
