"""A map of two figures: each cell is what the folder says once both are written into its files."""

from __future__ import annotations

import csv
import io
import shutil

import pytest

from pricing.costing import asked_for
from pricing.errors import UsageFault
from pricing.folder.read import read_folder
from pricing.questions.map import maps_named
from pricing.studies.map.price_map import Map, price_map, side
from tests.cli.conftest import troytag as troytag
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import changed_file, costing_of

DAY = asked_for(costing_of(tin_lane()).asked.as_of)
PIN = ("reed-pin", "silver-925", "stall")


@pytest.fixture(scope="module")
def read():
    return read_folder(tin_lane())


def of(read, across: str, down: str, steps: int = 3) -> Map:
    return price_map(read, PIN, side(across, steps), side(down, steps), steps, DAY)


def cell(folder) -> float:
    computed = costing_of(folder).computed
    row = [(each.sku, each.alloy) for each in computed.resolved.variants].index(PIN[:2])
    return float(computed["price"][row, 1])  # the stall is the second channel


@pytest.mark.parametrize(
    ("path", "value", "file", "before", "after"),
    [
        ("metal_prices.Ag", 80, "metal_prices.csv", "49.385", "80"),
        ("metal_prices.USD", 0.9, "metal_prices.csv", "0.8641", "0.9"),
        ("alloys.silver-925.stock_premium", 0.4, "alloys.toml", "stock_premium = 0.11", "stock_premium = 0.4"),
        ("workshop.labour.bench.rate", 40, "workshop.toml", "rate = 21.35", "rate = 40"),
        ("overhead.productive_hours", 30, "workshop.toml", "productive_hours = 96.5", "productive_hours = 30"),
        ("processes.sawn.finish.minutes", 25, "processes.toml", "minutes = 4.1\n", "minutes = 25\n"),
        ("channels.stall.fees.card.rate", 0.55, "channels.toml", "rate = 0.0175", "rate = 0.55"),  # above the ladder
        ("products.reed-pin.expected_sales", 6, "products/reed-pin.toml", "expected_sales = 60", "expected_sales = 6"),
        ("products.reed-pin.castings.pin.volume_cm3", 2, "products/reed-pin.toml", "_cm3 = 0.62", "_cm3 = 2"),
        # The product itself says only how many pins come out well.
        ("products.reed-pin.steps.pierce.minutes", 40, "products/reed-pin.toml", "good = 0.965",
         "good = 0.965\nminutes = 40"),
        ("products.reed-pin.steps.finish.minutes", 40, "products/reed-pin.toml", "[steps.pierce]",
         "[steps.finish]\nminutes = 40\n[steps.pierce]"),
    ],
)  # fmt: skip
def test_a_figure_changed_is_as_if_its_file_said_so(read, tmp_path, path, value, file, before, after):
    folder = shutil.copytree(tin_lane(), tmp_path / "tin-lane")
    changed_file(folder, file, before, after)
    found = price_map(read, PIN, side(f"{path}={value}..{value * 1.5}", 2), side("ladder.keystone=2..2.5", 2), 2, DAY)
    assert found.prices[0][0] == pytest.approx(cell(folder))
    assert found.prices[0][0] != pytest.approx(cell(tin_lane()))


def test_both_figures_change_at_once_and_the_margin_is_what_the_price_held_earns(read, tmp_path):
    found = of(read, "metal_prices.Ag=50..90", "labour.bench.rate=20..60")
    folder = shutil.copytree(tin_lane(), tmp_path / "tin-lane")
    changed_file(folder, "metal_prices.csv", "49.385", "70")
    changed_file(folder, "workshop.toml", "rate = 21.35", "rate = 60")
    assert (found.across.values, found.down.values) == ((50, 70, 90), (20, 40, 60))
    assert found.prices[2][1] == pytest.approx(cell(folder))
    assert found.held == pytest.approx(cell(tin_lane()))
    # At a price that stays, each step of silver takes the same off the margin, and so does each step of pay.
    (a, b, c), down = found.margins[0], [line[0] for line in found.margins]
    assert a - b == pytest.approx(b - c) and a > b
    assert down[0] - down[1] == pytest.approx(down[1] - down[2]) and down[0] > down[1]


def test_where_no_price_can_pay_a_cell_is_empty(read):
    found = of(read, "channels.stall.fees.card.rate=0.02..0.95", "metal_prices.Ag=50..60")
    assert found.prices[0][0] is not None and found.prices[0][2] is None and found.margins[0][2] is None


@pytest.mark.parametrize(
    ("across", "said"),
    [
        ("metal_prices.Ag", "write a figure"),
        ("metal_prices.Ag=50..50", "write a figure"),
        ("metal_prices.Ag=a..9", "write a figure"),
        ("metal_prices.Ag=1e308..1e309", "write a figure"),  # one number that is none
        ("metal_prices.Ag=-1e308..1e308", "write a figure"),  # two that are, and the way between them is not
        ("metal_prices.Agg=50..60", 'no price of "Agg"'),
        ("metal_prices.Ag=-1..60", "absurd"),
        ("workshop.machines.kiln.residual=100..2000", "residual"),
        ("labour.benhc.rate=20..30", "benhc"),
        ("alloys.silver-925.melt_loss=0.5..1.5", "melt_loss = 1: .*Write other values"),
        ("labour.bench.rate=20..30", "on both sides"),
        ("products.lantern-studs.expected_sales=10..20", "nothing of this piece hangs on that figure"),
    ],
)
@pytest.mark.filterwarnings("error")
def test_what_is_no_side_is_told(read, across, said):
    with pytest.raises(UsageFault, match=said):
        of(read, across, "labour.bench.rate=20..30")


def test_more_maps_than_a_workbook_takes_are_refused_and_one_named_twice_is_one():
    costing = costing_of(tin_lane())
    sides = {"across": "labour.bench.rate=20..21", "down": "metal_prices.Ag=50..51"}
    with pytest.raises(UsageFault, match="--map is there 41 times: a workbook has at most 40 maps"):
        maps_named(costing, [f"pin-{number}" for number in range(41)], sides, None)
    assert len(maps_named(costing, ["reed-pin:silver-925:stall"] * 41, sides, None)) == 1


def test_the_command(troytag):
    words = (tin_lane(), "map", "--sku", "harbour-set", "--as-of", "2026-11-20", "--steps", "3")
    rows = list(csv.DictReader(io.StringIO(troytag("study", *words, "--csv").out)))
    now = rows[4]  # the middle of both sides is today's
    assert float(now["metal_prices.brass-grain"]) == 13.65 and float(now["labour.bench.rate"]) == 21.35
    assert (now["channel"], float(now["price"])) == ("gallery", 60.0)
    said = troytag("study", *words, "--channel", "stall")
    assert said.code == 0 and "Margin at 142.90" in said.out and "Price that the policy asks" in said.out
