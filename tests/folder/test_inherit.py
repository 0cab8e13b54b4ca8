"""`like`, own figures for steps, and own figures in one alloy."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from pricing.errors import Faults
from pricing.folder.inherit import circles, figures_of, inherited, steps_of
from pricing.model.process import Step
from pricing.model.product import Product


def product(sku: str, **stated) -> Product:
    return Product.model_validate({"sku": sku, "name": sku.title(), **stated})


KNOB = product(
    "knob",
    scale=2.0,
    sold_as="pair",
    alloys=["brass", "sterling"],
    process="cast",
    sprue_ratio=0.45,
    castings=[{"name": "knob", "count": 2, "volume_cm3": 2.31}],
    findings=[{"name": "stud", "quantity": 2, "price": 0.11}],
    sold_in=["shop", "trade"],
    steps={"grind": {"minutes": 5, "fee": 1}, "pour": {"good": 0.9}},
    for_alloy={"sterling": {"sprue_ratio": 0.6, "flask": "small", "steps": {"grind": {"minutes": 7}}}},
    in_channel={"shop": {"policy": {"metal_multiple": 1.3, "work_multiple": 2}, "least_price": 9}},
)
PROCESS = tuple(
    Step.model_validate(step)
    for step in (
        {"name": "pour", "per": "flask", "takes_metal": "pour"},
        {"name": "grind", "per": "piece", "labour": "bench", "minutes": 3},
        {"name": "mark", "per": "set", "fee": 28, "alloys": ["sterling"]},
    )
)


def test_a_product_without_like_is_the_very_same():
    assert inherited({"knob": KNOB})["knob"] is KNOB


def test_what_is_not_stated_is_taken():
    cousin = inherited({"knob": KNOB, "cousin": product("cousin", like="knob", sprue_ratio=0.5)})["cousin"]
    assert (cousin.sku, cousin.name, cousin.like) == ("cousin", "Cousin", "knob")
    assert cousin.scale == 1  # its own: a scale is not taken
    assert cousin.sprue_ratio == 0.5
    for key in ("sold_as", "alloys", "process", "castings", "findings", "sold_in", "steps", "for_alloy", "in_channel"):
        assert getattr(cousin, key) == getattr(KNOB, key), key
    assert cousin.photo is None


def test_tables_are_taken_key_by_key():
    cousin = inherited(
        {
            "knob": KNOB,
            "cousin": product(
                "cousin",
                like="knob",
                steps={"grind": {"minutes": 4}, "mark": {"fee": 2}},
                for_alloy={"sterling": {"flask": "tall", "steps": {"pour": {"good": 0.8}}}, "gold": {"sprue_ratio": 1}},
            ),
        }
    )["cousin"]
    assert stated(cousin.steps["grind"]) == {"minutes": 4, "fee": 1}
    assert stated(cousin.steps["pour"]) == {"good": 0.9}
    assert stated(cousin.steps["mark"]) == {"fee": 2}
    assert stated(cousin.for_alloy["sterling"]) == {
        "sprue_ratio": 0.6, "flask": "tall", "steps": {"grind": {"minutes": 7}, "pour": {"good": 0.8}},
    }  # fmt: skip
    assert stated(cousin.for_alloy["gold"]) == {"sprue_ratio": 1}


def stated(model) -> dict:
    return model.model_dump(exclude_none=True, exclude_defaults=True)


def test_lists_and_policies_are_taken_whole():
    own = product(
        "cousin", like="knob", alloys=["brass"], findings=[], in_channel={"shop": {"policy": {"margin": 0.3}}}
    )
    cousin = inherited({"knob": KNOB, "cousin": own})["cousin"]
    assert (cousin.alloys, cousin.findings) == (("brass",), ())
    assert stated(cousin.in_channel["shop"]) == {"policy": {"margin": 0.3}, "least_price": 9}


def test_a_chain_in_any_order():
    """c is like b is like a; each adds something, and the nearest that states a figure counts."""
    chain = {
        "c": product("c", like="b", sold_as="set"),
        "b": product("b", like="a", sprue_ratio=2.0),
        "a": product("a", sprue_ratio=1.0, process="cast", sold_as="pair"),
    }
    whole = inherited(chain)
    assert list(whole) == ["c", "b", "a"]
    assert (whole["c"].process, whole["c"].sprue_ratio, whole["c"].sold_as) == ("cast", 2.0, "set")


def test_a_long_chain_needs_no_deep_stack():
    chain = {"0": product("0", process="cast")}
    chain |= {str(number): product(str(number), like=str(number - 1)) for number in range(1, 3000)}
    assert inherited(dict(reversed(chain.items())))["2999"].process == "cast"


def test_circles():
    products = {
        "a": product("a", like="b"), "b": product("b", like="c"), "c": product("c", like="b"),
        "d": product("d", like="a"), "e": product("e"), "f": product("f", like="g"), "g": product("g", like="f"),
    }  # fmt: skip
    assert circles(products) == [("b", "c", "b"), ("f", "g", "f")]
    with pytest.raises(Faults) as raised:
        inherited(products)
    assert [str(fault) for fault in raised.value.faults] == [
        "products b.like: it goes in a circle: b -> c -> b. Let one of them state everything itself.",
        "products f.like: it goes in a circle: f -> g -> f. Let one of them state everything itself.",
    ]


def test_a_like_that_names_nothing():
    with pytest.raises(Faults) as raised:
        inherited({"knob": KNOB, "cousin": product("cousin", like="knbo")})
    assert str(raised.value) == 'products cousin.like: no product "knbo". Did you mean "knob"?'


def test_steps_without_own_figures_are_the_very_same():
    steps = steps_of(PROCESS, product("plain"), "sterling", {})
    assert [id(step) for step in steps] == [id(step) for step in PROCESS]
    pour, grind = steps_of(PROCESS, KNOB, "brass", {})
    assert pour is not PROCESS[0] and grind is not PROCESS[1]


def test_own_figures_of_the_alloy_come_last():
    pour, grind, mark = steps_of(PROCESS, KNOB, "sterling", {})
    assert (pour.good, grind.minutes, grind.fee, grind.labour, mark) == (0.9, 7, 1, "bench", PROCESS[2])
    assert steps_of(PROCESS, KNOB, "brass", {})[1].minutes == 5


def test_steps_of_other_alloys_are_left_out():
    assert [step.name for step in steps_of(PROCESS, KNOB, "brass", {})] == ["pour", "grind"]
    own = product("own", steps={"mark": {"alloys": ["brass"]}})
    assert [step.name for step in steps_of(PROCESS, own, "brass", {})] == ["pour", "grind", "mark"]
    assert [step.name for step in steps_of(PROCESS, own, "sterling", {})] == ["pour", "grind"]


def test_figures_for_a_step_of_another_process_count_nothing():
    assert steps_of(PROCESS, product("own", steps={"saw": {"minutes": 4}}), "sterling", {}) == PROCESS


def test_a_step_must_make_sense_with_own_figures():
    with pytest.raises(ValidationError, match="machine is missing"):
        steps_of(PROCESS, product("own", steps={"grind": {"machine_minutes": 4}}), "brass", {})


def test_figures_of_an_alloy():
    assert figures_of(KNOB, "brass") is KNOB
    silver = figures_of(KNOB, "sterling")
    assert (silver.sprue_ratio, silver.flask, silver.sold_in) == (0.6, "small", ("shop", "trade"))
    assert steps_of(PROCESS, silver, "sterling", {}) == steps_of(PROCESS, KNOB, "sterling", {})
    own = product(
        "own",
        in_channel={"shop": {"least_price": 9}, "fair": {"least_price": 1}},
        for_alloy={"gold": {"in_channel": {"shop": {"policy": {"fixed": 90}}}, "sold_in": ["shop"]}},
    )
    gold = figures_of(own, "gold")
    assert gold.in_channel["shop"].policy.kind == "fixed" and gold.in_channel["shop"].least_price == 9
    assert gold.in_channel["fair"].least_price == 1
    assert gold.sold_in == ("shop",)


def test_what_counts_as_stated_is_what_either_of_them_states():
    """A table that is empty because nothing is stated in it counts as stated by nobody."""
    whole = inherited({"knob": KNOB, "other": product("other", like="knob", scale=1.0)})["other"]
    assert whole.model_fields_set == KNOB.model_fields_set | {"like"}
    bare = inherited({"bare": product("bare"), "like": product("like", like="bare")})["like"]
    assert bare.model_fields_set == {"sku", "name", "like"} and bare.steps == {}
