"""`troytag cost`: the same figures on every face."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from datetime import date
from decimal import Decimal

import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import read
from pricing.records import decimal_price
from pricing.studies.doubt import in_doubt, sobol
from tests.exact.compare import differences
from tests.folders import tin_lane

AS_OF = ("--as-of", "2026-11-20")


def test_json_is_what_an_independent_exact_calculation_says(troytag):
    ran = troytag("cost", tin_lane(), *AS_OF, "--json")
    said = json.loads(ran.out)
    assert ran.code == 0
    assert list(said) == ["as_of", "currency", "warnings", "variants"]
    assert (said["as_of"], said["currency"]) == ("2026-11-20", "EUR")
    exact = json.loads((tin_lane() / "expected.json").read_text(encoding="utf-8"))
    assert not differences(said["variants"], exact)


def test_json_of_a_run(troytag):
    said = json.loads(troytag("cost", tin_lane(), *AS_OF, "--run", 25, "--json").out)
    exact = json.loads((tin_lane() / "expected_run_25.json").read_text(encoding="utf-8"))
    assert not differences(said["variants"], exact)


def test_csv_has_a_line_for_each_variant_and_channel_with_the_same_numbers(troytag):
    lines = list(csv.DictReader(io.StringIO(troytag("cost", tin_lane(), *AS_OF, "--csv").out)))
    variants = json.loads(troytag("cost", tin_lane(), *AS_OF, "--json").out)["variants"]
    assert len(lines) == sum(len(variant["prices"]) for variant in variants)
    by_key = {(variant["sku"], variant["alloy"]): variant for variant in variants}
    for line in lines:
        variant = by_key[line["sku"], line["alloy"]]
        assert float(line["unit_cost"]) == variant["unit_cost"]
        assert float(line["price"]) == variant["prices"][line["channel"]]["price"]


def test_side_by_side_differences_are_second_less_first(troytag):
    ran = troytag("cost", tin_lane(), *AS_OF, "--sku", "lantern-studs", "--alloy", "silver-925", "--alloy", "gold-14k")
    rows = {line[:19].strip(): line[19:].split() for line in ran.out.splitlines() if line[19:].strip()}
    for word in ("metal", "labour", "findings", "one costs, EUR", "gallery: price", "stall: price"):
        silver, gold, more = (Decimal(text.replace(",", "").replace("+", "")) for text in rows[word])
        assert abs(gold - silver - more) <= Decimal("0.01")  # each of the three is rounded by itself
    assert rows["finished, g"][:2] == ["3.73", "4.72"]


@pytest.mark.parametrize(
    "words",
    [
        (), ("--sku", "lantern-studs"), ("--sku", "lantern-studs", "--alloy", "silver-925", "--alloy", "brass"),
        ("--sku", "reed-pin", "--show-work"), ("--sku", "reed-pin", "--show-work", "--of", "step_labour_cost"),
    ],
)  # fmt: skip
def test_every_screen_fits_eighty_columns_and_has_no_colours(troytag, words):
    ran = troytag("cost", tin_lane(), *AS_OF, *words)
    assert ran.code == 0
    for line in (ran.out + ran.err).splitlines():
        assert len(line) <= 80, line
        assert "\x1b" not in line


def test_only_some_channels(troytag):
    said = json.loads(troytag("cost", tin_lane(), *AS_OF, "--channel", "gallery", "--json").out)
    assert {name for variant in said["variants"] for name in variant["prices"]} == {"gallery"}


def test_the_work_of_a_figure_ends_in_its_result(troytag):
    ran = troytag("cost", tin_lane(), *AS_OF, "--sku", "reed-pin", "--show-work", "--of", "melt_value_per_g")
    # 49.385 USD/ozt / 31.1034768 g × 0.8641 EUR = 1.371994… EUR/g of silver, copper at 10.87 USD/kg 0.009392767;
    # 0.925 × 1.371994 + 0.075 × 0.009392767 = 1.269799…
    silver, copper = 49.385 / 31.1034768 * 0.8641, 10.87 / 1000 * 0.8641
    assert f"= {0.925 * silver + 0.075 * copper:.6g} EUR/g" in ran.out
    assert "= quote_price / grams_per_unit * exchange_rate" in ran.out
    assert "= 49.385 / 31.1035 * 0.8641" in ran.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--sku", "reed-pyn"), 'no product "reed-pyn". Did you mean "reed-pin"?'),
        (("--alloy", "silver"), 'no alloy "silver". Did you mean "silver-925"?'),
        (("--channel", "shop"), 'no channel "shop". Known: "gallery", "online", "stall".'),
        (("--sku", "reed-pin", "--alloy", "brass"), "none of these products is made in such an alloy."),
        (("--as-of", "20.11.2026"), '"20.11.2026" is no date. Write it as '),
        (("--charge-design",), "--charge-design charges the design to a run: say how many with --run."),
        (("--run", "0"), "--run 0: a run has at least one set."),
        (("--run", "nan"), "--run nan: a run has at least one set."),
        (("--run", "inf"), "--run inf: a run has an end."),
        (("--show-work", "--of", "unit_cots"), 'there is no quantity "unit_cots". Did you mean "unit_cost"?'),
    ],
)
def test_words_that_are_off_are_told_with_exit_code_2(troytag, words, said):
    ran = troytag("cost", tin_lane(), *AS_OF, *words)
    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.startswith(said)


def test_a_folder_that_is_not_there(troytag, tmp_path):
    ran = troytag("cost", tmp_path / "nowhere")
    assert ran.code == 2
    assert "there is no such folder" in ran.err


@pytest.fixture
def lane(tmp_path):
    """A copy that may be spoilt."""
    return shutil.copytree(tin_lane(), tmp_path / "lane")


def replace(file, old, new):
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def test_fees_that_eat_the_whole_price(troytag, lane):
    replace(lane / "channels.toml", "rate = 0.065", "rate = 0.9")
    ran = troytag("cost", lane, *AS_OF)
    # of each 1.00: 0.93 / 1.19 is left after discount and tax, × (1 - 0.18) kept; fees 0.9 + 0.04 on 0.93, and
    # placement 0.12 × 0.4 on 0.93 / 1.19 (without tax)
    kept = 0.93 / 1.19 * 0.82
    fees = 0.93 * 0.94 + 0.93 / 1.19 * 0.12 * 0.4
    assert ran.code == 1
    assert (
        f"the policy leaves {kept:.4f} and the fees take {fees:.4f}. Ask a smaller margin, or leave out a fee."
        in ran.err
    )
    assert "channels.toml:" in ran.err
    assert "Traceback" not in ran.err


def test_a_missing_quote_names_the_metal_and_who_needs_it(troytag, lane):
    replace(lane / "metal_prices.csv", "2026-11-18,Au", "2026-12-18,Au")
    ran = troytag("cost", lane, *AS_OF)
    assert ran.code == 1
    assert ran.err.startswith(
        "metal_prices.csv Au: there is no quote on or before 2026-11-20 (the first is of 2026-12-18); "
        "needed by lantern-studs in gold-14k. Add a line: date,Au,price,per,currency,source."
    )


def test_a_missing_exchange_rate(troytag, lane):
    replace(lane / "metal_prices.csv", "2026-11-17,USD", "2026-12-17,USD")
    ran = troytag("cost", lane, *AS_OF)
    assert ran.code == 1
    assert "metal_prices.csv USD: there is no exchange rate on or before 2026-11-20" in ran.err


def test_an_exchange_rate_in_another_currency(troytag, lane):
    replace(lane / "metal_prices.csv", "unit,EUR", "unit,GBP")
    ran = troytag("cost", lane, *AS_OF)
    assert ran.code == 1
    assert "an exchange rate is told in GBP, the workshop counts in EUR. Say what one USD costs in EUR." in ran.err


def test_earnings_asked_of_no_hours(troytag, lane):
    replace(lane / "channels.toml", "policy = { markup = 0.3 }", "policy = { earn = 30.0 }")
    replace(lane / "channels.toml", "minutes = 18\n", "minutes = 0\n")
    text = (lane / "processes.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith(("minutes", "rework"))]
    (lane / "processes.toml").write_text("\n".join(lines), encoding="utf-8")
    for product in (lane / "products").glob("*.toml"):
        kept = [line for line in product.read_text(encoding="utf-8").splitlines() if not line.startswith("minutes")]
        product.write_text("\n".join(kept), encoding="utf-8")
    ran = troytag("cost", lane, *AS_OF)
    assert ran.code == 1
    assert "harbour-set in brass (and 6 more) takes no attended time of your own, so it cannot earn so much" in ran.err


def test_a_stale_quote_and_an_idle_policy_are_notes_on_stderr(troytag):
    ran = troytag("cost", tin_lane(), *AS_OF)
    flowing = " ".join(ran.err.split())
    assert "the quote in force for brass-grain is 8 days old on 2026-11-20 (of 2026-11-12)" in flowing
    assert "in stall and online the ladder decides every price: what the policy of each asks is decoration." in flowing
    assert "note" not in ran.out


def test_a_price_is_the_decimal_and_not_its_noise_on_every_face(troytag, tmp_path):
    """545,844 steps of 0.01 are 5458.4400000000005 in floats: with such steps many a price has a tail of digits."""
    folder = shutil.copytree(tin_lane(), tmp_path / "tin-lane")
    channels = (folder / "channels.toml").read_text(encoding="utf-8")
    channels = re.sub(r"(?m)^rounding = .*\n|^\[ladder\](?:\n.+)*", "", channels)
    channels = re.sub(r"(?m)^(\[channels\..*\])$", r"\1\nrounding = { step = 0.01 }", channels)
    (folder / "channels.toml").write_text(channels, encoding="utf-8")
    said = json.loads(troytag("cost", folder, *AS_OF, "--json").out)
    prices = [price["price"] for variant in said["variants"] for price in variant["prices"].values()]
    assert [repr(price) for price in prices] == [repr(float(f"{price:.2f}")) for price in prices]
    computed = cost(folder, asked_for(date(2026, 11, 20))).computed["price"]
    assert any(repr(float(price)) != repr(float(f"{price:.2f}")) for price in computed.flat)  # the engine's have noise
    lines = csv.DictReader(io.StringIO(troytag("cost", folder, *AS_OF, "--csv").out))
    assert all(len(line["price"].partition(".")[2]) <= 2 for line in lines)
    assert troytag("reprice", folder, *AS_OF, "--publish", "--yes").code == 0
    edition = read(folder, 1).content
    published = [each[key] for each in edition["prices"] for key in ("price", "asked")]
    assert [repr(price) for price in published] == [repr(float(f"{price:.2f}")) for price in published]


@pytest.mark.parametrize("step", ["0.01", "0.05", "0.001", "0.25", "1", "0.03"])
@pytest.mark.parametrize("ending", ["0", "0.99", "-0.01"])
def test_of_a_whole_number_of_steps_the_decimal_is_found(step, ending):
    """What a rounding rule makes in floats, against the same product and sum in decimals."""
    for number in (1, 3, 7, 29, 57, 545_844, 1_234_567, 99_999_999):
        price = number * float(step) + float(ending)
        assert decimal_price(price) == float(number * Decimal(step) + Decimal(ending))


def test_a_figure_that_is_no_decimal_stays_as_it_is():
    assert decimal_price(100 / 3) == 100 / 3
    assert decimal_price(None) is None


def test_how_sure_stands_beside_every_cost_and_price(troytag, lane, monkeypatch):
    """On the screen, in the JSON and the CSV the same ranges; as the figures stand lies between their ends."""
    monkeypatch.setattr(in_doubt, "uniform", lambda draws, dimensions: sobol.uniform(64, dimensions))
    (lane / "doubts.toml").write_text('"overhead.productive_hours" = { low = 80, high = 115 }\n', encoding="utf-8")
    said = troytag("cost", lane, *AS_OF, "--sure", "--sku", "reed-pin")
    assert said.code == 0 and "1 figure in doubt." in " ".join(said.err.split())
    variants = json.loads(troytag("cost", lane, *AS_OF, "--sure", "--sku", "reed-pin", "--json").out)["variants"]
    lines = list(csv.DictReader(io.StringIO(troytag("cost", lane, *AS_OF, "--sure", "--sku", "reed-pin", "--csv").out)))
    for variant in variants:
        assert variant["unit_cost_p10"] < variant["unit_cost"] < variant["unit_cost_p90"]
        assert re.search(f"P10–P90 +{variant['unit_cost_p10']:.2f}–{variant['unit_cost_p90']:.2f}\n", said.out)
        for channel, price in variant["prices"].items():
            assert price["price_p10"] <= price["price"] <= price["price_p90"]
            line = next(each for each in lines if (each["alloy"], each["channel"]) == (variant["alloy"], channel))
            assert float(line["unit_cost_p90"]) == variant["unit_cost_p90"]
            assert float(line["margin_p10"]) == price["margin_p10"] < price["margin_p90"]
            assert f"{price['price_p10']:,.2f}–{price['price_p90']:,.2f}" in said.out
    side = troytag("cost", lane, *AS_OF, "--sure", "--sku", "harbour-set", "--alloy", "brass", "--alloy", "silver-925")
    assert side.out.count("  P10–P90") == 1 + side.out.count(": price")
    assert troytag("cost", lane, *AS_OF, "--sure", "--steps").code == 2
