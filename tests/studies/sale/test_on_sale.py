"""A sale by hand: what comes off the price, less what comes off tax and fees, comes off the profit."""

from __future__ import annotations

import csv
import io
import shutil

import numpy as np
import pytest

from pricing.errors import UsageFault
from pricing.formulas.engine import compute
from pricing.studies.sale.on_sale import OnSale, on_sale, sale_prices, sale_records
from tests.cli.conftest import troytag as troytag
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import changed_file, costing_of, published, silver_at


@pytest.fixture(scope="module")
def costing():
    return costing_of(tin_lane())


@pytest.fixture(scope="module")
def found(costing) -> dict[tuple[str, str, str], OnSale]:
    return by_name(on_sale(costing, 0.20))


def by_name(found: list[OnSale]) -> dict[tuple[str, str, str], OnSale]:
    return {(each.sku, each.alloy, each.channel): each for each in found}


def lost(each: OnSale) -> float:
    return each.before.profit - each.then.profit


def test_where_there_is_no_tax_and_no_fee_all_that_comes_off_is_lost(costing, found):
    each = found["harbour-set", "brass", "gallery"]
    assert each.before.price == 60.0 and each.then.price == pytest.approx(60.0 * 0.8)
    assert lost(each) == pytest.approx(12.0)  # 60 - 48
    assert each.then.margin == pytest.approx((each.before.profit - 12) / 48)
    assert each.times_as_many == pytest.approx(each.before.profit / (each.before.profit - 12))
    computed = costing.computed
    row = [(each.sku, each.alloy) for each in computed.resolved.variants].index(("harbour-set", "brass"))
    hours = computed["own_labour_hours"][row] + computed["own_order_hours"][row, costing.column("gallery")]
    assert each.then.earned_per_hour == pytest.approx(each.before.earned_per_hour - 12 / hours)
    # So many sold at the lower price leave what one left at the price before.
    assert each.times_as_many * each.then.profit == pytest.approx(each.before.profit)


def test_tax_and_a_fee_that_runs_share_in_what_comes_off(found):
    """The stall: 19 % tax in the price, 3 % usual discount, a card fee of 1.75 % of what is paid."""
    each = found["harbour-set", "brass", "stall"]
    assert lost(each) == pytest.approx(0.2 * 142.90 * (0.97 / 1.19 - 0.0175 * 0.97))


def test_a_fee_that_is_at_its_most_begins_to_run(found):
    """Online: 19 % tax, 7 % usual discount, fees of 6.5 % and 4 % of what is paid, and on 40 % of the orders 12 % of
    the price without tax, at most 6.50 an order of 1.15 sets."""
    each = found["lantern-studs", "silver-925", "online"]
    before, then = 72.95, 72.95 * 0.8
    most = 6.5 / 1.15
    assert 0.12 * before * 0.93 / 1.19 > most > 0.12 * then * 0.93 / 1.19
    less_fees = (before - then) * 0.93 * (0.065 + 0.04) + 0.4 * (most - 0.12 * then * 0.93 / 1.19)
    assert lost(each) == pytest.approx((before - then) * 0.93 / 1.19 - less_fees)


def test_every_figure_is_that_of_a_whole_run_at_such_fixed_prices(costing):
    prices, resolved = sale_prices(costing.computed, 0.35), costing.computed.resolved
    fixed = {"is_fixed": True, "follows": False, "asks_solving": False}
    variants = tuple(
        variant.model_copy(
            update={
                "prices": tuple(
                    row.model_copy(update={**fixed, "fixed_price": float(price)})
                    for row, price in zip(variant.prices, prices[place], strict=True)
                )
            }
        )
        for place, variant in enumerate(resolved.variants)
    )
    again = compute(resolved.model_copy(update={"variants": variants}))
    rows = [(each.sku, each.alloy) for each in resolved.variants]
    found = on_sale(costing, 0.35)
    assert len(found) == int(costing.computed["sold"].sum())
    for each in found:
        spot = rows.index((each.sku, each.alloy)), costing.column(each.channel)
        whole = [again[name][spot] for name in ("price", "profit", "margin", "earned_per_hour")]
        np.testing.assert_allclose(
            [each.then.price, each.then.profit, each.then.margin, each.then.earned_per_hour], whole, rtol=1e-9
        )


