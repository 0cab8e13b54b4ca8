"""Entries of the drawer: typed, written down, read again; and what they are worth at the engine's prices."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from pricing.batches.adding import write_batch
from pricing.costing import asked_for, cost
from pricing.drawer.adding import doubts, write_entry
from pricing.drawer.model import Entry, Line
from pricing.drawer.on_hand import OnHand, on_hand, read_drawer
from pricing.drawer.read import read_every_entry, stock_faults
from pricing.drawer.typed import FIELDS, said_of, typed_entry
from pricing.drawer.worth import lying, prices_per_g
from pricing.errors import Faults, UsageFault
from tests.folder.workshops import Change, changed, write

DAY = date(2026, 11, 20)
SAMPLE = Path(__file__).parents[2] / "sample_catalog"


@pytest.fixture(scope="module")
def costing():
    return cost(SAMPLE, asked_for(DAY))


def typed(costing, **texts) -> Entry:
    said = {"what": "bought", "alloy": "sterling", "grams": "100", "money": "92", "day": "2026-11-20"}
    return typed_entry(said | texts, costing.folder.stated, costing.computed)


def bought(grams: float, money: float) -> Entry:
    lines = (Line(what="bought", alloy="sterling", form="fresh", grams=grams, money=money),)
    return Entry(day=DAY, lines=lines, currency="GBP")


def test_what_is_typed_is_an_entry_and_says_the_same_again(costing):
    entry = typed(costing, note="from the bullion dealer")
    assert entry.lines == (Line(what="bought", alloy="sterling", form="fresh", grams=100.0, money=92.0),)
    assert (entry.currency, entry.rate, entry.day) == ("GBP", 1.0, DAY)
    assert typed_entry(said_of(entry), costing.folder.stated) == entry
    assert set(said_of(entry)) <= set(FIELDS)


def test_what_is_weighed_in_another_unit_is_kept_in_grams(costing):
    """A pennyweight is 24 grains of 0.06479891 g, a troy ounce 480 of them (NIST Handbook 44, Appendix C)."""
    for text, grams in (("12.5 dwt", 12.5 * 24 * 0.06479891), ("3OZT", 3 * 480 * 0.06479891), ("7.5 g", 7.5)):
        assert typed(costing, grams=text).lines[0].grams == pytest.approx(grams, rel=1e-12)


def test_money_abroad_takes_the_rate_of_the_history(costing):
    """The sample's price history says that a dollar is 0.79 pounds on 2026-11-20."""
    assert typed(costing, currency="usd").rate == 0.79


def test_swept_metal_had_cost_what_the_refiner_pays_for_it(costing):
    place = [row.name for row in costing.computed.resolved.alloys].index("sterling")
    entry = typed(costing, what="swept", grams="3.2", money="")
    assert entry.lines[0].form == "lemel"
    assert entry.lines[0].money == pytest.approx(3.2 * costing.computed["lemel_price_per_g"][place])


@pytest.mark.parametrize(
    ("texts", "key", "problem"),
    [
        ({"alloy": "sterlin"}, "alloy", 'no alloy "sterlin"'),
        ({"what": "bougt"}, "what", '"bougt" is not known here'),
        ({"grams": "3,5"}, "grams", 'the text "3,5" stands where a number belongs'),
        ({"grams": "3 oz"}, "grams", 'the text "3 oz" stands where a number belongs'),
        ({"grams": ""}, "grams", "grams is missing"),
        ({"grams": "-2"}, "grams", "-2 is below 0"),
        ({"money": ""}, "money", "what was paid is missing"),
        ({"form": "lemel"}, "form", "lemel metal is not bought"),
        ({"day": "tomorrow"}, "day", 'the text "tomorrow" stands where a day belongs'),
        ({"day": "0026-11-20"}, "day", "0026-11-20 lies outside the years 1900 to 2200"),
        ({"currency": "SEK"}, "currency", "there is no exchange rate of SEK on or before 2026-11-20"),
        ({"note": "\udcff"}, "note", 'the text "\udcff" does not belong here'),
        ({"note": "\x1b[2J"}, "note", "signs that cannot be seen stand in it"),
        ({"note": "n" * 2001}, "note", "the text has 2001 letters, more than 2000"),
        ({"corrects": "x"}, "corrects", 'the text "x" stands where a number belongs'),
    ],
)
def test_what_is_typed_wrong_is_told_beside_its_field(costing, texts, key, problem):
    with pytest.raises(Faults) as told:
        typed(costing, **texts)
    assert [(fault.key, fault.problem) for fault in told.value.faults] == [(key, problem)]


def test_it_is_written_down_and_read_again(tmp_path, costing):
    first = write_entry(tmp_path, bought(100, 92))
    second = write_entry(tmp_path, Entry(day=DAY, currency="GBP", corrects=1))
    assert (first.number, second.number, second.previous is not None) == (1, 2, True)
    assert read_every_entry(tmp_path) == (first, second) and on_hand(tmp_path) == {}
    write_entry(tmp_path, bought(40, 36))
    assert on_hand(tmp_path) == on_hand(tmp_path, DAY) == {"sterling": OnHand(40.0, 0.0, 0.0)}
    assert on_hand(tmp_path, DAY - timedelta(days=1)) == {}  # a plan of the day before had nothing to draw on
    assert stock_faults(tmp_path) == []
    with pytest.raises(UsageFault, match="there is no entry 9"):
        write_entry(tmp_path, Entry(day=DAY, currency="GBP", corrects=9))
    with pytest.raises(UsageFault, match="entry 1 was corrected by 2 already"):
        write_entry(tmp_path, Entry(day=DAY, currency="GBP", corrects=1))


