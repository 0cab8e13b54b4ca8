"""Figures are applied once for each folder, a mesh is measured once for each costing."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date

import pytest

from pricing.costing import asked_for, cost_folder
from pricing.folder import inherit
from pricing.folder.inherit import Applied, figures_of, inherited, steps_of, with_figures
from pricing.folder.read import read_folder
from pricing.meshes import VolumeAndArea
from pricing.model.process import Step
from pricing.model.product import Product
from pricing.resources import sample_catalog


@pytest.fixture(scope="module")
def sample():
    return read_folder(sample_catalog())


def test_what_is_applied_is_what_the_functions_say(sample):
    applied, stated = Applied(), sample.stated
    for product in sample.products.values():
        process = stated.processes[product.process]
        for alloy in product.alloys:
            assert applied.figures_of(product, alloy) == figures_of(product, alloy)
            assert list(applied.with_figures(process, product, alloy)) == list(with_figures(process, product, alloy))
            steps = applied.steps_of(process, product, alloy, stated.alloys)
            assert steps == steps_of(process, product, alloy, stated.alloys)
            assert applied.steps_of(process, product, alloy, stated.alloys) is steps


def test_own_figures_of_a_step_make_one_step_for_all_alloys_and_all_products_that_take_them():
    """A step with figures of its own in an alloy is another one there."""
    process = tuple(
        Step.model_validate({"name": name, "per": "piece", "labour": "bench", "minutes": 3})
        for name in ("file", "buff")
    )
    stated = [
        {"sku": "knob", "name": "Knob", "alloys": ["brass", "sterling"], "steps": {"file": {"minutes": 5}},
         "for_alloy": {"sterling": {"steps": {"buff": {"minutes": 9}}}}},
        {"sku": "other", "name": "Other", "like": "knob", "for_alloy": {"brass": {"steps": {"file": {"rework": 0.1}}}}},
    ]  # fmt: skip
    knob, other = inherited({each["sku"]: Product.model_validate(each) for each in stated}).values()
    applied = Applied()
    filed, buffed = applied.with_figures(process, knob, "brass")
    assert (filed.minutes, buffed) == (5, process[1])
    in_sterling = applied.with_figures(process, knob, "sterling")
    assert in_sterling[0] is filed and in_sterling[1].minutes == 9
    assert applied.with_figures(process, other, "sterling")[0] is filed
    in_brass = applied.with_figures(process, other, "brass")[0]
    assert (in_brass.minutes, in_brass.rework) == (5, 0.1) and filed.rework == 0


def test_figures_are_not_applied_again_where_a_folder_is_costed(monkeypatch):
    applied = []
    step_with, over = inherit.step_with, inherit._over
    monkeypatch.setattr(inherit, "step_with", lambda *given: applied.append(given) or step_with(*given))
    monkeypatch.setattr(inherit, "_over", lambda *given: applied.append(given) or over(*given))
    folder = read_folder(sample_catalog())
    assert applied  # for the checks
    applied.clear()
    for day in (20, 21):
        cost_folder(folder, asked_for(date(2026, 11, day)))
    assert not applied


def test_a_mesh_that_many_castings_name_is_measured_once(sample):
    named = [casting.mesh for each in sample.products.values() for casting in each.castings or () if casting.mesh]
    asked = Counter()

    def measure(path):
        asked[path] += 1
        return VolumeAndArea(1.0, 6.0, (10.0, 10.0, 10.0))

    products = {f"{sku}-{number}": product for sku, product in sample.stated.products.items() for number in (1, 2)}
    again = {sku: each.model_copy(update={"castings": None if each.castings is None else tuple(
        casting.model_copy() for casting in each.castings)}) for sku, each in products.items()}  # fmt: skip
    folder = replace(sample, stated=sample.stated.model_copy(update={"products": {**sample.stated.products, **again}}))
    cost_folder(folder, asked_for(date(2026, 11, 20)), measure)
    assert len(asked) == len(set(named)) and set(asked.values()) == {1}
