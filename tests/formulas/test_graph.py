"""The graph: what it refuses, each with file, line and mend, and what needs what in the cost model."""

from __future__ import annotations

import ast
import importlib.util
from pathlib import Path

import pytest

from pricing import quantities, records
from pricing.errors import FormulaFault
from pricing.formulas.grammar import expression_of
from pricing.formulas.graph import Graph, build, cost_model, cost_model_functions, functions_of
from pricing.formulas.tables import INPUTS
from pricing.words import CONSTANTS, WORDS

DOCUMENTED = '''    """A quantity.

    Unit: cur
    Why: for a test.
    """
'''  # five lines: a formula below a one-line head begins on line 7


def read(folder: Path, text: str, checked: bool = True) -> Graph:
    """The graph of the functions in a file `tiny.py` that holds `text`."""
    (folder / "tiny.py").write_text(text, encoding="utf-8")
    spec = importlib.util.spec_from_file_location("tiny", folder / "tiny.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return build(functions_of([module]), checked=checked)


def quantity(head: str, *body: str) -> str:
    """A documented function: its head is line 1, its body begins on line 7."""
    return f"def {head}:\n{DOCUMENTED}" + "".join(f"    {line}\n" for line in body)


REFUSALS = {
    "an unknown parameter": (
        quantity('pair(finding_prise) -> "finding"', "return finding_prise * (1 + 1)"),
        "tiny.py:1: pair needs finding_prise, which is neither a quantity nor an input; the nearest is finding_price",
    ),
    "an unknown parameter like no other": (
        quantity('pair(qqqq) -> "finding"', "return qqqq"),
        "tiny.py:1: pair needs qqqq, which is neither a quantity nor an input; "
        "none is like it: write the quantity or add the input",
    ),
    "a key that leads to another table than the column's": (
        quantity('fare(role_spoil) -> "step"', "return role_spoil"),
        "tiny.py:1: fare needs role_spoil, which is neither a quantity nor an input; the nearest is link_spoil",
    ),
    "siblings that the table lacks": (
        quantity('spread(other_density) -> "alloy"', "return total(other_density)"),
        "tiny.py:1: spread needs other_density, which is neither a quantity nor an input; the nearest is model_density",
    ),
    "an if": (
        quantity('fare(spoil) -> "finding"', "if spoil > 0:", "    return spoil", "return 0"),
        "tiny.py:7: fare holds an if; use where(condition, then, otherwise)",
    ),
    "a conditional expression": (
        quantity('fare(spoil) -> "finding"', "return (", "    spoil if spoil > 0 else 0", ")"),
        "tiny.py:8: fare uses IfExp, which no reader understands; use where(condition, then, otherwise)",
    ),
    "a bare number": (
        quantity('fare(spoil) -> "finding"', "return (", "    spoil", "    * 60", ")"),
        "tiny.py:9: fare holds the bare number 60; name it in words.py with its unit",
    ),
    "a text": (
        quantity('fare(spoil) -> "finding"', "return spoil + 'g'"),
        "tiny.py:7: fare holds the bare number 'g'; name it in words.py with its unit",
    ),
    "a truth value": (
        quantity('fare(spoil) -> "finding"', "return where(True, spoil, 0)"),
        "tiny.py:7: fare holds the bare number True; name it in words.py with its unit",
    ),
    "a chain of comparisons": (
        quantity('fare(spoil) -> "finding"', "return 0 < spoil < 1"),
        "tiny.py:7: fare chains comparisons; use both(first, second)",
    ),
    "an operator outside the language": (
        quantity('fare(spoil) -> "finding"', "return (", "    spoil ** (1 + 1)", ")"),
        "tiny.py:8: fare uses Pow, which no reader understands; use + - * / comparisons and words",
    ),
    "a sign": (
        quantity('fare(spoil) -> "finding"', "return -spoil"),
        "tiny.py:7: fare uses UnaryOp, which no reader understands; use + - * / comparisons and words",
    ),
    "a truth of several": (
        quantity('fare(spoil) -> "finding"', "return spoil > 0 and spoil < 1"),
        "tiny.py:7: fare uses BoolOp, which no reader understands; use + - * / comparisons and words",
    ),
    "an unknown word": (
        quantity('fare(spoil) -> "finding"', "return maximun(spoil, 0)"),
        'tiny.py:7: fare calls maximun; Did you mean "maximum"?',
    ),
    "rounding": (
        quantity('fare(spoil) -> "finding"', "return round(spoil)"),
        'tiny.py:7: fare calls round; Known: "both", "ceil", "cube", "downstream", "either", "floor", "held", '
        '"largest", ….',
    ),
    "a helper that is not there": (
        quantity('fare(spoil) -> "finding"', "return _ceil(spoil)"),
        'tiny.py:7: fare calls _ceil; Did you mean "ceil"?',
    ),
    "a method": (
        quantity('fare(spoil) -> "finding"', "return spoil.floor()"),
        'tiny.py:7: fare calls spoil.floor; Did you mean "floor"?',
    ),
    "an attribute": (
        quantity('fare(spoil) -> "finding"', "return spoil.real"),
        "tiny.py:7: fare uses Attribute, which no reader understands; use + - * / comparisons and words",
    ),
    "a named operand": (
        quantity('fare(spoil) -> "finding"', "return where(spoil > 0, spoil, otherwise=0)"),
        "tiny.py:7: fare calls where with other than 3 plain operands; give them in order, unnamed",
    ),
    "an operand too few": (
        quantity('fare(spoil) -> "finding"', "return maximum(spoil)"),
        "tiny.py:7: fare calls maximum with other than 2 plain operands; give them in order, unnamed",
    ),
    "an operand too many for a helper": (
        "def _mended(amount):\n    return amount\n\n\n"
        + quantity('fare(spoil) -> "finding"', "return _mended(spoil, 1)"),
        "tiny.py:11: fare calls _mended with other than 1 plain operands; give them in order, unnamed",
    ),
    "a word that is not called": (
        quantity('fare(spoil) -> "finding"', "return spoil + floor"),
        'tiny.py:7: fare uses floor, which is not among its parameters; Known: "decided_by_fixed", '
        '"decided_by_keystone", "decided_by_least_price", "decided_by_one_retail_price", "decided_by_policy", '
        '"full_pi", "mass_tolerance", "microns_per_centimetre", ….',
    ),
    "a name from nowhere": (
        quantity('fare(spoil) -> "finding"', "return spoil * minutes_per_our"),
        'tiny.py:7: fare uses minutes_per_our, which is not among its parameters; Did you mean "minutes_per_hour"?',
    ),
    "a default": (
        quantity('fare(spoil=0) -> "finding"', "return spoil"),
        "tiny.py:1: fare has a default for spoil; a formula has no defaults: make it an input",
    ),
    "more than one statement": (
        quantity('fare(spoil) -> "finding"', "twice = spoil + spoil", "return twice"),
        "tiny.py:7: fare is not one return alone; move the rest into quantities of their own",
    ),
    "no return": (
        quantity('fare(spoil) -> "finding"'),
        "tiny.py:1: fare is not one return alone; move the rest into quantities of their own",
    ),
    "an empty return": (
        quantity('fare(spoil) -> "finding"', "return"),
        "tiny.py:7: fare is not one return alone; move the rest into quantities of their own",
    ),
    "a parameter without a use": (
        quantity('fare(spoil, finding_price) -> "finding"', "return spoil"),
        "tiny.py:1: fare does not use finding_price; leave out of the parameters what the formula lacks",
    ),
    "a fault in a helper": (
        "def _mended(amount):\n    return amount * 2\n\n\n"
        + quantity('fare(spoil) -> "finding"', "return _mended(spoil)"),
        "tiny.py:2: fare holds the bare number 2; name it in words.py with its unit",
    ),
    "a circle": (
        quantity('left(right) -> "alloy"', "return right")
        + quantity('right(middle) -> "alloy"', "return middle")
        + quantity('middle(left) -> "alloy"', "return left"),
        "tiny.py:1: left -> right -> middle -> left is a circle; break it",
    ),
    "a circle of one": (
        quantity('left(left) -> "alloy"', "return left"),
        "tiny.py:1: left -> left is a circle; break it",
    ),
    "no docstring": (
        'def fare(spoil) -> "finding":\n    return spoil\n',
        "tiny.py:1: fare is not documented; its docstring needs a first line",
    ),
    "no unit": (
        'def fare(spoil) -> "finding":\n    """A fare.\n\n    Why: for a test.\n    """\n    return spoil\n',
        'tiny.py:1: fare is not documented; its docstring needs "Unit: …"',
    ),
    "no source": (
        'def fare(spoil) -> "finding":\n    """A fare.\n\n    Unit: cur\n    """\n    return spoil\n',
        'tiny.py:1: fare is not documented; its docstring needs "Source: …" or "Why: …"',
    ),
    "an unknown table": (
        quantity('fare(spoil) -> "findings"', "return spoil"),
        "tiny.py:1: fare is of no table 'findings'; say where it belongs, as in -> \"variant\". "
        'Did you mean "finding"?',
    ),
    "no table": (
        quantity("fare(spoil)", "return spoil"),
        'tiny.py:1: fare is of no table None; say where it belongs, as in -> "variant". '
        'Known: "alloy", "casting", "channel", "content", "currency", "fee", "finding", "flask", ….',
    ),
    "a quantity with the name of an input": (
        quantity('spoil(finding_price) -> "finding"', "return finding_price"),
        "tiny.py:1: spoil stands already as a quantity, an input or a word; rename one",
    ),
    "a quantity with the name of a word": (
        quantity('total(finding_price) -> "finding"', "return finding_price"),
        "tiny.py:1: total stands already as a quantity, an input or a word; rename one",
    ),
    "an axis that is not taken away": (
        quantity('fare(spoil) -> "variant"', "return spoil"),
        "tiny.py:1: fare has one row for each finding in spoil, its result has not; "
        "take it away with largest, product, total",
    ),
    "an axis that is taken away in one place only": (
        quantity('fare(spoil, finding_price) -> "variant"', "return total(finding_price) + spoil"),
        "tiny.py:1: fare has one row for each finding in spoil, its result has not; "
        "take it away with largest, product, total",
    ),
    "an axis that is not there": (
        quantity('fare(spoil) -> "finding"', "return total(spoil)"),
        "tiny.py:1: fare takes an axis away in total(spoil), where no parameter has one more than the result; "
        "leave total out",
    ),
    "an axis that is there in another place": (
        quantity('fare(spoil, scale) -> "variant"', "return total(spoil) + largest(scale)"),
        "tiny.py:1: fare takes an axis away in largest(scale), where no parameter has one more than the result; "
        "leave largest out",
    ),
    "two axes at once": (
        quantity('fare(spoil, casting_count) -> "variant"', "return total(spoil * casting_count)"),
        "tiny.py:1: fare takes columns along casting and finding at once; total one of them in a quantity of its own",
    ),
    "running along nothing": (
        quantity('fare(wage) -> "role"', "return upstream(wage)"),
        "tiny.py:1: fare looks along an axis that its table lacks; downstream and upstream are for steps",
    ),
    "running along what is reckoned on the spot": (
        quantity('fare(good) -> "step"', "return downstream(1 - good)"),
        "tiny.py:1: fare looks along 1 - good, which is no column of its own table; make it a quantity first",
    ),
    "running along another table": (
        quantity('fare(scale) -> "step"', "return downstream(scale)"),
        "tiny.py:1: fare looks along scale, which is no column of its own table; make it a quantity first",
    ),
    "no way": (
        quantity('fare(wage) -> "machine"', "return wage"),
        "tiny.py:1: fare needs wage of table role, which no single way leads to from machine; "
        "total it nearer by, or add the key to tables.py",
    ),
    "no way into what is nested in another table": (
        quantity('fare(mass_fraction) -> "variant"', "return total(mass_fraction)"),
        "tiny.py:1: fare needs mass_fraction of table content, which no single way leads to from variant; "
        "total it nearer by, or add the key to tables.py",
    ),
}


@pytest.mark.parametrize(("text", "message"), REFUSALS.values(), ids=REFUSALS)
def test_what_cannot_be_read_is_refused(tmp_path, text, message):
    with pytest.raises(FormulaFault) as refused:
        read(tmp_path, text)
    assert str(refused.value) == message


def test_two_quantities_of_one_name(tmp_path):
    """Within one file the second hides the first; across files the graph sees both."""
    (tmp_path / "one").mkdir()
    first = read(tmp_path / "one", quantity('fare(spoil) -> "finding"', "return spoil"))
    second = read(tmp_path, "\n" + quantity('fare(finding_price) -> "finding"', "return finding_price"))
    with pytest.raises(FormulaFault) as refused:
        build([first.quantities["fare"].function, second.quantities["fare"].function])
    assert str(refused.value) == ("tiny.py:2: fare stands already as a quantity, an input or a word; rename one")


def test_on_trust_neither_words_nor_reasons_are_asked_for(tmp_path):
    """As under `python -OO`, which leaves docstrings out; what is not said is no text, not nothing."""
    fare = read(tmp_path, 'def fare(spoil) -> "finding":\n    return spoil * 60\n', checked=False).quantities["fare"]
    assert (fare.meaning, fare.unit, fare.because) == ("", "", "")


# ---- the cost model itself


def test_at_every_start_it_is_taken_on_trust(monkeypatch):
    """To check a formula its source is opened and read: all of them together take longer than the costing."""
    monkeypatch.setattr("pricing.formulas.graph.check_body", lambda function: pytest.fail(f"{function} is checked"))
    assert cost_model.__wrapped__().quantities.keys() == cost_model().quantities.keys()


def needs(name: str) -> dict[str, str]:
    """Parameters of a quantity, each with the way in which it is fetched."""
    told = {}
    for need in cost_model().quantities[name].needs:
        path = need.path
        way = " ".join(f"{table}.{key}" for table, key in path.keys) or path.prefix or path.source
        told[need.parameter] = f"{way}, each {path.extra}" if path.extra else way
    return told


def test_what_needs_what():
    """A few facts of the contract, and how each column is reached."""
    assert needs("melt_value_per_g") == {
        "is_priced": "content, each content",
        "content_value_per_g": "content, each content",
    }
    assert needs("spot_per_g") == {
        "quote_price": "metal",
        "grams_per_unit": "metal",
        "exchange_rate": "metal.currency",
    }
    assert needs("step_labour_cost") == {"step_labour_hours": "step", "labour_rate": "step.role"}
    assert needs("order_labour_cost") == {"order_hours": "price", "labour_rate": "channel.role"}
    assert needs("finding_melt_value")["melt_value_per_g"] == "finding.finding_alloy"
    assert needs("stated_cm3")["density"] == "casting.in_alloy"
    assert needs("as_cast_g")["density"] == "variant.alloy"
    assert needs("powder_use_cost") == {
        "takes_flask_powder": "use",
        "flask_powder_g": "variant.flask",
        "material_unit_cost": "use.material",
    }
    assert needs("layer_g")["density"] == "use.plating_alloy"
    assert needs("part_metal") == {"part_sets": "part", "piece_metal_itself": "part.piece"}
    assert needs("fees_at_runs_to")["other_fee_slope"] == "other, each other fee"
    assert needs("channel_rate") == {"exchange_rate": "price.currency"}
    assert needs("required_price")["followed_own_ex_tax_price"] == "followed"
    assert needs("highest_wholesale") == {"other_wholesale_ex_tax_price": "other, each other channel"}
    assert needs("moving_fees")["fee_slope"] == "fee, each fee"
    assert needs("moving_fees")["keep_share"] == "price"
    assert needs("profit") == {"net_receipts": "price", "unit_cost": "variant"}
    assert needs("unit_cost") == dict.fromkeys(records.COST_LINES, "variant")


def test_each_follows_what_it_needs():
    before = set()
    for name, quantity in cost_model().quantities.items():
        assert {need.column for need in quantity.needs} <= before | set(INPUTS), name
        before.add(name)


def test_formulas_are_told_in_their_own_words_with_helpers_spelled_out():
    model = cost_model().quantities
    assert model["labour_rate"].formula == "wage * (1 + on_cost)"
    assert model["laddered_price"].formula == (
        "where(is_lifted_by_keystone, "
        "ceil((keystone_price - ending - price_tolerance) / keystone_step) * keystone_step + ending, rounded_price)"
    )


def test_nothing_stands_idle():
    """Every input is used; every quantity is used or reported; so is every word and every constant."""
    graph = cost_model()
    used = {need.column for quantity in graph.quantities.values() for need in quantity.needs}
    assert set(graph.inputs) - used == set()
    reported = {
        *records.ALLOY_QUANTITIES,
        *records.MASS_QUANTITIES,
        *records.COST_QUANTITIES,
        *records.STEP_QUANTITIES,
        *records.PRICE_QUANTITIES,
        "can_be_had",  # tells on the sheet of checks that no price brings what is asked, as the costing does
        "making_cost",  # the last line of what steps cost
        "one_pour_charge_g",  # what the scale shows, beside what a good set takes
        "cost_before_credits",  # what shares of cost are shares of
    }
    assert set(graph.quantities) - used - reported == set()
    assert reported <= set(graph.quantities)
    spoken = {
        node.id
        for quantity in graph.quantities.values()
        for node in ast.walk(expression_of(quantity.function))
        if isinstance(node, ast.Name)
    }
    assert (set(WORDS) | set(CONSTANTS)) - spoken == set()


def test_every_file_of_quantities_is_read_and_no_name_stands_twice():
    """A second function of a name would hide the first from the graph, and so would a file that nobody lists."""
    files = sorted(Path(quantities.__file__).parent.glob("*.py"))
    written = [
        node.name
        for file in files
        for node in ast.parse(file.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]
    assert sorted(written) == sorted(cost_model().quantities)


def test_every_formula_of_the_cost_model_passes_every_check():
    assert build(cost_model_functions(), checked=True) == cost_model()
