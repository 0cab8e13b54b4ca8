"""Input that is odd, and allowed: the figures are what an independent exact calculation says of the same folder."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from datetime import date, timedelta

import pytest

from tests.attack.spoiling import (
    ALLOYS,
    AS_OF,
    CHANNELS,
    HEADER,
    ON,
    PIN,
    PRICES,
    PROCESSES,
    STUDS,
    WORKSHOP,
    add_links,
    quoted,
    replace,
)
from tests.exact.compare import differences
from tests.exact.recompute import recompute
from tests.folders import tin_lane


def all_numbers(value) -> Iterator[float]:
    """Every number anywhere in a JSON document."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from all_numbers(item)
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield value


ODD = {
    "a fee that may never be more than nothing": [(CHANNELS, "rate = 0.0175, fixed = 0.1", "rate = 0.5, max = 0")],
    "a fee without a rate, held up by its least": [
        (CHANNELS, "rate = 0.0175, fixed", "rate = 0, min = 1, max = 2, fixed"),
    ],
    "a hundred fees": [
        (
            CHANNELS,
            '{ name = "card", rate = 0.0175, fixed = 0.1, of = "order" }',
            ", ".join(
                f'{{ name = "fee {number}", rate = 0.0005, min = 0.01, max = {number}.5, of = "order" }}'
                for number in range(1, 101)
            ),
        )
    ],
    "an ending below nothing": [(CHANNELS, "ending = 0.9 ", "ending = -0.05 ")],
    "an ending far below nothing": [(CHANNELS, "ending = 0.9 ", "ending = -1000000000 ")],
    "an ending above every price": [(CHANNELS, "ending = 0.9 ", "ending = 99999.25 ")],
    "rounded to the nearest of such prices": [(CHANNELS, "ending = 0.9 ", 'ending = 70, direction = "nearest" ')],
    "an order of a thousand million sets": [(CHANNELS, "units_per_order = 1.4", "units_per_order = 1000000000")],
    "a ladder that lifts nothing": [(CHANNELS, "keystone = 2.0", "keystone = 0.000001")],
    "one price for all of retail": [(CHANNELS, "keystone = 2.0", "keystone = 2.0\none_retail_price = true")],
    "half of the price is tax": [(CHANNELS, "rate = 0.19", "rate = 1")],
    "given away": [(CHANNELS, "policy = { margin = 0.22 }", "policy = { fixed = 0 }")],
    "a channel that leans on one in which nothing of it is sold": [
        (CHANNELS, "policy = { margin = 0.22 }", 'policy = { keystone_of = "gallery", multiple = 2.5 }'),
        (STUDS, '[steps."saw and grind"]', 'sold_in = ["stall", "online"]\n[steps."saw and grind"]'),
        (STUDS, "policy = { earn = 44.0 }\n", ""),
    ],
    "one in a hundred comes out good, at every step": [
        (PROCESSES, f"good = {good}\n", "good = 0.01\n")
        for good in ("0.955", "0.99", "0.91", "0.985", "0.97", "0.995", "0.98")
    ],
    "washed by the million million million": [(PROCESSES, "together = 14", "together = 1" + "0" * 18)],
    "fifty grams of sprue to a gram": [(STUDS, "sprue_ratio = 0.62", "sprue_ratio = 50")],
    "nothing may go back into the crucible": [(ALLOYS, "max_return_share = 0.5", "max_return_share = 0")],
    "a refiner who charges more than he pays": [(ALLOYS, "scrap_fee_per_g = 0.012", "scrap_fee_per_g = 99")],
    "an exchange rate of a hundred million": [(PRICES, "0.8641", "155000000")],
    "a currency without minor units": [
        (WORKSHOP, '"EUR"', '"JPY"'), (PRICES, ",EUR,", ",JPY,"), (CHANNELS, "rounding = { step = 0.5 }\n", ""),
    ],
    "a currency with four decimals": [
        (WORKSHOP, '"EUR"', '"CLF"'), (PRICES, ",EUR,", ",CLF,"), (CHANNELS, "rounding = { step = 0.5 }\n", ""),
    ],
    "the newest of several quotes of one day, in another unit": [
        (PRICES, "2026-11-24,Ag", "2026-11-18,Ag,55,ozt,USD,\n2026-11-18,Ag,2.6,dwt,USD,\n2026-11-24,Ag"),
    ],
}  # fmt: skip


@pytest.mark.parametrize("run", [None, 7])
@pytest.mark.parametrize("case", ODD)
def test_odd_but_allowed_is_computed_exactly(troytag, lane, case, run):
    for file, old, new in ODD[case]:
        replace(lane, file, old, new)
    ran = troytag("cost", lane, *ON, "--json", *(("--run", run) if run else ()))
    assert ran.code == 0, ran.err
    assert not differences(json.loads(ran.out)["variants"], recompute(lane, AS_OF, run))


