"""The prices in force looked at again: verdicts, the maker's own words, the ladder, what is gone."""

from __future__ import annotations

import shutil
from datetime import date, datetime

import numpy as np
import pytest

from pricing.costing import Costing, asked_for, cost
from pricing.editions.chain import newest, read
from pricing.errors import TroytagError
from pricing.formulas.rerun import rerun
from pricing.studies.causes.of_repricing import changes
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import RepricedRow, Repricing, prices_held, reprice
from tests.folders import tin_lane

DAY = date(2026, 11, 20)
MOMENT = datetime.fromisoformat("2026-11-20T18:30:00+00:00")
POLICY = "reprice = { keep_within = 0.02, largest_step = 0.05, least_margin = 0.10, days_between = 30 }\n"


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(tin_lane(), tmp_path / "tin-lane")


def changed_file(folder, file: str, before: str, after: str) -> None:
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert before in text
    path.write_text(text.replace(before, after), encoding="utf-8")


def costing_of(folder, day: str = "2026-11-20") -> Costing:
    return cost(folder, asked_for(date.fromisoformat(day)))


def published(folder, day: str = "2026-11-20", **words) -> None:
    publish_prices(reprice(costing_of(folder, day), newest(folder), **words), MOMENT, ahead=True)


def silver_at(folder, price: str, day: str) -> None:
    lines = folder / "metal_prices.csv"
    lines.write_text(lines.read_text(encoding="utf-8") + f"{day},Ag,{price},ozt,USD,test\n", encoding="utf-8")


def row_of(repricing: Repricing, sku: str, alloy: str, channel: str) -> RepricedRow:
    (row,) = [row for row in repricing.rows if (row.sku, row.alloy, row.channel) == (sku, alloy, channel)]
    return row


def test_without_an_edition_every_price_is_new_and_is_what_the_policy_asks(folder):
    costing = costing_of(folder)
    found = reprice(costing, None)
    assert {row.verdict for row in found.rows} == {"new"}
    assert len(found.rows) == int(costing.computed["sold"].sum())
    assert all(row.to == row.asked and row.held is None and row.earns is None for row in found.rows)


def test_when_nothing_changed_every_price_is_held_as_asked(folder):
    published(folder)
    found = reprice(costing_of(folder), newest(folder))
    assert {(row.verdict, row.reason) for row in found.rows} == {("hold", "same")}
    assert found.moved() == []


def test_the_margin_that_a_held_price_earns_is_the_engine_s_at_that_price(folder):
    published(folder)
    silver_at(folder, "59.262", "2026-11-21")
    costing = costing_of(folder, "2026-11-21")
    found = reprice(costing, newest(folder))
    held = prices_held(costing, newest(folder))
    margin = rerun(costing.computed, {"price": held}, ["profit", "net_sales"])
    spots = zip(*np.nonzero(costing.computed["sold"]), strict=True)
    for row, spot in zip(found.rows, spots, strict=True):
        assert row.earns == pytest.approx(margin["profit"][spot] / margin["net_sales"][spot], rel=1e-12)
        assert row.held == held[spot]


def test_without_a_policy_every_difference_moves(folder):
    published(folder)
    silver_at(folder, "59.262", "2026-11-21")
    found = reprice(costing_of(folder, "2026-11-21"), newest(folder))
    assert {row.reason for row in found.rows} == {"same", "policy"}
    assert {row.verdict for row in found.rows if row.reason == "policy"} == {"raise"}
    assert all(row.to == row.asked for row in found.rows)


def with_policy(folder) -> None:
    """A policy for the stall, and no ladder, which would lift its prices with the gallery's."""
    changed_file(folder, "channels.toml", "[ladder]\nkeystone = 2.0\n", "")
    changed_file(folder, "channels.toml", "policy = { margin = 0.22 }\n", "policy = { margin = 0.22 }\n" + POLICY)


def test_a_moved_price_stops_at_largest_step_and_says_what_is_owing(folder):
    with_policy(folder)
    published(folder)
    silver_at(folder, "59.262", "2026-12-30")
    found = reprice(costing_of(folder, "2026-12-30"), newest(folder))
    stall = [row for row in found.rows if row.channel == "stall"]
    stepped = [row for row in stall if row.owing]
    assert stepped
    for row in stepped:
        assert row.to <= row.held * 1.05 + 1e-9 and row.owing == row.asked - row.to
        assert (row.to - 0.9) % 1 == pytest.approx(0, abs=1e-9) or (row.to - 0.9) % 1 == pytest.approx(1, abs=1e-9)


