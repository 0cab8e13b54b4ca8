"""What to ask: break-even, target profit, keystone, markup and margin, a card fee, each through a folder."""

import pytest

from .small_workshop import POUR, QUOTED, costed, material, priced

# ---- break-even and target profit

# OpenStax, Principles of Accounting 2, section 3.2 (seen). Variable cost is metal here, fixed cost a design that is
# paid for by all the sets that are expected to be sold.


def at_a_volume(folder, variable, fixed, units, policy):
    return priced(
        folder,
        alloys={"metal": QUOTED},
        steps=[{"name": "design", "per": "design", "fee": fixed}, POUR],
        product={"expected_sales": units},
        channels={"shop": {"policy": policy}},
        quotes=[("grain", variable, "g", "GBP")],
    )["shop"]


@pytest.mark.parametrize(
    ("variable", "fixed", "units", "price"),
    [
        (20.0, 18_000.0, 225.0, 100.0),  # Hicks: 225 units, 22,500 of sales
        (20.0, 3_000.0, 200.0, 35.0),  # the hair salon: 200
    ],
)
def test_break_even(tmp_path, variable, fixed, units, price):
    """No profit is asked at the published break-even volume: the published price comes out."""
    found = at_a_volume(tmp_path, variable, fixed, units, {"margin": 0.0})
    assert found["required_price"] == pytest.approx(price, rel=1e-12)
    assert found["price"] == price


@pytest.mark.parametrize(
    ("units", "result"),
    [(175.0, -4_000.0), (225.0, 0.0), (300.0, 6_000.0), (425.0, 16_000.0)],  # Hicks
)
def test_profit_at_a_volume(tmp_path, units, result):
    found = at_a_volume(tmp_path, 20.0, 18_000.0, units, {"fixed": 100.0})
    assert units * found["profit"] == pytest.approx(result, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    "policy",
    [
        {"margin": 16_000 / 42_500},  # of the published sales
        {"markup": 16_000 / (18_000 + 425 * 20)},  # of the published costs: 26,500 in all
    ],
)
def test_target_profit(tmp_path, policy):
    """Hicks: to earn 16,000, 425 units at 100, 42,500 of sales."""
    found = at_a_volume(tmp_path, 20.0, 18_000.0, 425.0, policy)
    assert found["required_price"] == pytest.approx(100, rel=1e-12)
    assert 425 * found["profit"] == pytest.approx(16_000, rel=1e-12)
    assert 425 * found["net_sales"] == pytest.approx(42_500, rel=1e-12)


@pytest.mark.parametrize(("unit_cost", "gross_profit"), [(18.50, 1.50), (16.75, 8.25), (20.00, 10.00)])
def test_gross_profit(tmp_path, unit_cost, gross_profit):
    """OpenStax, Principles of Accounting 2, section 6.1, Musicality (seen): cost and gross profit a unit of three
    models; asked as a share of their sales, the same profit comes back."""
    policy = {"margin": gross_profit / (unit_cost + gross_profit)}
    found = priced(tmp_path, **material(unit_cost), channels={"shop": {"policy": policy}})["shop"]
    assert found["profit"] == pytest.approx(gross_profit, rel=1e-12)


# ---- keystone

# Cost 10, price 20, margin 50 %: Monash Business School marketing dictionary and AMA Dictionary, "keystone" (seen).


@pytest.mark.parametrize("policy", [{"multiple": 2.0}, {"margin": 0.5}, {"markup": 1.0}])
def test_keystone_on_cost(tmp_path, policy):
    found = priced(tmp_path, **material(10.0), channels={"shop": {"policy": policy}})["shop"]
    assert found["price"] == 20
    assert found["margin"] == pytest.approx(0.5, rel=1e-12)


def test_keystone_on_a_trade_price(tmp_path):
    """A shop that pays 10 asks 20, before tax; the maker's own shop asks no less. Policy and ladder say the same."""
    tax = {"rate": 0.20, "included": True}
    trade = {"audience": "wholesale", "policy": {"fixed": 10.0}}
    follows = {"trade": trade, "shop": {"policy": {"keystone_of": "trade", "multiple": 2.0}, "tax": tax}}
    asked = priced(tmp_path / "policy", **material(5.0), channels=follows)["shop"]
    cheap = {"trade": trade, "shop": {"policy": {"multiple": 1.0}, "tax": tax}}
    lifted = priced(tmp_path / "ladder", **material(5.0), channels=cheap, ladder={"keystone": 2.0})["shop"]
    for found in (asked, lifted):
        assert found["ex_tax_price"] == pytest.approx(20, rel=1e-12)
        assert found["price"] == pytest.approx(24, rel=1e-12)  # 20 × 1.20
    assert (asked["binds"], lifted["binds"]) == ("policy", "keystone")


@pytest.mark.parametrize(("markup", "margin"), [(0.5, 1 / 3), (1.0, 0.5)])
def test_markup_and_margin(tmp_path, markup, margin):
    """margin = markup / (1 + markup): arithmetic, an identity."""
    found = priced(tmp_path, **material(30.0), channels={"shop": {"policy": {"markup": markup}}})["shop"]
    assert found["margin"] == pytest.approx(margin, rel=1e-12)


# ---- a fee


def test_card_fee(tmp_path):
    """payquiqonline.com (seen): 1.50 % and 0.10 on a sale of 100 are 1.60."""
    fees = [{"name": "card", "rate": 0.015, "fixed": 0.10}]
    (record,) = costed(tmp_path, channels={"shop": {"policy": {"fixed": 100.0}, "fees": fees}})
    assert record["prices"]["shop"]["selling_fees"] == pytest.approx(1.60, rel=1e-12)
    assert record["prices"]["shop"]["net_receipts"] == pytest.approx(98.40, rel=1e-12)
