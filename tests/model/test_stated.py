"""What holds of every stated model: closed, frozen, described, and a JSON Schema with numbers as numbers."""

from __future__ import annotations

import jsonschema
import pytest
from pydantic import BaseModel, ValidationError

from pricing.model import alloy, base, channel, doubt, process, product, quote, stated, workshop

MODULES = (alloy, channel, doubt, process, product, quote, stated, workshop)
MODELS = sorted(
    {
        kind
        for module in MODULES
        for kind in vars(module).values()
        if isinstance(kind, type) and issubclass(kind, base.StatedModel) and kind is not base.StatedModel
    },
    key=lambda kind: kind.__name__,
)


@pytest.mark.parametrize("model", MODELS)
def test_every_key_says_what_it_means(model):
    for name, field in model.model_fields.items():
        assert field.description and field.description.endswith("."), f"{model.__name__}.{name}"


@pytest.mark.parametrize("model", MODELS)
def test_no_key_hides_what_a_model_can_do(model):
    assert not set(model.model_fields) & set(dir(BaseModel))


@pytest.mark.parametrize("model", MODELS)
def test_unknown_keys_are_refused(model):
    with pytest.raises(ValidationError) as raised:
        model.model_validate({"unheard-of": 1})
    assert "extra_forbidden" in {error["type"] for error in raised.value.errors()}


def test_models_are_frozen():
    role = workshop.Role(rate=24.0)
    with pytest.raises(ValidationError):
        role.rate = 25.0


@pytest.mark.parametrize("value", ["24", " 24 ", "1_000", "٢٤", True, False, None, float("nan"), float("inf"), [24]])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValidationError):
        workshop.Role.model_validate({"rate": value})


def test_a_whole_number_is_a_number():
    assert workshop.Role.model_validate({"rate": 24}).rate == 24.0
    assert isinstance(workshop.Role.model_validate({"rate": 24}).rate, float)


@pytest.mark.parametrize(
    ("model", "good", "bad"),
    [
        (workshop.Role, {"rate": 24.5, "on_cost": 0}, {"rate": "heavy"}),
        (product.Casting, {"name": "a", "count": 2, "volume_cm3": 3}, {"name": "a", "count": "2", "volume_cm3": 3}),
        (process.Use, {"material": "wax", "quantity": "flask"}, {"material": "wax", "quantity": "many"}),
        (process.Use, {"material": "wax", "quantity": 2.5}, {"material": "wax", "quantity": True}),
        (channel.Policy, {"margin": 0.25}, {"margin": "a quarter"}),
    ],
)  # fmt: skip
def test_a_schema_for_editors(model, good, bad):
    schema = model.model_json_schema()
    jsonschema.validate(good, schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(bad, schema)


def test_the_schema_of_the_whole_names_the_keys_as_they_are_written():
    assert "schema" in workshop.Workshop.model_json_schema()["properties"]
    for file in (stated.AlloysFile, stated.ProcessesFile, stated.ChannelsFile, stated.DoubtsFile):
        jsonschema.Draft202012Validator.check_schema(file.model_json_schema())


def test_defaults_are_those_of_the_folder_s_page():
    """The values that the description of the workshop folder states key by key."""
    lean = workshop.Workshop(name="F", currency="GBP", overhead={"per_month": 1, "productive_hours": 1})
    assert (lean.schema_version, lean.stale_after_days, lean.max_return_share, lean.unreclaimed_tax) == (1, 7, 0.5, 0)
    assert (lean.show.mass, lean.show.length, lean.show.temperature) == ("g", "mm", "C")
    machine = workshop.Machine(purchase=1, life_hours=1)
    assert (machine.residual, machine.maintenance_per_hour, machine.power_kw, machine.duty) == (0, 0, 0, 1)
    step = process.Step(name="a", per="set")
    assert (step.minutes, step.rework, step.machine_minutes, step.good, step.together) == (0, 0, 0, 1, 1)
    assert (step.shared, step.metal_loss, step.caught, step.rejects, step.from_g, step.alloys) == (
        False, 0, 0, "crucible", 0, None,
    )  # fmt: skip
    fee = channel.Fee(name="a")
    assert (fee.of, fee.per, fee.share, fee.taxed, fee.min, fee.max) == ("item", "order", 1, True, 0, None)
    shop = channel.Channel(audience="retail", policy={"margin": 0.2})
    assert (shop.tax.rate, shop.tax.included, shop.units_per_order) == (0, False, 1)
    assert (shop.discount, shop.packing, shop.minutes, shop.refund_share, shop.least_price) == (0, 0, 0, 0, 0)
    assert (shop.rounding.step, shop.rounding.ending, shop.rounding.direction) == (None, 0, "up")


def test_the_hours_of_a_week_are_those_that_the_overhead_is_spread_over():
    month = {"per_month": 1, "productive_hours": 92}
    plain = workshop.Workshop(name="F", currency="GBP", overhead=month)
    assert plain.hours_a_week == pytest.approx(92 * 12 / 46)  # 46 weeks are worked where nobody says otherwise: 24 h
    told = workshop.Workshop(name="F", currency="GBP", overhead=month, week={"weeks_a_year": 48, "pieces_good": 0.9})
    assert told.hours_a_week == pytest.approx(92 * 12 / 48)
    for slip in ({"weeks_a_year": 54}, {"weeks_a_year": 0}, {"pieces_good": 90}, {"bench_hours": 28}):
        with pytest.raises(ValidationError):
            workshop.Week(**slip)


def test_every_default_holds_to_its_own_rule():
    """A figure that is not stated has the kind that a stated one would have."""
    for model in MODELS:
        for name, field in model.model_fields.items():
            if not field.is_required() and field.annotation is float:
                assert isinstance(field.default, float), f"{model.__name__}.{name}"
