"""Alloying by the balance, and metal for a weighed tree, against what bench books print."""

from __future__ import annotations

import pytest

from pricing.errors import UsageFault
from pricing.model.alloy import Alloy
from pricing.pouring.mixing import brought_to, charge_for_tree, recipe


def alloy(density=10.0, melt_loss=0.0, **composition):
    stated = {"name": "Metal", "density": density, "composition": composition, "priced_by": "content"}
    return Alloy(**stated, melt_loss=melt_loss)


def test_a_customers_nine_carat_up_to_fourteen():
    """(wanted - old) / (24 - wanted) by carat, the jewellers' rule of alligation (common practice, printed in bench
    books): 9 ct up to 14 ct takes 5 / 10, half its mass of fine gold. In shares: (0.585 - 0.375) / 0.415 = 0.50602."""
    nine, fourteen = alloy(Au=9 / 24, Cu=15 / 24), alloy(Au=14 / 24, Cu=10 / 24)
    found = brought_to(10.0, nine, fourteen)
    assert (found.element, found.add_fine_g, found.add_base_g) == ("Au", pytest.approx(5.0, rel=1e-12), 0.0)
    assert 10.0 * 9 / 24 + found.add_fine_g == pytest.approx(found.comes_to_g * 14 / 24, rel=1e-12)  # gold is kept
    marks = brought_to(10.0, alloy(Au=0.375, Cu=0.625), alloy(Au=0.585, Cu=0.415))
    assert marks.add_fine_g == pytest.approx(10 * 0.210 / 0.415, rel=1e-12)


def test_fine_silver_down_to_sterling():
    """1,000 g of fine silver take 1000 × (1 / 0.925 - 1) = 81.08 g of copper (bench books, from memory)."""
    found = brought_to(1000.0, alloy(Ag=1.0), alloy(Ag=0.925, Cu=0.075))
    assert found.add_base_g == pytest.approx(81.08, abs=0.005) and found.add_fine_g == 0
    assert recipe(1000.0, alloy(Ag=1.0), alloy(Ag=0.925, Cu=0.075)) == pytest.approx({"Ag": 0.0, "Cu": 1000 * 3 / 37})


def test_a_recipe_makes_the_very_composition_and_takes_nothing_out():
    """10 g with 1 g of silver: the new alloy has 4 % of it, so there are 25 g at least, each element filled up."""
    old, new = alloy(Au=0.375, Ag=0.10, Cu=0.45, Zn=0.075), alloy(Au=0.585, Ag=0.04, Cu=0.312, Zn=0.063)
    added = recipe(10.0, old, new)
    assert sum(added.values()) == pytest.approx(15.0, rel=1e-12) and added["Ag"] == pytest.approx(0.0, abs=1e-12)
    for element, share in new.composition.items():
        assert 10 * old.composition[element] + added[element] == pytest.approx(25 * share, rel=1e-12)


def test_what_no_addition_does_is_told():
    with pytest.raises(UsageFault, match="no precious metal in common"):
        brought_to(1.0, alloy(Cu=1.0), alloy(Ag=1.0))
    with pytest.raises(UsageFault, match="that is a refiner's work"):
        brought_to(1.0, alloy(Ag=0.8, Cu=0.2), alloy(Ag=1.0))
    with pytest.raises(UsageFault, match="holds no Zn"):
        recipe(1.0, alloy(Ag=0.8, Zn=0.2), alloy(Ag=0.9, Cu=0.1))


def test_metal_for_a_weighed_tree():
    """Romanoff, calculate-weight-metal-jewelry-casting-tips-tricks (seen): tree on its base 43.5 g, base 38 g: silver
    (10.5) 57.75 g. With wax of 0.96 (Untracht: 0.95 to 0.98) it is 5.5 / 0.96 × 10.5; with a button of 2 cm3 and a
    tenth lost in the melt (57.75 + 21) / 0.9 = 87.5."""
    silver = alloy(10.5, Ag=1.0)
    assert charge_for_tree(43.5 - 38, 1.0, silver) == pytest.approx(57.75, rel=1e-12)
    assert charge_for_tree(5.5, 0.96, silver) == pytest.approx(5.5 / 0.96 * 10.5, rel=1e-12)
    assert charge_for_tree(5.5, 1.0, alloy(10.5, 0.1, Ag=1.0), 2.0) == pytest.approx(87.5, rel=1e-12)