def test_within_days_between_it_waits_but_not_below_least_margin(folder):
    with_policy(folder)
    published(folder)
    silver_at(folder, "59.262", "2026-12-01")
    found = reprice(costing_of(folder, "2026-12-01"), newest(folder))  # eleven days later
    stall = [row for row in found.rows if row.channel == "stall" and row.reason != "same"]
    assert {row.reason for row in stall} >= {"waits"}
    for row in stall:
        if row.reason == "waits":
            assert row.verdict == "hold" and row.earns >= 0.10
        if row.reason == "below_least":
            assert row.verdict == "raise" and row.earns < 0.10


def test_days_count_from_the_last_change_not_from_the_last_edition(folder):
    """Published on the 20th of November and, held, on the 30th: on the 20th of December 30 days are over."""
    with_policy(folder)
    published(folder)
    silver_at(folder, "59.262", "2026-11-30")
    published(folder, "2026-11-30")
    second = {(row["sku"], row["alloy"]): row for row in newest(folder).content["prices"] if row["channel"] == "stall"}
    waited = [key for key, row in second.items() if row["reason"] == "waits"]
    assert waited and all(second[key]["set_on"] == "2026-11-20" and second[key]["set_in"] == 1 for key in waited)
    for day, reason in (("2026-12-19", "waits"), ("2026-12-20", "beyond")):
        found = reprice(costing_of(folder, day), newest(folder))
        assert {row_of(found, *key, "stall").reason for key in waited} == {reason}


def test_the_maker_s_word_goes_before_the_policy(folder):
    with_policy(folder)
    published(folder)
    silver_at(folder, "59.262", "2026-12-30")
    costing = costing_of(folder, "2026-12-30")
    plain = reprice(costing, newest(folder))
    stepped = next(row for row in plain.rows if row.owing)
    mine = [row for row in plain.rows if (row.sku, row.alloy) == (stepped.sku, stepped.alloy)]
    other = next(row.channel for row in mine if row.channel != "stall" and row.verdict == "raise")
    words = {(stepped.sku, stepped.alloy, "stall"): "accept", (stepped.sku, stepped.alloy, other): "hold"}
    found = reprice(costing, newest(folder), words)
    accepted, kept = (row_of(found, stepped.sku, stepped.alloy, channel) for channel in ("stall", other))
    assert (accepted.to, accepted.reason, accepted.owing) == (stepped.asked, "accepted", 0)
    assert (kept.to, kept.reason, kept.verdict) == (kept.held, "kept", "hold")
    others = [row for row in found.rows if (row.sku, row.alloy) != (stepped.sku, stepped.alloy)]
    assert others == [row for row in plain.rows if (row.sku, row.alloy) != (stepped.sku, stepped.alloy)]


def test_the_ladder_lifts_what_the_band_would_hold_and_is_told_when_the_maker_s_word_breaks_it(folder):
    """The gallery buys at more; the stall, which would be held, may not stand below twice that."""
    changed_file(folder, "channels.toml", "policy = { margin = 0.22 }\n",
                 "policy = { margin = 0.22 }\nreprice = { keep_within = 0.9 }\n")  # fmt: skip
    published(folder)
    changed_file(folder, "channels.toml", "policy = { markup = 0.3 }", "policy = { markup = 1.5 }")
    costing = costing_of(folder)
    found = reprice(costing, newest(folder))
    lifted = [row for row in found.rows if row.channel == "stall" and row.reason == "keystone"]
    assert lifted
    tax = 1.19  # in the stall's prices; the keystone is 2
    for row in lifted:
        gallery = row_of(found, row.sku, row.alloy, "gallery")
        assert row.to / tax >= 2 * gallery.to - 1e-9
    words = {(lifted[0].sku, lifted[0].alloy, "stall"): "hold"}
    kept = row_of(reprice(costing, newest(folder), words), lifted[0].sku, lifted[0].alloy, "stall")
    assert (kept.verdict, kept.breaks_ladder) == ("hold", True)


def test_what_is_sold_no_more_is_gone_and_what_comes_is_new(folder):
    published(folder)
    changed_file(folder, "products/reed-pin.toml", 'sku = "reed-pin"', 'sku = "heron-pin"')
    changed_file(folder, "products/reed-pin-small.toml", 'like = "reed-pin"', 'like = "heron-pin"')
    found = reprice(costing_of(folder), newest(folder))
    assert {row.sku for row in found.rows if row.verdict == "gone"} == {"reed-pin"}
    assert {row.sku for row in found.rows if row.verdict == "new"} == {"heron-pin"}
    publish_prices(found, MOMENT, ahead=True)
    assert {row["sku"] for row in newest(folder).content["prices"]} & {"reed-pin"} == set()


def test_a_workshop_that_sells_nothing_publishes_nothing(folder):
    costing = costing_of(folder)
    with pytest.raises(TroytagError, match="there is no price to publish"):
        publish_prices(Repricing(costing, None, (), costing.computed["price"]))


# ---- why