@pytest.mark.parametrize("run", ["1", "1.5", "7.25", "1e12", "1e16"])
def test_runs_of_every_size_give_finite_figures(troytag, run):
    document = json.loads(troytag("cost", tin_lane(), *ON, "--json", "--run", run).out)
    assert document["run"] == float(run)
    assert all(map(math.isfinite, all_numbers(document)))


# ---- price histories

PUBLISHED = json.loads((tin_lane() / "expected.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "change",
    [
        quoted,
        lambda text: "\N{BYTE ORDER MARK}" + text.replace("\n", "\r\n"),
        lambda text: text.replace("4012.4", "4.0124E+03"),
        lambda text: text.replace(",fix", "," + "x" * 100_000),
        lambda text: "\n".join([HEADER, *reversed(text.splitlines()[1:])]),
    ],
    ids=["all in quotes", "byte order mark, line ends of Windows", "powers of ten", "endless sources", "newest first"],
)  # fmt: skip
def test_what_a_spreadsheet_may_do(troytag, lane, change):
    (lane / PRICES).write_bytes(change((lane / PRICES).read_text(encoding="utf-8")).encode())
    assert not differences(json.loads(troytag("cost", lane, *ON, "--json").out)["variants"], PUBLISHED)


def test_a_price_history_of_twenty_thousand_lines(troytag, lane):
    """Older quotes above and below those in force change nothing."""
    header, *lines = (lane / PRICES).read_text(encoding="utf-8").splitlines()
    older = [f"{date(2026, 10, 1) - timedelta(days=days)},Ag,{10 + days % 40}.5,ozt,USD,old" for days in range(10_000)]
    (lane / PRICES).write_text("\n".join([header, *older, *lines, *older]), encoding="utf-8")
    assert not differences(json.loads(troytag("cost", lane, *ON, "--json").out)["variants"], PUBLISHED)


# ---- products and names


def test_a_chain_of_three_hundred_likes(troytag, lane):
    """The last link is the pin at its end, but for the name."""
    add_links(lane, 300, "reed-pin")
    ran = troytag("cost", lane, *ON, "--json", "--sku", "reed-pin", "--sku", "link-299")
    by_sku = {variant["sku"]: variant for variant in json.loads(ran.out)["variants"]}
    last, pin = by_sku["link-299"], by_sku["reed-pin"]
    assert {**last, "sku": "reed-pin"} == pin


def test_a_workshop_that_sells_nowhere_still_has_costs(troytag, lane):
    (lane / CHANNELS).write_text("", encoding="utf-8")
    for product in ("products/reed-pin-small.toml", STUDS, "products/harbour-set.toml"):
        (lane / product).unlink()
    ran = troytag("cost", lane, *ON, "--json")
    (variant,) = json.loads(ran.out)["variants"]
    (exact,) = (each for each in recompute(tin_lane(), AS_OF) if each["sku"] == "reed-pin")
    assert variant["prices"] == {}
    assert not differences([variant], [{**exact, "prices": {}}])
    assert troytag("cost", lane, *ON).code == 0


def test_names_are_printed_as_they_stand(troytag, lane):
    """No mark-up of the terminal library, no emoji by its name, no format sign is read into them."""
    name = "[bold red]reed[/bold red] {0} %s :smile:"
    replace(lane, PIN, "Reed shawl pin, pierced", name)
    assert f"\n{name} · Sterling\n" in troytag("cost", lane, *ON, "--sku", "reed-pin").out


def test_an_alloy_whose_name_has_everything_in_it(troytag, lane):
    """Every face takes it, and its figures are those of the plain name."""
    name = 'silver 925/ß "x"; ../y'
    for file in (ALLOYS, STUDS, PIN, PROCESSES, "products/harbour-set.toml"):
        text = (lane / file).read_text(encoding="utf-8")
        text = text.replace("[alloys.silver-925]", f"[alloys.{json.dumps(name, ensure_ascii=False)}]")
        (lane / file).write_text(text.replace('"silver-925"', json.dumps(name, ensure_ascii=False)), encoding="utf-8")
    document = json.loads(troytag("cost", lane, *ON, "--json", "--alloy", name).out)
    exact = [each for each in recompute(tin_lane(), AS_OF) if each["alloy"] == "silver-925"]
    assert not differences(document["variants"], [{**each, "alloy": name} for each in exact])
    for words in ((), ("--sku", "reed-pin"), ("--csv",), ("--alloy", name, "--alloy", "brass"), ("--show-work",)):
        ran = troytag("cost", lane, *ON, *words)
        assert ran.code == 0, ran.err
