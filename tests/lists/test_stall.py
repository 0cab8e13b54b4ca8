"""The stall card: the walk-away price earns exactly the wanted hour when it is asked for in the folder itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.errors import UsageFault
from pricing.formulas.engine import compute
from pricing.lists.catalogue import sold_rows
from pricing.lists.cut_sheets import cutting
from pricing.lists.stall import SIZE, CardsAsked, Hour, bargains, stall_cards, wanted_hours
from pricing.studies.prices_out import prices_out
from pricing.what_if import asking, in_orders_of, only
from tests.lists.fernhollow import british, changed_folder, costing_of, everything
from tests.lists.pdfs import page_texts
from tests.published.small_workshop import AS_OF, POUR, costed

A4 = (210.0, 297.0)


def row_of(costing, sku, alloy):
    return next(
        row for row, each in enumerate(costing.computed.resolved.variants) if (each.sku, each.alloy) == (sku, alloy)
    )


def least(costing, row, hour, channel="stall", sets=1):
    """The walk-away price of one set in an order of so many, before it is rounded."""
    found = bargains(costing, [row], channel, [Hour(hour, "")], 0.05)
    return next(each.least for each in found[0] if each.sets == sets)


@pytest.mark.parametrize("sets", [1, 3])
def test_asked_for_in_the_folder_it_earns_the_hour(sample, tmp_path, sets):
    """The stall asks 38.00 an hour and has 1.2 sets to an order; typed as a fixed price for 1 or 3, it brings that."""
    row = row_of(sample, "acorn-knob", "yellow-brass")
    price = least(sample, row, 38.00, sets=sets)
    root = changed_folder(
        tmp_path,
        {
            "channels.toml": {
                "units_per_order = 1.2\n": f"units_per_order = {sets}.0\n",
                "policy = { earn = 38.00 }": f"policy = {{ fixed = {price!r} }}",
            }
        },
    )
    computed = costing_of(root).computed
    stall = [channel.name for channel in computed.resolved.channels].index("stall")
    assert computed["price"][row, stall] == price
    assert computed["earned_per_hour"][row, stall] == pytest.approx(38.00, rel=1e-9)


@pytest.mark.parametrize("channel", ["shop", "marketplace", "trade", "stall"])
@pytest.mark.parametrize("sets", [1, 3])
def test_every_piece_in_every_channel_earns_it(sample, channel, sets):
    """Fees with minimum, cap and share, postage, discount and refunds among them."""
    rows = sold_rows(sample, channel, *everything(sample))
    found = bargains(sample, rows, channel, [Hour(27.5, "")] * len(rows), 0.05)
    prices = [next(each.least for each in each_row if each.sets == sets) for each_row in found]
    resolved = in_orders_of(only(sample.computed.resolved, rows), channel, sets)
    fixed = asking(resolved, channel, [{"is_fixed": True, "fixed_price": price} for price in prices])
    column = [row.name for row in resolved.channels].index(channel)
    earned = compute(fixed)["earned_per_hour"][:, column]
    assert earned == pytest.approx(np.full(len(rows), 27.5), rel=1e-9)


def test_a_coin_less_earns_less(sample):
    row = row_of(sample, "thimble", "sterling")
    walk_away = bargains(sample, [row], "stall", [Hour(38.0, "")], 0.05)[0][0].walk_away
    earned = []
    for price in (walk_away, walk_away - 0.01):
        resolved = in_orders_of(only(sample.computed.resolved, [row]), "stall", 1)
        fixed = asking(resolved, "stall", [{"is_fixed": True, "fixed_price": price}])
        earned.append(float(compute(fixed)["earned_per_hour"][0, 3]))
    assert earned[0] >= 38.0 > earned[1]


def test_walk_away_is_rounded_up_to_the_penny_and_three_share_an_order(sample):
    rows = sold_rows(sample, "stall", *everything(sample))
    for one, three in bargains(sample, rows, "stall", [Hour(38.0, "")] * len(rows), 0.05):
        assert one.walk_away == pytest.approx(math.ceil(one.least * 100 - 1e-7) / 100, abs=1e-9)
        assert three.walk_away == pytest.approx(math.ceil(3 * three.least * 100 - 1e-7) / 100, abs=1e-9)
        assert three.least < one.least  # 12 minutes at the stall and a bag for one order, not three


def test_friendly_is_between_walk_away_and_asking(sample):
    """Asking price less 5 %, up to whole pounds as the stall rounds; not below walk-away, not above asking."""
    rows = sold_rows(sample, "stall", *everything(sample))
    column = [channel.name for channel in sample.computed.resolved.channels].index("stall")
    for row, found in zip(rows, bargains(sample, rows, "stall", [Hour(20.0, "")] * len(rows), 0.05), strict=True):
        asked = sample.computed["price"][row, column]
        for each in found:
            assert each.asking == asked * each.sets
            expected = math.ceil(max(each.asking * 0.95, each.walk_away) - 1e-9)
            assert each.friendly == pytest.approx(min(expected, each.asking), abs=1e-9)


def test_a_knob_by_hand(tmp_path):
    """A piece of 12 minutes at 1.00 an hour and no other cost, sold with 6 minutes an order, 10 % fee, 0.50 a bag.

    One, for 30 an hour: (12 + 6) / 60 h × 30 = 9.00 must be left after fee and bag: (9.00 + 0.50) / 0.9 = 10.5556.
    Three in one order: (12 + 6/3) / 60 × 30 = 7.00 each, a bag for three: (7.00 + 0.50 / 3) / 0.9 = 7.962963.
    """
    costed(
        tmp_path,
        steps=[{**POUR, "labour": "bench", "minutes": 12}],
        channels={
            "shop": {
                "packing": 0.5,
                "minutes": 6,
                "labour": "bench",
                "fees": [{"name": "fee", "rate": 0.1}],
                "policy": {"fixed": 20.0},
            }
        },
    )
    costing = cost(tmp_path, asked_for(AS_OF))
    (found,) = bargains(costing, [0], "shop", [Hour(30.0, "")], 0.0)
    assert [each.least for each in found] == pytest.approx([9.5 / 0.9, (7 + 0.5 / 3) / 0.9], rel=1e-12)
    assert [each.walk_away for each in found] == pytest.approx([10.56, 23.89])  # 3 × 7.962963 = 23.888889
    assert [each.friendly for each in found] == [20.0, 60.0]


def test_where_no_price_can_earn_an_hour_there_is_none(tmp_path):
    """No attended minute anywhere: nothing to divide by."""
    costed(tmp_path, channels={"shop": {"policy": {"fixed": 20.0}}})
    costing = cost(tmp_path, asked_for(AS_OF))
    (found,) = bargains(costing, [0], "shop", [Hour(30.0, "")], 0.05)
    assert [(each.walk_away, each.least) for each in found] == [(None, None)] * 2
    assert [each.friendly for each in found] == [19.0, 57.0]
    cut = cutting(A4, SIZE, 8, 3)
    (card,) = stall_cards(
        prices_out(costing), CardsAsked("shop", ("piece",), ("metal",)), cut, british(costing)
    ).document["tags"]
    assert card["alloys"][0]["orders"][0]["walk_away"] == "–"


def test_whose_hour_is_wanted(sample):
    rows = [row_of(sample, "acorn-knob", "yellow-brass"), row_of(sample, "candle-snuffer", "yellow-brass")]
    assert wanted_hours(sample, rows, "stall", None) == [Hour(38.0, "what stall asks")] * 2
    # The shop asks a margin; it is packed by the bench, 18.00 an hour; trade by the apprentice, 13.20 and 6 % more.
    assert wanted_hours(sample, rows, "shop", None) == [Hour(18.0, "the pay of bench")] * 2
    (apprentice, _) = wanted_hours(sample, rows, "trade", None)
    assert apprentice.amount == pytest.approx(13.20 * 1.06) and apprentice.because == "the pay of apprentice"
    assert wanted_hours(sample, rows, "stall", 50.0) == [Hour(50.0, "as you asked")] * 2


@pytest.mark.parametrize(("hour", "friendly"), [(-1.0, 0.05), (10.0, 1.0), (10.0, -0.1), (float("nan"), 0.05)])
def test_senseless_wishes_are_refused(sample, hour, friendly):
    with pytest.raises(UsageFault):
        asked = CardsAsked("stall", *everything(sample), hour, friendly)
        stall_cards(prices_out(sample), asked, cutting(A4, SIZE, 8, 3), british(sample))


def test_the_cards_say_it(sample):
    sheet = stall_cards(
        prices_out(sample), CardsAsked("stall", *everything(sample)), cutting(A4, SIZE, 8, 3), british(sample)
    )
    text = " ".join(page_texts(sheet.laid_out(".pdf")))
    assert text.count("an hour would bring less than £38.00, what stall asks") == len(sheet.document["tags"])
    assert "silver 38.40 USD/ozt of 20 Nov 2026" in text
    for card in sheet.document["tags"]:
        for alloy in card["alloys"]:
            for order in alloy["orders"]:
                short = "! " if order["is_short"] else ""
                assert f"{order['sets']} {order['asking']} {order['friendly']} {short}{order['walk_away']}" in text


def test_the_hour_of_hired_help_is_nobody_s_goal(tmp_path):
    """The shop's parcels are packed by a hired hand: its hour costs, the maker's own is what a sale must bring."""
    hired = {"workshop.toml": {"[labour.bench]": "[labour.packer]\nrate = 99.0\nown = false\n\n[labour.bench]"}}
    hired["channels.toml"] = {'labour = "bench"': 'labour = "packer"'}
    costing = costing_of(changed_folder(tmp_path, hired))
    (hour,) = wanted_hours(costing, [row_of(costing, "thimble", "sterling")], "shop", None)
    assert hour.because != "the pay of packer" and hour.amount < 99.0