def test_slips_are_told_before_anything_is_written(tmp_path, costing):
    write_entry(tmp_path, bought(100, 92))
    written = read_every_entry(tmp_path)
    assert list(doubts(written, typed(costing), DAY)) == []
    assert list(doubts(written, typed(costing), DAY - timedelta(days=1))) == ["2026-11-20 has not come yet"]
    assert list(doubts(written, typed(costing, what="used", grams="130", money=""), DAY)) == [
        "130.00 g of fresh sterling are taken where 100.00 g lay on 2026-11-20"
    ]
    assert list(doubts(written, typed(costing, what="counted", grams="9.8", money=""), DAY)) == [
        "9.80 g of fresh sterling were counted where 100.00 g should lie"
    ]
    assert list(doubts(written, typed(costing, what="counted", grams="98", money=""), DAY)) == []
    assert list(doubts(written, typed(costing, what="used", grams="9", money="", day="2026-11-19"), DAY)) == [
        "9.00 g of fresh sterling are taken where 0.00 g lay on 2026-11-19"
    ]
    assert list(doubts(written, typed(costing, grams="5", money="4", corrects="1"), DAY)) == []
    write_entry(tmp_path, typed(costing, what="used", grams="60", money=""))
    assert list(doubts(read_every_entry(tmp_path), typed(costing, grams="5", money="4", corrects="1"), DAY)) == [
        "of fresh sterling 55.00 g more would be taken than were ever weighed in"
    ]


def test_worth_is_the_engines_own_price_of_each_form(tmp_path, costing):
    """Fresh at what grain costs, returned at what clean scrap brings, lemel at what filings bring."""
    write_entry(tmp_path, bought(100, 92))
    (fresh,) = lying(read_drawer(tmp_path), costing.computed)
    row = next(row for row, each in enumerate(costing.computed.resolved.variants) if each.alloy == "sterling")
    assert fresh.today == pytest.approx(100 * costing.computed["buy_price_per_g"][row])
    place = [each.name for each in costing.computed.resolved.alloys].index("sterling")
    prices = prices_per_g(costing.computed)["sterling"]
    assert prices["returned"] == costing.computed["scrap_price_per_g"][place]
    assert prices["lemel"] == costing.computed["lemel_price_per_g"][place]
    assert lying(read_drawer(tmp_path), None)[0].today is None


def test_a_notebook_has_both_as_tables(tmp_path):
    import pricing
    from tests.batches.test_drawn import METAL, card

    folder = write(tmp_path / "shop", changed(Change("alloys.toml", 'mark = "925"', 'mark = "925"\nunpriced = ["Cu"]')))
    write_entry(folder, bought(250, 250))
    write_batch(folder, card(), "GBP", METAL, draws=True)
    costed = pricing.cost(folder, as_of=DAY)
    assert costed.drawer().set_index(["alloy", "form"]).loc[("sterling", "fresh"), "cost_paid"] == pytest.approx(150)
    assert list(costed.batches()["missing_g"]) == [pytest.approx(1.0)]


def test_the_command_line_keeps_a_drawer(troytag, tmp_path):
    folder = tmp_path / "shop"
    folder.mkdir()
    write(folder, changed())
    assert "The drawer is empty" in troytag("stock", folder).out
    assert "100.00 g of fresh sterling now, at 0.9200 GBP a gram" in " ".join(
        troytag("stock", folder, "add", "bought", "sterling", "100", "--paid", "92").out.split()
    )
    refused = troytag("stock", folder, "add", "used", "sterling", "130")
    assert refused.code == 2 and "add --yes" in refused.err
    assert troytag("stock", folder, "add", "used", "sterling", "60").code == 0
    document = json.loads(troytag("stock", folder, "show", "--json").out)
    assert (document["drawer"][0]["grams"], document["cost_paid"]) == (40.0, pytest.approx(40 * 0.92))
    far = ("counted", "sterling", "12", "--date", "2199-01-01", "--yes")
    assert "There are 12.00 g of fresh sterling on 2199-01-01" in " ".join(
        troytag("stock", folder, "add", *far).out.split()
    )
    ahead = troytag("stock", folder)
    assert "40.00" in ahead.out and "1 entry is of a later day and not counted" in ahead.err
    assert "12.00" in troytag("stock", folder, "show", "--as-of", "2199-01-01").out
    assert troytag("stock", folder, "strike", "3").code == 0
    assert troytag("stock", folder, "strike", "2").out == "Entry 2 is struck out.\n"
    assert "Error" not in (wrong := troytag("stock", folder, "strike", "0", "--note", "\udcff")).err and wrong.code == 2
    assert len(troytag("stock", folder, "list", "--csv").out.splitlines()) == 2
    (folder / "stock" / "000002.json").unlink()
    told = troytag("stock", folder)
    assert told.code == 1 and "entry 2 is missing" in told.err
