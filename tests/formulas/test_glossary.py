"""The glossary: nothing is left out, and what it says is what stands in the formulas."""

from __future__ import annotations

import inspect
import json

import pytest

from pricing import remembered
from pricing.errors import UsageFault
from pricing.folder import keys_in_words
from pricing.folder.keys_in_words import Key, entries_of, names_of, remembered_names, tables
from pricing.formulas.glossary import Entry, glossary
from pricing.formulas.graph import cost_model
from pricing.formulas.tables import TABLES
from pricing.model import alloy, channel, doubt, process, product, quote, source, workshop
from pricing.model.base import StatedModel


def test_every_name_of_the_cost_model_has_one_entry():
    """All but the companions that say whether an optional input is stated: nobody writes those."""
    graph = cost_model()
    names = [each.name for each in glossary(graph)]
    companions = {name for name, known in graph.inputs.items() if known.stated}
    assert len(companions) > 5
    assert sorted(names) == sorted({*graph.quantities, *graph.inputs} - companions)


def test_entries_are_complete():
    graph = cost_model()
    for each in glossary(graph):
        assert each.table in TABLES, each.name
        assert each.unit, each.name
        assert each.meaning.endswith("."), each.name
        computed = each.name in graph.quantities
        assert computed == bool(each.formula) == bool(each.because) == bool(each.needs), each.name
        assert each.needs or each.used_by, each.name


def test_used_by_is_needs_the_other_way_round():
    entries = {each.name: each for each in glossary(cost_model())}
    companions = {name for name in cost_model().inputs} - set(entries)
    for each in entries.values():
        for need in set(each.needs) - companions:
            assert each.name in entries[need].used_by
        for user in each.used_by:
            assert each.name in entries[user].needs
        assert len(set(each.needs)) == len(each.needs) and len(set(each.used_by)) == len(each.used_by)


def test_a_quantity_comes_after_what_it_is_made_of_and_inputs_come_last():
    graph = cost_model()
    names = [each.name for each in glossary(graph)]
    assert set(names[: len(graph.quantities)]) == set(graph.quantities)
    assert names.index("labour_rate") < names.index("step_labour_cost") < names.index("unit_cost") < names.index("wage")


def test_an_entry_in_whole():
    assert entries_of(cost_model(), "step_fee_cost")[0] == Entry(
        name="step_fee_cost",
        table="step",
        unit="cur",
        meaning="Cost of the bought-in work of a step: plating house, assay office.",
        formula="times * step_fee * (1 + unreclaimed_tax)",
        because="tax on bought-in work that cannot be claimed back is a cost.",
        needs=("times", "step_fee", "unreclaimed_tax"),
        used_by=("fees_itself", "step_cost"),
    )
    assert entries_of(cost_model(), "rework")[0] == Entry(
        name="rework",
        table="step",
        unit="1",
        meaning="Fraction of the units that is mended.",
        used_by=("step_labour_hours",),
        measure="Count how many of the next thirty are mended.",
    )


def test_siblings_are_told_by_the_column_that_they_stand_in():
    """`other_retail_price` is the retail_price of all channels: a reader looks that name up."""
    assert entries_of(cost_model(), "highest_retail")[0].needs == ("currency_mark", "retail_price")
    for name in ("required_price", "fees_at_runs_to"):
        assert set(entries_of(cost_model(), name)[0].needs) <= {each.name for each in glossary(cost_model())}


def test_the_meaning_is_the_first_line_of_the_docstring():
    told = {each.name: each.meaning for each in glossary(cost_model())}
    for name, quantity in cost_model().quantities.items():
        assert inspect.getdoc(quantity.function).splitlines()[0] == told[name]


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("unitcost", 'there is no quantity, key or word "unitcost". Did you mean "unit_cost"?'),
        ("wages", 'there is no quantity, key or word "wages". Did you mean "wage"?'),
        ("xyzzy", 'there is no quantity, key or word "xyzzy". troytag words lists what there is.'),
        (
            "max_return_share_stated",
            'there is no quantity, key or word "max_return_share_stated". Did you mean "max_return_share"?',
        ),
    ],
)
def test_an_unknown_name(name, message):
    with pytest.raises(UsageFault) as refused:
        entries_of(cost_model(), name)
    assert str(refused.value) == message
    assert refused.value.exit_code == 2


def test_a_key_that_stands_in_several_files_is_told_for_each():
    assert [(each.file, each.table) for each in entries_of(cost_model(), "minutes")] == [
        ("processes.toml", "step"),
        ("products/*.toml", "step figures"),
        ("channels.toml", "channel"),
        ("screens", "heading"),
    ]


def test_no_table_of_a_file_is_left_out():
    """Every stated model but those of whole files without keys of their own is a table that somebody can write."""
    stated = {
        model
        for module in (alloy, channel, doubt, process, product, quote, source, workshop)
        for model in vars(module).values()
        if isinstance(model, type) and issubclass(model, StatedModel) and model.__module__ == module.__name__
    }
    assert len(stated) > 20
    assert stated <= {model for _, model in tables()}
    assert [(each.file, each.table) for each in entries_of(cost_model(), "json_path")] == [("workshop.toml", "source")]


def test_a_word_of_formulas_is_told_too():
    (held,) = entries_of(cost_model(), "held")
    assert isinstance(held, Key)
    assert held.meaning.startswith("`amount`, but not below `low`")


def test_what_is_said_at_a_stall_is_in_the_glossary_with_unit_formula_and_reason():
    from pricing.studies.stall.bargaining import bargaining_functions, bargaining_model

    entries = {entry.name: entry for entry in glossary(bargaining_model())}
    for function in bargaining_functions():
        entry = entries[function.__name__]
        assert entry.unit in ("cur", "quoted") and entry.formula and entry.because and entry.meaning


def test_names_are_remembered_and_nothing_else_is_believed(tmp_path, monkeypatch):
    """From what was kept they come without a graph; torn, forged or of another program they are made anew."""
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path))
    graph, made = cost_model(), []
    names = names_of(graph)

    def making():
        made.append(graph)
        return graph

    assert remembered_names(making) == names and remembered_names(making) == names
    assert len(made) == 1
    entry = tmp_path / "words" / keys_in_words.KEPT
    whole = entry.read_bytes()
    kept = json.loads(whole[64:])
    spoilt = [{**kept, "by": "another"}, {**kept, "keys": [{"name": 7}]}, {**kept, "entries": 7}, [], "names"]
    spoilt += [{**kept, "entries": [{**kept["entries"][0], "needs": [[]]}]}, {**kept, "keys": [{"nome": "x"}]}]
    for number, inside in enumerate([*spoilt, None], 2):
        if inside is None:
            entry.write_bytes(whole[:-9])
        else:
            remembered.keep("words", keys_in_words.KEPT, json.dumps(inside).encode())
        assert remembered_names(making) == names
        assert len(made) == number
    assert remembered_names(making) == names and len(made) == len(spoilt) + 2