def test_a_change_is_told_since_the_day_on_which_the_price_was_set(folder):
    """Silver rises twice; the price is held the first time by the maker's word, so the second look tells both rises."""
    published(folder)
    silver_at(folder, "55", "2026-11-25")
    hold = {(row.sku, row.alloy, None): "hold" for row in reprice(costing_of(folder), newest(folder)).rows}
    published(folder, "2026-11-25", words=hold)
    silver_at(folder, "60", "2026-11-30")
    found = reprice(costing_of(folder, "2026-11-30"), newest(folder))
    why = changes(folder, found, found.rows, of_prices=True)
    first, now = costing_of(folder).computed, found.costing.computed
    for row in found.rows:
        change = why.of_cost(row)
        place = [(each.sku, each.alloy) for each in now.resolved.variants].index((row.sku, row.alloy))
        assert (change.edition, change.since) == (1, DAY)
        assert change.before == pytest.approx(first["unit_cost"][place], rel=1e-12)
        assert sum(part for _, part in change.parts) == pytest.approx(change.after - change.before, abs=1e-9)
        shown = change.shown_parts("EUR")
        whole = round(change.after, 2) - round(change.before, 2)
        assert sum(round(part * 100) for _, part in shown) == round(whole * 100)
        asked = why.of_price(row)
        assert asked.after == row.asked
        assert sum(part for _, part in asked.parts) == pytest.approx(asked.after - asked.before, abs=1e-9)


def test_an_edition_that_cannot_be_compared_is_told_and_does_not_stand_in_the_way(folder):
    published(folder)
    silver_at(folder, "60", "2026-11-30")
    published(folder, "2026-11-30")
    (folder / "editions" / "000001.json").write_text("{}")
    found = reprice(costing_of(folder, "2026-11-30"), newest(folder))
    why = changes(folder, found, found.rows)
    assert why.missing == {1: "this edition is torn or is none"}
    told = {why.of_cost(row) is None for row in found.rows if row.in_force.set_in == 1}
    assert told == {True}
    assert read(folder, 2).number == 2


ONE_PRICE = "[ladder]\none_retail_price = true\n"
CAUTIOUS = "reprice = { keep_within = 0.50 }\n"


def with_one_price(folder, rule: str = "") -> None:
    """Gallery, stall and online ask one price; `rule` stands in the stall, the others state none."""
    changed_file(folder, "channels.toml", "[ladder]\nkeystone = 2.0\n", ONE_PRICE)
    text = (folder / "channels.toml").read_text(encoding="utf-8")
    (folder / "channels.toml").write_text(text.replace("[channels.stall]\n", f"[channels.stall]\n{rule}"), "utf-8")


def verdicts(folder, channels=("stall", "online")) -> dict[str, set]:
    silver_at(folder, "90", "2026-11-21")
    found = reprice(costing_of(folder, "2026-11-21"), newest(folder))
    return {name: {(row.verdict, row.reason, row.by) for row in found.rows if row.channel == name} for name in channels}


def test_one_retail_price_is_held_by_the_only_rule_there_is_and_the_others_follow(folder):
    """A channel without rules takes every difference for a change; alone it may not drag the others past theirs."""
    with_one_price(folder, CAUTIOUS)
    published(folder)
    found = verdicts(folder)
    assert {verdict for verdict, _, _ in found["stall"] | found["online"]} == {"hold"}
    assert {reason for _, reason, _ in found["stall"]} <= {"same", "within"}
    assert found["online"] == {("hold", "one_price", "stall")}


def test_one_retail_price_moves_where_a_channel_has_a_reason_and_the_reason_names_it(folder):
    with_one_price(folder, "reprice = { keep_within = 0.0 }\n")
    published(folder)
    found = verdicts(folder)
    assert ("raise", "beyond", "") in found["stall"]
    assert ("raise", "one_price", "stall") in found["online"]
    assert {verdict for verdict, _, _ in found["stall"]} == {verdict for verdict, _, _ in found["online"]}


def test_one_retail_price_without_any_rule_follows_the_policies(folder):
    with_one_price(folder)
    published(folder)
    assert ("raise", "policy", "") in verdicts(folder)["online"]


def test_the_maker_s_word_on_one_channel_is_a_word_on_the_one_price(folder):
    with_one_price(folder)
    published(folder)
    silver_at(folder, "90", "2026-11-21")
    costing = costing_of(folder, "2026-11-21")
    moved = next(
        row for row in reprice(costing, newest(folder)).rows if (row.verdict, row.channel) == ("raise", "online")
    )
    held = reprice(costing, newest(folder), {(moved.sku, moved.alloy, moved.channel): "hold"})
    mine = [row for row in held.rows if (row.sku, row.alloy) == (moved.sku, moved.alloy) and row.channel != "gallery"]
    assert len(mine) > 1 and {(row.verdict, row.reason) for row in mine} == {("hold", "kept")}
