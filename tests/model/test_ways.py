"""Where exactly one of several ways must be stated: policies, uses, volumes of castings."""

from __future__ import annotations

from itertools import combinations

import pytest
from pydantic import ValidationError

from pricing.model.channel import Policy
from pricing.model.process import Use
from pricing.model.product import Casting

POLICY_WAYS = {
    "margin": {"margin": 0.25},
    "markup": {"markup": 1.5},
    "earn": {"earn": 30.0},
    "multiple": {"multiple": 2.5},
    "metal_and_work": {"metal_multiple": 1.3, "work_multiple": 2.0},
    "keystone_of": {"keystone_of": "trade", "multiple": 2.0},
    "fixed": {"fixed": 25.0},
}


@pytest.mark.parametrize(("kind", "keys"), POLICY_WAYS.items())
def test_every_policy(kind, keys):
    assert Policy.model_validate(keys).kind == kind


def test_two_policies_at_once():
    """Any two ways together are refused, save that `multiple` is a part of `keystone_of`."""
    for (_, first), (_, second) in combinations(POLICY_WAYS.items(), 2):
        together = {**first, **second}
        if together.keys() == POLICY_WAYS["keystone_of"].keys():
            continue
        with pytest.raises(ValidationError):
            Policy.model_validate(together)


@pytest.mark.parametrize("half", [{"metal_multiple": 1.3}, {"work_multiple": 2.0}, {"keystone_of": "trade"}, {}])
def test_half_a_policy(half):
    with pytest.raises(ValidationError):
        Policy.model_validate(half)


USE_WAYS = [{"quantity": 2.0}, {"quantity": "flask"}, {"per_cm3": 1.2}, {"per_cm2": 0.03}, {"per_g": 0.004}]


@pytest.mark.parametrize("keys", USE_WAYS)
def test_every_use(keys):
    assert Use.model_validate({"material": "wax", **keys}).kind == next(iter(keys))


@pytest.mark.parametrize(("first", "second"), list(combinations(USE_WAYS[1:], 2)))
def test_two_uses_at_once(first, second):
    with pytest.raises(ValidationError, match="stands beside"):
        Use.model_validate({"material": "wax", **first, **second})


VOLUME_WAYS = [
    {"volume_cm3": 2.31},
    {"mesh": "meshes/knob.stl"},
    {"model_g": 2.5, "model_density": 1.12},
    {"metal_g": 21.4, "in_alloy": "sterling", "weighed": "finished"},
]


@pytest.mark.parametrize("keys", VOLUME_WAYS)
def test_every_volume(keys):
    assert Casting.model_validate({"name": "knob", "count": 2, **keys}).kind == next(iter(keys))
    for key in keys if len(keys) > 1 else ():
        with pytest.raises(ValidationError, match=f"{key} is missing beside it"):
            Casting.model_validate({"name": "knob", "count": 2, **{k: v for k, v in keys.items() if k != key}})


@pytest.mark.parametrize(("first", "second"), list(combinations(VOLUME_WAYS, 2)))
def test_two_volumes_at_once(first, second):
    with pytest.raises(ValidationError, match="stands beside"):
        Casting.model_validate({"name": "knob", "count": 2, **first, **second})
