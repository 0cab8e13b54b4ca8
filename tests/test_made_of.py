"""What is in one set: every metal with its grams, by hand."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.made_of import contents_of, plated_on
from tests.folders import alder_wharf


@pytest.fixture(scope="module")
def computed():
    return cost(alder_wharf(), asked_for(date(2026, 11, 20))).computed


def contents(computed, sku: str):
    row = next(row for row, each in enumerate(computed.resolved.variants) if each.sku == sku)
    return contents_of(computed, row), float(computed["total_g"][row])


def test_a_brooch_of_two_metals_with_a_pin_that_is_neither(computed):
    """Leaf: 1.05 cm3 of bronze at 8.78, less 3 % and 0.3 %; charm: 2.9 g as cast, less 2 %; the pin 1.4 g of steel."""
    found, total = contents(computed, "anchor-leaf")
    leaf, charm = 1.05 * 8.78 * 0.97 * 0.997, 2.9 * 0.98
    assert [metal.alloy for metal in found.metals] == ["bronze", "sterling"]
    assert [metal.grams for metal in found.metals] == pytest.approx([leaf, charm], rel=1e-12)
    assert found.other_g == pytest.approx(1.4)
    assert total == pytest.approx(leaf + charm + 1.4, rel=1e-12)


def test_a_gift_set_holds_what_its_pieces_hold_down_to_the_bail_and_the_chain(computed):
    """No metal of its own; of the pendant's spoil of bails nothing is in the box; card 6 g and garnet 0.05 g."""
    found, total = contents(computed, "tide-set")
    parts = [contents(computed, sku) for sku in ("fern-pendant", "drop-studs", "tide-bangle")]
    grams = sum(part.metals[0].grams for part, _ in parts)
    assert [(metal.alloy, metal.grams) for metal in found.metals] == [("sterling", pytest.approx(grams, rel=1e-12))]
    pendant = 0.52 * 10.36 * 0.97 + 0.041 * 10.36 * 0.97 * 0.997 + 3.2
    assert parts[0][0].metals[0].grams == pytest.approx(pendant, rel=1e-12)
    assert found.other_g == pytest.approx(6.05) and total == pytest.approx(grams + 6.05, rel=1e-12)


def test_metals_and_the_rest_add_up_to_what_goes_into_the_parcel(computed):
    for row in range(len(computed.resolved.variants)):
        found = contents_of(computed, row)
        assert found.all_metals_g + found.other_g == pytest.approx(float(computed["total_g"][row]), rel=1e-12)


def test_a_gilded_layer_weighs_surface_by_thickness_by_density_in_the_box_too(computed):
    """8.1 cm2, nine tenths of it 2.5 microns thick (0.00025 cm) in gold of 19.3 g/cm3."""
    for sku in ("fern-pendant", "tide-set"):
        row = next(row for row, each in enumerate(computed.resolved.variants) if each.sku == sku)
        (layer,) = plated_on(computed, row)
        assert (layer.alloy, layer.grams) == ("fine-gold", pytest.approx(8.1 * 0.9 * 0.00025 * 19.3, rel=1e-12))
    assert plated_on(computed, 0) == ()