def test_rounded_as_the_channel_rounds_and_never_above_the_price_before(costing):
    found = by_name(on_sale(costing, 0.20, rounded=True))
    assert found["harbour-set", "brass", "stall"].then.price == pytest.approx(114.90)  # 114.32 up to ….90
    assert found["lantern-studs", "silver-925", "online"].then.price == pytest.approx(58.95)  # 58.36 up to ….95
    assert found["lantern-studs", "silver-925", "gallery"].then.price == pytest.approx(24.50)  # 24.40 up to 0.50
    little = on_sale(costing, 0.0001, rounded=True)
    assert all(each.then.price <= each.before.price for each in little)


def test_what_is_left_out_and_why(tmp_path):
    """The gallery asks a markup of 0.3 on cost, rounded: with 30 % off every piece is sold below cost.

    The stall is given a least margin of 48 %. With 20 % off a piece keeps there, of each 1.00 of net sales, what the
    card fee leaves, less what is the same as before: the margins come from `test_tax_and_a_fee_…`'s arithmetic.
    """
    folder = shutil.copytree(tin_lane(), tmp_path / "tin-lane")
    changed_file(
        folder,
        "channels.toml",
        "policy = { margin = 0.22 }",
        "policy = { margin = 0.22 }\n"
        "reprice = { keep_within = 0.02, largest_step = 0.05, least_margin = 0.48, days_between = 30 }",
    )
    changed_file(folder, "products/lantern-studs.toml", "least_price = 21.0", "least_price = 44.0")
    costing = costing_of(folder)
    assert all(each.leave_out == "loss" and each.times_as_many is None
               for each in on_sale(costing, 0.30) if each.channel == "gallery")  # fmt: skip
    found = by_name(on_sale(costing, 0.20))
    stall = {name: each for name, each in found.items() if name[2] == "stall"}
    low = {name for name, each in stall.items() if _margin_by_hand(each) < 0.48}
    assert 0 < len(low) < len(stall)
    # 53.90 less a fifth is 43.12, below the least price of 44
    studs = ("lantern-studs", "brass", "stall")
    assert stall[studs].leave_out == "least price" and stall[studs].before.price == 53.90
    assert {name for name, each in stall.items() if each.leave_out == "least margin"} == low - {studs}
    assert {found[name].leave_out for name in found if name[2] == "online"} == {None}
    (record,) = sale_records([stall[studs]])
    assert (record["price_on_sale"], record["leave_out"]) == (43.12, "least price")


def _margin_by_hand(each: OnSale) -> float:
    price = each.before.price
    return (each.before.profit - 0.2 * price * (0.97 / 1.19 - 0.0175 * 0.97)) / (0.8 * price * 0.97 / 1.19)


@pytest.mark.parametrize("off", [0, 1, 20, -0.1, float("nan")])
def test_a_share_that_is_none_is_told(costing, off):
    with pytest.raises(UsageFault, match=r"--off .*: write a share between 0 and 1, as in 0\.20 for 20 % off"):
        on_sale(costing, off)


def test_the_command():
    from click.testing import CliRunner
    from typer.main import get_command

    from pricing.cli.commands.study import app

    words = [str(tin_lane()), "sale", "--off", "0.2", "--as-of", "2026-11-20", "--sku", "harbour-set"]
    ran = CliRunner().invoke(get_command(app), [*words, "--channel", "gallery", "--csv"])
    assert ran.exit_code == 0
    rows = list(csv.DictReader(io.StringIO(ran.stdout)))
    assert [(row["alloy"], float(row["price"]), float(row["price_on_sale"])) for row in rows] == [
        ("brass", 60.0, 48.0),
        ("silver-925", 372.5, 298.0),
    ]


def test_what_is_published_is_what_comes_down_and_what_is_not_is_told(tmp_path, troytag):
    """All but the harbour set is published in the stall; silver is dearer since, and the prices are what they were."""
    folder = shutil.copytree(tin_lane(), tmp_path / "tin-lane")
    changed_file(folder, "products/harbour-set.toml", '["stall", "gallery"]', '["gallery"]')
    published(folder)
    changed_file(folder, "products/harbour-set.toml", '["gallery"]', '["stall", "gallery"]')
    silver_at(folder, "80", "2026-11-21")
    words = (folder, "sale", "--off", "0.5", "--channel", "stall", "--as-of", "2026-11-21")
    said = troytag("study", *words)
    assert said.code == 0 and "Prices: edition 1 of 2026-11-20, 50 % off" in said.out
    (line,) = [each.split() for each in said.out.splitlines() if each.startswith("  gold-14k")]
    assert line[1:3] == ["1,234.90", "617.45"]  # half of it
    assert "harbour-set" not in said.out
    assert "not in edition 1 and left out: harbour-set in brass (stall)" in " ".join(said.err.split())
