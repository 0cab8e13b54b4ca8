"""An input says once what it is; what it says wrongly, or what nobody states though it must, is refused."""

from __future__ import annotations

from typing import ClassVar

import pytest
from pydantic import ValidationError

from pricing.model.given import NotStated, Row, given, leads_to, row_of
from pricing.model.process import Step, StepFigures
from pricing.model.product import BY_ALLOY, OwnInAlloy, Product
from pricing.model.rows import StepRow, VariantRow

OPEN = {"alloy": "sterling", "is_cut": False, "castings": (), "findings": (), "steps": (), "prices": ()} | {
    "is_bought": False,
    "master_inner_mm": 0.0,
    "sizes": (),
    "links": (),
    "parts": (),
}


def test_a_required_figure_that_nothing_states_is_refused():
    product = Product(sku="knob", name="Knob", flask="small")
    with pytest.raises(NotStated, match="variant: sprue_ratio is missing.*Add gram of sprues"):
        row_of(VariantRow, product, **OPEN)
    stated = product.model_copy(update={"sprue_ratio": 0.4})
    assert row_of(VariantRow, stated, **OPEN).sprue_ratio == 0.4


def test_a_path_that_leads_nowhere_is_refused_when_the_class_is_made():
    with pytest.raises(TypeError, match=r'Wrong\.wage: nothing is stated at "workshop\.labour\.\*\.pay"'):

        class Wrong(Row, at="workshop.labour.*"):
            table: ClassVar[str] = "role"
            wage: float = given("cur/h", "Pay.", at="pay")


def test_a_need_that_the_row_does_not_have_is_refused_when_the_class_is_made():
    with pytest.raises(TypeError, match='minutes needs "roll", which the row does not have'):

        class Wrong(Row, at="processes.*.*"):
            table: ClassVar[str] = "step"
            role: str | None = leads_to("role", at="labour")
            minutes: float = given("min", "Attended minutes.", needs="roll")


def test_what_an_input_needs_says_whether_it_has_an_effect():
    idle = {name: known.absent for name, known in StepRow.inputs.items() if known.unit}
    step = StepRow.model_construct(**idle, name="fit", role=None, machine=None, uses=())
    minutes, loss = StepRow.inputs["step_minutes"], StepRow.inputs["metal_loss"]
    assert not minutes.has_effect(step)
    assert minutes.has_effect(step.model_copy(update={"role": "bench"}))
    after = step.model_copy(update={"is_from_metal": True})
    assert loss.has_effect(after)
    assert not loss.has_effect(after.model_copy(update={"from_g": 20.0}))


def test_figures_that_take_the_place_of_others_have_their_keys_and_limits():
    """Nobody writes the keys of a product's own figures a second time."""
    assert set(StepFigures.model_fields) == set(Step.model_fields) - {"name"}
    by_alloy = {key for key, field in Product.model_fields.items() if BY_ALLOY in field.metadata}
    assert set(OwnInAlloy.model_fields) == by_alloy > {"sprue_ratio", "steps"}
    assert StepFigures().good is None and OwnInAlloy().steps == {}
    for made in (lambda: StepFigures(good=0.0), lambda: StepFigures(per="pieces"), lambda: OwnInAlloy(shrinkage=1.0)):
        with pytest.raises(ValidationError):
            made()
