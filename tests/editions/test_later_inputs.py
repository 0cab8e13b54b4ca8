"""An edition that was frozen before an input was there."""

from __future__ import annotations

import json

import pytest
from pydantic import ValidationError

from pricing.costing import asked_for, cost
from pricing.editions.inputs import frozen_inputs, thawed_inputs
from pricing.resources import sample_catalog


def without(table: str, name: str) -> tuple:
    resolved = cost(sample_catalog(), asked_for(None)).computed.resolved
    frozen = json.loads(json.dumps(frozen_inputs(resolved)))
    kept = frozen["tables"][table]
    place = kept["columns"].index(name)
    kept["columns"].pop(place)
    for row in kept["rows"]:
        row.pop(place)
    return resolved, thawed_inputs(frozen)


def test_a_later_input_is_what_a_folder_comes_to_that_does_not_state_it():
    _, thawed = without("machine", "duty")
    assert {row.duty for row in thawed.machines} == {1.0}  # Machine.duty's default; idle would be 0
    _, thawed = without("step", "goes_to_refiner")
    assert not any(step.goes_to_refiner for row in thawed.variants for step in row.steps)
    _, thawed = without("fee", "fee_max")
    assert {fee.fee_max for row in thawed.channels for fee in row.fees} <= {None}


def test_what_must_be_stated_cannot_be_missing():
    with pytest.raises(ValidationError):
        without("role", "wage")
