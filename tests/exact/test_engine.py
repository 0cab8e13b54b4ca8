"""The engine against the exact re-computation, on the example and on generated workshops of every shape."""

from __future__ import annotations

import json
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from pricing.costing import asked_for, cost
from pricing.records import variant_records
from tests.exact.compare import differences
from tests.exact.near_ties import near_ties
from tests.exact.recompute import recompute
from tests.exact.workshop_writer import Workshop, write
from tests.exact.workshops import workshops
from tests.folders import tin_lane

GENERATED = settings(max_examples=150, suppress_health_check=list(HealthCheck), deadline=None)


def engine_records(folder: Path, workshop: Workshop) -> list[dict]:
    asked = asked_for(workshop.as_of, workshop.run, workshop.charge_design)
    return variant_records(cost(folder, asked).computed)


def compare_with_exact(workshop: Workshop) -> None:
    with tempfile.TemporaryDirectory() as directory:
        folder = write(workshop, Path(directory))
        calls: list = []
        exact = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design, close_calls=calls)
        edges = [call for call in calls if call.kind == "edge"]
        assert not differences(engine_records(folder, workshop), exact, close_calls=edges)


@GENERATED
@given(workshop=workshops())
def test_generated_workshops_are_computed_exactly(workshop):
    compare_with_exact(workshop)


@GENERATED
@given(workshop=near_ties())
def test_what_lies_on_a_step_or_is_exactly_whole_is_decided_as_in_fractions(workshop):
    compare_with_exact(workshop)


@pytest.mark.parametrize(("expected", "run"), [("expected.json", None), ("expected_run_25.json", 25)])
def test_the_example_is_what_an_independent_exact_calculation_makes_of_it(expected, run):
    exact = json.loads((tin_lane() / expected).read_text(encoding="utf-8"))
    got = variant_records(cost(tin_lane(), asked_for(date(2026, 11, 20), run)).computed)
    assert not differences(got, exact)
