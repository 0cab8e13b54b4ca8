"""What a lot settles at: by hand, and by a published example."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pricing.cli.screens.parcels import should_be_paid
from pricing.costing import asked_for, cost
from pricing.drawer.model import Entry, Line
from pricing.errors import UsageFault
from pricing.model.refiner import Payable, Refiner
from pricing.parcels.refining import Sent, fine_content, lot_in_drawer, reckoned, settlement
from pricing.shown import Shown
from pricing.units import GRAMS_PER
from tests.learning.harbour import AS_OF, write_folder

TERMS = Refiner(
    name="Quayside", metals={"Ag": Payable(paid=0.95, charge_per_ozt=0.5, from_g=30.0)}, lot_charge=10.0,
    minimum_charge=12.0, least_lot_g=150.0, lemel_metal=0.9,
)  # fmt: skip
#: Silver of Harbour Lane: 30.00 a troy ounce.
A_GRAM = 30 / 31.1034768


@pytest.fixture(scope="module")
def harbour(tmp_path_factory):
    return cost(write_folder(tmp_path_factory.mktemp("harbour")), asked_for(AS_OF))


def with_terms(costing, **changed):
    stated = costing.folder.stated.model_copy(update={"refiners": {"quay": TERMS.model_copy(update=changed)}})
    return replace(costing, folder=replace(costing.folder, stated=stated))


def test_a_lot_by_hand(harbour):
    """400 g of scrap and 100 g of lemel, nine tenths metal: 490 g of sterling hold 453.25 g of silver."""
    found = settlement(with_terms(harbour), "quay", [Sent("sterling", 400.0), Sent("sterling", 100.0, True)])
    (silver,) = found.metals
    assert silver.fine_g == pytest.approx(490 * 0.925)
    assert silver.paid_g == pytest.approx(453.25 * 0.95)
    assert found.value == pytest.approx(453.25 * 0.95 * A_GRAM)
    assert silver.charge == pytest.approx(453.25 / 31.1034768 * 0.5)
    assert found.charges == pytest.approx(10 + 7.286, abs=1e-3)
    assert found.expected == pytest.approx(found.value - found.charges)
    assert found.short_by(400.0) == pytest.approx(found.expected - 400)
    assert found.too_small_by_g == 0


def test_a_published_settlement():
    """ "The Gold Refinery Settlement Process", a refiner's guide: 24.96 kg assaying 91.3 % hold 22.79 kg or 732.7 troy
    ounces of gold; payable at 99 % are 22.56 kg (printed as 725.4 ounces, from rounded figures)."""
    from pricing.model.alloy import Alloy

    bar = Alloy(name="bar", density=17.0, composition={"Au": 0.913, "Ag": 0.087}, priced_by="content", melt_loss=0.0)
    fine = fine_content([Sent("bar", 24_960.0)], {"bar": bar})["Au"]
    assert fine / 1000 == pytest.approx(22.79, abs=0.005)
    assert fine / GRAMS_PER["ozt"] == pytest.approx(732.7, abs=0.05)
    assert fine * 0.99 / 1000 == pytest.approx(22.56, abs=0.005)
    assert fine * 0.99 / GRAMS_PER["ozt"] == pytest.approx(725.4, abs=0.1)


def test_charges_are_never_less_than_the_minimum(harbour):
    """100 g hold 92.5 g of silver: refining 1.487, with the lot 11.49, and the least is 12."""
    found = settlement(with_terms(harbour), "quay", [Sent("sterling", 100.0)])
    assert found.charges == 12.0
    assert found.too_small_by_g == 50.0
    assert found.content_paid(found.expected) == pytest.approx(1.0)


def test_a_lot_that_brings_nothing_says_so_in_its_sentence(harbour):
    """10 g hold 9.25 g of silver, of less than 30 g nothing is paid, 12 is charged at least; the least lot is 150 g."""
    found, shown = settlement(with_terms(harbour), "quay", [Sent("sterling", 10.0)]), Shown("GBP")
    more = "12.00 GBP more than the metal brings"
    small = ", and the lot is 140.00 g below the least"
    assert should_be_paid(found, shown, "GBP") == f"Nothing should be paid: the charges are {more}{small}"
    paid = settlement(with_terms(harbour), "quay", [Sent("sterling", 100.0)])
    assert paid.expected > 0
    said = f"Should be paid: {paid.value - 12:,.2f} GBP, and the lot is 50.00 g below the least"
    assert should_be_paid(paid, shown, "GBP") == said


def test_how_much_of_the_content_a_short_settlement_would_mean(harbour):
    sent = [Sent("sterling", 400.0)]
    whole, less = (settlement(with_terms(harbour), "quay", [Sent("sterling", grams)]) for grams in (400.0, 360.0))
    assert settlement(with_terms(harbour), "quay", sent).content_paid(less.expected) == pytest.approx(0.9)
    assert whole.content_paid(whole.expected) == pytest.approx(1.0)


def test_too_little_content_is_not_paid_for(harbour):
    """30 g of sterling hold 27.75 g of silver, less than 30: nothing is paid, and the charges are the least."""
    found = settlement(with_terms(harbour), "quay", [Sent("sterling", 30.0)])
    assert (found.value, found.expected) == (0.0, -12.0)
    assert found.content_paid(5.0) is None


def test_what_the_files_reckon_is_the_engines_own(harbour):
    """scrap_payout 0.9 of 0.925 of silver; brass has no payout. Lemel has none either."""
    sent = [Sent("sterling", 200.0), Sent("sterling", 50.0, True), Sent("brass", 500.0)]
    assert reckoned(harbour, sent) == pytest.approx(200 * 0.925 * A_GRAM * 0.9)


def test_a_metal_without_a_price_is_told(harbour):
    copper = with_terms(harbour, metals={"Cu": Payable(paid=0.5)})
    with pytest.raises(UsageFault, match="copper has no price on or before 2026-11-20"):
        settlement(copper, "quay", [Sent("brass", 500.0)])


def test_gold_that_a_refiner_does_not_pay_for_is_named(harbour):
    silver_only = with_terms(harbour, metals={"Pt": Payable(paid=0.9)})
    found = settlement(silver_only, "quay", [Sent("sterling", 100.0)])
    assert found.unpaid == {"Ag": pytest.approx(92.5)} and found.metals == ()


def test_the_lot_that_lies_in_the_drawer(tmp_path):
    from pricing.drawer.adding import write_entry

    root = write_folder(tmp_path)
    lines = (
        Line(what="bought", alloy="sterling", form="returned", grams=80, money=40),
        Line(what="swept", alloy="sterling", form="lemel", grams=60),
        Line(what="swept", alloy="brass", form="lemel", grams=900),
    )
    write_entry(root, Entry(day=AS_OF, lines=lines, currency="GBP"))
    costing = cost(root, asked_for(AS_OF))
    assert lot_in_drawer(costing) == (Sent("sterling", 60.0, True),)  # brass filings are no refiner's
    assert lot_in_drawer(costing, with_returned=True) == (Sent("sterling", 80.0), Sent("sterling", 60.0, True))
