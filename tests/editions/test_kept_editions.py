"""Editions that an earlier release published, kept as files: this release, and every later one, reads them.

`kept/tin-lane` and `kept/fernhollow` hold what the program of commit 5be8ff0 published of the two workshops on
2026-11-20, in the first form, all in words; `kept/tin-lane-packed` and `kept/fernhollow-packed` the same in the form
in which each number stands once. They are never made anew. What came later than they did is what a folder comes to
that does not state it.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from pricing.editions.chain import chain_faults, newest, read
from pricing.editions.figures import computed_again
from pricing.editions.inputs import inputs_of, thawed_inputs
from pricing.editions.publishing import publish
from pricing.errors import Faults
from pricing.formulas.tables import CHILDREN, INPUTS, OUTERMOST, ROW_OF
from pricing.formulas.work import Worker

KEPT = Path(__file__).parent / "kept"
FOLDERS = ("tin-lane", "fernhollow", "tin-lane-packed", "fernhollow-packed")


@pytest.mark.parametrize("name", FOLDERS)
def test_an_earlier_edition_is_whole_and_its_work_is_shown(name):
    assert chain_faults(KEPT / name) == []
    edition = newest(KEPT / name)
    computed = computed_again(edition)
    variants = edition.content["variants"]
    assert len(variants) == len(computed.resolved.variants) > 5
    worker = Worker(computed)
    for row, published in enumerate(variants):
        assert (computed.resolved.variants[row].sku, computed.resolved.variants[row].alloy) == (
            published["sku"],
            published["alloy"],
        )
        (work,) = worker.each(["unit_cost"], row, 0)
        assert work.result == published["unit_cost"]


@pytest.mark.parametrize("name", FOLDERS)
def test_every_input_of_an_earlier_edition_is_read_as_it_was(name):
    frozen = newest(KEPT / name).content["inputs"]
    resolved = thawed_inputs(frozen)
    for table, kept in frozen["tables"].items():
        rows = {id(row): row for row in _rows(resolved, table)}.values()
        for column in kept["columns"]:
            if column in INPUTS:
                place = kept["columns"].index(column)
                told = {json.dumps(row[place]) for row in kept["rows"]}
                assert {json.dumps(getattr(row, column)) for row in rows} == told, column


@pytest.mark.parametrize(
    ("table", "column"),
    [(known.table, known.name) for known in INPUTS.values() if not known.stated],
)
def test_an_edition_without_an_input_has_what_a_folder_comes_to_that_does_not_state_it(table, column):
    """As if the input had come later than the edition; what must be stated is told, and never made up."""
    frozen = json.loads(json.dumps(newest(KEPT / "tin-lane").content["inputs"]))
    kept = frozen["tables"].get(table)
    if kept is None or column not in kept["columns"]:
        return  # there are no such rows in it
    place = kept["columns"].index(column)
    for row in (kept["columns"], *kept["rows"]):
        row.pop(place)
    known = INPUTS[column]
    must = known.leaf is not None and not known.leaf.may_be_open or bool(known.required)
    if must:
        with pytest.raises(ValueError, match=column):
            thawed_inputs(frozen)
        return
    expected = known.absent if known.leaf is None else known.unstated
    assert {getattr(row, column) for row in _rows(thawed_inputs(frozen), table)} <= {expected}


def test_the_stated_default_and_not_the_idle_value():
    """A machine draws all its rated power where its duty is not stated (`Machine.duty`), one that is not there none."""
    assert (INPUTS["duty"].unstated, INPUTS["duty"].idle) == (1, 0)


def test_a_list_and_a_table_that_came_later_are_empty():
    frozen = json.loads(json.dumps(newest(KEPT / "tin-lane").content["inputs"]))
    kept = frozen["tables"]["variant"]
    place = kept["columns"].index("findings")
    for row in (kept["columns"], *kept["rows"]):
        row.pop(place)
    del frozen["rows"]["flasks"]
    resolved = thawed_inputs(frozen)
    assert {variant.findings for variant in resolved.variants} == {()}
    assert resolved.flasks == ()


def test_what_must_be_stated_and_is_missing_is_told(tmp_path):
    content = json.loads(json.dumps(newest(KEPT / "tin-lane").content))
    kept = content["inputs"]["tables"]["role"]
    place = kept["columns"].index("wage")
    for row in (kept["columns"], *kept["rows"]):
        row.pop(place)
    content = {key: value for key, value in content.items() if key not in ("form", "number", "previous")}
    publish(tmp_path, content, None)
    edition = read(tmp_path, 1)
    for ask in (inputs_of, computed_again):
        with pytest.raises(Faults, match=r"editions/000001\.json wage: this edition keeps its inputs in another form"):
            ask(edition)


def test_a_kept_edition_can_be_followed_by_a_new_one(tmp_path):
    folder = shutil.copytree(KEPT / "tin-lane", tmp_path / "tin-lane")
    content = newest(folder).content
    after = {key: value for key, value in content.items() if key not in ("form", "number", "previous")}
    publish(folder, {**after, "as_of": "2026-11-21"}, newest(folder))
    assert chain_faults(folder) == []
    np.testing.assert_array_equal(
        computed_again(read(folder, 2))["unit_cost"], computed_again(read(folder, 1))["unit_cost"]
    )


def _rows(resolved, table):
    if table == "workshop":
        return [resolved.workshop]
    if table in CHILDREN:
        above, attribute = CHILDREN[table]
        return [row for parent in _rows(resolved, above) for row in getattr(parent, attribute)]
    assert ROW_OF[table].table == table
    return list(getattr(resolved, OUTERMOST[table]))
