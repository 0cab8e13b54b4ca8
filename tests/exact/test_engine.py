"""The engine, and the same formulas compiled, against the exact re-computation: two published folders, and generated
workshops of every shape."""

from __future__ import annotations

import json
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from pricing.costing import asked_for, cost
from pricing.formulas.kernel.run import Kernel
from pricing.records import variant_records
from tests.exact.against_engine import compiled, what_differs
from tests.exact.compare import differences
from tests.exact.near_ties import near_ties
from tests.exact.workshop_writer import Workshop
from tests.exact.workshops import workshops
from tests.folders import alder_wharf, tin_lane

GENERATED = settings(max_examples=60, suppress_health_check=list(HealthCheck), deadline=None)
DAY = date(2026, 11, 20)
FILES = [("expected.json", None), ("expected_run_25.json", 25)]


def compare_with_exact(workshop: Workshop, kernel: Kernel) -> None:
    with tempfile.TemporaryDirectory() as directory:
        assert what_differs(workshop, Path(directory), kernel) == []


@GENERATED
@given(workshop=workshops())
def test_generated_workshops_are_computed_exactly(workshop, kernel):
    compare_with_exact(workshop, kernel)


@GENERATED
@given(workshop=near_ties())
def test_what_lies_on_a_step_or_is_exactly_whole_is_decided_as_in_fractions(workshop, kernel):
    compare_with_exact(workshop, kernel)


@pytest.mark.parametrize(("folder", "variants"), [(tin_lane, 7), (alder_wharf, 15)])
@pytest.mark.parametrize(("expected", "run"), FILES)
def test_a_folder_is_what_an_independent_exact_calculation_makes_of_it(folder, variants, expected, run, kernel):
    """The second has all of the contract in it: parts, sizes, plating, castings bought, tiers, a channel abroad."""
    exact = json.loads((folder() / expected).read_text(encoding="utf-8"))
    computed = cost(folder(), asked_for(DAY, run)).computed
    assert len(exact) == variants
    assert differences(variant_records(computed), exact) == []
    assert differences(variant_records(compiled(computed, kernel)), exact) == []
