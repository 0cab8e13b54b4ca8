"""Metal that a customer brings: its content, its credit, what brings it to an alloy."""

from __future__ import annotations

import json
from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.errors import UsageFault
from pricing.lists.quoted import QuoteAsked, quoted
from pricing.parcels.customer import metal_of, taken_in
from pricing.pouring.mixing import to_fineness
from pricing.resources import sample_catalog
from pricing.studies.prices_out import prices_out
from tests.cli.conftest import troytag as troytag  # the fixture

#: Gold of the sample on its day: 3,300.00 dollars a troy ounce at 0.79.
A_GRAM = 3300 / 31.1034768 * 0.79


@pytest.fixture(scope="module")
def fernhollow():
    return cost(sample_catalog(), asked_for(date(2026, 11, 20)))


def rows(costing, *names):
    variants = [(each.sku, each.alloy) for each in costing.computed.resolved.variants]
    return [variants.index(name) for name in names]


FOURTEEN = ("beetle-pin", "gold-14ct")


@pytest.mark.parametrize(
    ("grams", "have", "want", "added"),
    [
        (25.0, 10 / 24, 14 / 24, 10.0),  # charts of goldsmiths' suppliers: 25 dwt of 10 K and 10 dwt of fine make 35
        (7.0, 10 / 24, 14 / 24, 2.8),  # the worked example of another: 7 g of 10 K take 2.8 g of 24 K
        (20.0, 10 / 24, 14 / 24, 8.0),  # and of a third: 20 g take 8 g
        (2.0, 9 / 24, 14 / 24, 1.0),  # the chart's factor from 9 K to 14 K: 0.500
    ],
)
def test_raising_gold_by_published_examples(grams, have, want, added):
    found = to_fineness(grams, "Au", have, want)
    assert found.add_fine_g == pytest.approx(added)
    assert found.comes_to_g * want == pytest.approx(grams * have + added)  # gold in, gold out


def test_nine_carat_brought_to_fourteen(fernhollow):
    """20 g of 375 hold 7.5 g. 0.96 of it are paid, less 0.10 a gram; 20 × 0.21 / 0.415 g of fine gold make it 585."""
    found = taken_in(fernhollow, rows(fernhollow, FOURTEEN), metal_of("20:9ct"))
    assert (found.element, found.fineness, found.terms) == ("Au", 0.375, "gold-9ct")
    assert found.fine_g == 7.5
    assert found.credit == pytest.approx(20 * (0.375 * A_GRAM * 0.96 - 0.10))
    ((name, fresh, brought),) = found.brought
    assert name == "gold-14ct" and brought is not None
    assert brought.add_fine_g == pytest.approx(20 * 0.21 / 0.415)
    assert fresh == pytest.approx(float(fernhollow.computed["fresh_g"][rows(fernhollow, FOURTEEN)[0]]))


def test_an_alloy_of_the_folder_goes_by_its_own_terms(fernhollow):
    found = taken_in(fernhollow, rows(fernhollow, FOURTEEN), metal_of("30:sterling"))
    assert (found.element, found.terms, found.title) == ("Ag", "sterling", "Sterling silver")
    assert [brought for _, _, brought in found.brought] == [None]  # no gold is made of silver


def test_the_credit_comes_off_the_order_and_not_off_the_prices(fernhollow):
    out = prices_out(fernhollow)
    plain, with_metal = (
        quoted(out, QuoteAsked("beetle-pin", (1, 2), ("gold-14ct",), "shop", metal=metal))
        for metal in (None, metal_of("20:375"))
    )
    assert with_metal.metal is not None
    assert [each.price for each in with_metal.offers[0].offers] == [each.price for each in plain.offers[0].offers]
    assert with_metal.extra == -(with_metal.metal.credit * 100 // 1) / 100  # whole pence, rounded down
    assert with_metal.extras[-1].label == "Your metal taken in: 20.00 g of 375 gold, 7.50 g of fine gold"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("20", "write grams and an alloy or a fineness"),
        ("0:9ct", "0 g is no parcel of old metal"),
        ("20:99ct", "99ct is no fineness"),
        ("20:gold-9", 'no alloy "gold-9". Did you mean "gold-9ct"'),
        ("20:yellow-brass", "holds no precious metal"),
    ],
)
def test_what_is_no_metal_is_told(fernhollow, text, said):
    with pytest.raises(UsageFault, match=said):
        taken_in(fernhollow, rows(fernhollow, FOURTEEN), metal_of(text))


def test_a_fineness_that_may_be_of_two_metals_is_asked_about(fernhollow):
    both = rows(fernhollow, FOURTEEN, ("beetle-pin", "sterling"))
    with pytest.raises(UsageFault, match="is 750 of gold or silver"):
        taken_in(fernhollow, both, metal_of("20:750"))
    assert taken_in(fernhollow, both, metal_of("20:18ct")).element == "Au"  # carats are of gold


def test_the_command(troytag, tmp_path):
    words = ("export", sample_catalog(), "quote", "--sku", "beetle-pin", "--alloy", "gold-14ct", "--quantity", "1",
             "--channel", "shop", "--customer-metal", "20:9ct", "--as-of", "2026-11-20")  # fmt: skip
    said = json.loads(troytag(*words, "--json").out)["customer_metal"]
    assert said["fine_g"] == 7.5 and said["brought_to"][0]["comes_to_g"] == pytest.approx(20 + 20 * 0.21 / 0.415)
    ran = troytag(*words, "--to", tmp_path / "q.html", "--no-pictures")
    assert ran.code == 0 and "20.00 × (0.585 − 0.375) / (1 − 0.585) = 10.12 g" in " ".join(ran.err.split())
    assert "cadmium" in ran.err and "taken in: 20.00 g of 9ct gold" in (tmp_path / "q.html").read_text()
