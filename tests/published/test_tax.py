"""Tax in a price and on top of it: the tax authority's own figures, by quantity and through whole folders."""

import pytest

from pricing.quantities.selling import ex_tax_price, list_tax

from .small_workshop import material, priced

# HMRC, "Calculating VAT", VAT fractions, as reprinted at accountingservicesforbusiness.co.uk and bookkeepers.org.uk
# (seen): gross price, rate, fraction as printed, tax.
FRACTIONS = [
    (120.0, 0.20, (1, 6), 20.0),
    (117.50, 0.175, (7, 47), 17.50),
    (115.0, 0.15, (3, 23), 15.0),
    (210.0, 0.05, (1, 21), 10.0),
]


@pytest.mark.parametrize(("gross", "rate", "fraction", "tax"), FRACTIONS)
def test_vat_fractions(gross, rate, fraction, tax):
    part, whole = fraction
    taken_out = gross - ex_tax_price(gross, list_tax(True, rate))
    assert taken_out == pytest.approx(tax, rel=1e-12)
    assert taken_out == pytest.approx(gross * part / whole, rel=1e-12)


@pytest.mark.parametrize(("gross", "rate", "fraction", "tax"), FRACTIONS)
def test_vat_fractions_in_a_folder(tmp_path, gross, rate, fraction, tax):
    """A fixed price with tax in it; and a fee of a tenth on the net sales alone, which has no tax in it."""
    channel = {
        "policy": {"fixed": gross},
        "tax": {"rate": rate, "included": True},
        "fees": [{"name": "placement", "rate": 0.1, "taxed": False}],
    }
    found = priced(tmp_path, channels={"shop": channel})["shop"]
    assert found["price"] == gross
    assert found["price"] - found["ex_tax_price"] == pytest.approx(tax, rel=1e-12)
    assert found["selling_fees"] == pytest.approx((gross - tax) / 10, rel=1e-12)


@pytest.mark.parametrize(
    ("rate", "with_tax"),
    [(0.20, 120.0), (0.05, 105.0)],  # HMRC, "Calculating VAT": 100 at 20 % is 120, at 5 % 105 (seen)
)
def test_tax_on_top_and_included_come_to_the_same(tmp_path, rate, with_tax):
    """A cost of 100, asked back without profit: 100 is listed where tax comes on top, the published figure where it is
    in. The buyer pays that figure both times: a tenth of it is what the fee, on all that is paid, tells."""
    fees = [{"name": "card", "rate": 0.1}]
    channels = {
        "on-top": {"tax": {"rate": rate}, "fees": fees},
        "included": {"tax": {"rate": rate, "included": True}, "fees": fees},
    }
    found = priced(tmp_path, **material(100.0), channels=channels)
    assert found["on-top"]["price"] == pytest.approx(100, rel=1e-12)
    assert found["included"]["price"] == pytest.approx(with_tax, rel=1e-12)
    for prices in found.values():
        assert prices["ex_tax_price"] == pytest.approx(100, rel=1e-12)
        assert prices["net_sales"] == pytest.approx(100, rel=1e-12)
        assert prices["selling_fees"] == pytest.approx(with_tax / 10, rel=1e-12)


@pytest.mark.parametrize(("gross", "rate", "fraction", "tax"), FRACTIONS)
def test_solved_price_with_tax_in_it(tmp_path, gross, rate, fraction, tax):
    """The other way round: asked to bring the published net figure, a margin policy finds the published gross one."""
    net = gross - tax
    channel = {"policy": {"margin": 0.4}, "tax": {"rate": rate, "included": True}}
    found = priced(tmp_path, **material(0.6 * net), channels={"shop": channel})["shop"]
    assert found["required_price"] == pytest.approx(gross, rel=1e-12)


def test_postage_has_tax_in_it(tmp_path):
    """HMRC (above): of 120 with 20 % in it, 20 are tax. Here it is postage that is charged, on an order of two."""
    channel = {
        "policy": {"fixed": 1.0},
        "tax": {"rate": 0.20},
        "postage": {"charged": 120.0, "cost": 0.0},
        "units_per_order": 2.0,
    }
    found = priced(tmp_path, channels={"shop": channel})["shop"]
    assert found["postage_income"] == pytest.approx((120 - 20) / 2, rel=1e-12)
