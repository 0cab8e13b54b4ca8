"""What must be marked, and how many fill a parcel."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.errors import UsageFault
from pricing.parcels.assay import Parcel, lying_of, marked, parcels
from pricing.parcels.exemption import UNITED_KINGDOM, metal_under_law, must_be_marked
from pricing.resources import sample_catalog


@pytest.fixture(scope="module")
def fernhollow():
    return cost(sample_catalog(), asked_for(date(2026, 11, 20)))


@pytest.mark.parametrize(
    ("metal", "below", "at"), [("Au", 0.99, 1.0), ("Ag", 7.77, 7.78), ("Pt", 0.49, 0.5), ("Pd", 0.99, 1.0)]
)
def test_the_published_exemption_weights(metal, below, at):
    """Hallmarking Act 1973, Schedule 1, Part II as amended, as the assay offices print it: exempt are gold under 1 g,
    silver under 7.78 g (a quarter of a troy ounce), platinum under 0.5 g, palladium under 1 g."""
    assert not must_be_marked(metal, below) and must_be_marked(metal, at)
    assert UNITED_KINGDOM["Ag"].below_g == pytest.approx(31.1034768 / 4, abs=0.005)


def test_less_than_the_least_fineness_is_none_of_the_metal():
    assert metal_under_law({"Ag": 0.925, "Cu": 0.075}) == "Ag"
    assert metal_under_law({"Au": 0.375, "Ag": 0.10, "Cu": 0.525}) == "Au"
    assert metal_under_law({"Au": 0.333, "Ag": 0.10, "Cu": 0.567}) is None  # eight carat
    assert metal_under_law({"Cu": 0.65, "Zn": 0.35}) is None


def test_what_fernhollow_marks_is_what_its_processes_say(fernhollow):
    found = {(each.sku, each.alloy): each for each in marked(fernhollow)}
    knob = found["acorn-knob", "sterling"]
    assert knob.steps == ("hallmark, silver", "assay parcel, silver") and knob.pieces == 2
    assert found["thimble", "sterling"].steps == () and found["thimble", "sterling"].law is False
    assert found["beetle-pin", "gold-9ct"].law is True
    assert ("acorn-knob", "yellow-brass") not in found
    # Of an article of precious and other metal the weight of the precious one counts (assay offices' leaflets, from
    # memory): the silver hare of 3 g, and not the 7.5 g of bronze that it sits on.
    hare = found["hare-pendant", "silicon-bronze"]
    assert hare.law is False and hare.piece_g == pytest.approx(found["silver-hare", "sterling"].piece_g)
    assert not any(each.differs for each in found.values())  # the sample keeps the published limits
    # six buttons of 3.6 g, each an article: its own file takes the cost of the parcel away
    assert found["button-set", "sterling"].steps == () and found["button-set", "sterling"].pieces == 6


def test_what_marking_a_set_costs_is_what_its_steps_cost(fernhollow):
    computed = fernhollow.computed
    lines = ("step_fee_cost", "step_labour_cost", "step_overhead_cost")
    knob = next(each for each in marked(fernhollow) if (each.sku, each.alloy) == ("acorn-knob", "sterling"))
    row = next(
        place for place, each in enumerate(computed.resolved.variants)
        if (each.sku, each.alloy) == ("acorn-knob", "sterling")
    )  # fmt: skip
    names = [step.name for step in computed.resolved.variants[row].steps]
    places = [names.index(name) for name in knob.steps]
    assert knob.cost == pytest.approx(sum(float(computed[line][row, place]) for line in lines for place in places))


def test_how_many_to_hold_back():
    """29 of parcels of 25: one goes, 4 are left, and 21 more fill the next; sent now they pay 40 / 4 each."""
    parcel = Parcel("parcel", "set", 25.0, 40.0, {("a", "sterling"): 9.0, ("b", "sterling"): 20.0}, ())
    assert (parcel.full, parcel.left, parcel.to_fill) == (1, 4.0, 21)
    assert (parcel.cost_of_each(parcel.left), parcel.when_full) == (10.0, 1.6)
    assert Parcel("parcel", "set", 25.0, 40.0, {("a", "sterling"): 25.0}, ()).to_fill == 0
    assert Parcel("parcel", "set", 25.0, 40.0, {}, ()).to_fill == 25


def test_a_parcel_takes_what_its_step_takes(fernhollow):
    silver, gold = parcels(fernhollow, lying_of(["acorn-knob:sterling=9", "acorn-knob:sterling=1"]))
    assert (silver.holds, silver.ready, gold.ready) == (50, 20, 0)  # ten pairs
    assert ("beetle-pin", "gold-14ct") in gold.takes and silver.lying == {("acorn-knob", "sterling"): 20.0}


def test_what_is_no_count_and_what_goes_into_no_parcel_is_told(fernhollow):
    with pytest.raises(UsageFault, match="write SKU:ALLOY=COUNT"):
        lying_of(["acorn-knob=9"])
    with pytest.raises(UsageFault, match='there is no "acorn-knob:silver". Did you mean "acorn-knob:sterling"'):
        parcels(fernhollow, {("acorn-knob", "silver"): 1.0})
