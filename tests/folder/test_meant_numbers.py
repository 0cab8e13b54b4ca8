"""Numbers as makers of all countries write them: no mend may be off by a factor or lose a sign."""

from __future__ import annotations

import pytest

from pricing.folder.toml.number_meant import readings
from tests.folder.telling import check_told
from tests.folder.workshops import Change

WORKSHOP = "workshop.toml"
ALLOYS = "alloys.toml"
PRICES = "metal_prices.csv"


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("38.40", ["38.40"]), ("38,40", ["38.40"]), ("-1,7", ["-1.7"]), ("+1,7", ["1.7"]), ("−5", ["-5"]),
        ("1,799", ["1799", "1.799"]), ("1,799.00", ["1799.00"]), ("1,234,567", ["1234567"]),
        ("1.234,56", ["1234.56"]), ("1.234.567", ["1234567"]), ("1.234.567,8", ["1234567.8"]),
        ("0,925", ["0.925"]),  # no thousands begin with 0
        ("1234,567", ["1234.567"]),  # nor stand four digits before their comma
        ("3 300", ["3300"]), ("3\N{NARROW NO-BREAK SPACE}300,50", ["3300.50"]), ("1'799.00", ["1799.00"]),
        ("1_000", ["1000"]), (",5", ["0.5"]), ("24.", ["24"]),
        ("£38.40", ["38.40"]), ("47,11 €", ["47.11"]), ("USD 1,799", ["1799", "1.799"]), ("-£1,799.00", ["-1799.00"]),
    ],
)  # fmt: skip
def test_a_number_that_can_be_read(text, numbers):
    assert list(readings(text)) == numbers


@pytest.mark.parametrize(
    "text", ["", "1/3", "38.4O", "=A1", "1,2,3", "1 2", "1,23,456", "1.2.3", "٣٨", "24 per hour", "5 ozt", "1e3", "--5"]
)
def test_no_number_is_proposed_where_nobody_can_say(text):
    assert readings(text) == ()


EITHER = "1799, or 1.799 if the comma is a decimal one"


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        (WORKSHOP, "purchase = 1450.0", "purchase = ▶1,799",
         f"this is no value. Write the number with digits and a point only: {EITHER}."),
        (ALLOYS, "Ag = 0.925, Cu", "Ag = ▶1,799, Cu",
         f"this is no value. Write the number with digits and a point only: {EITHER}."),
        (WORKSHOP, "rate = 24.0", "rate = ▶007", "this is no value. Write the number with digits and a point only: 7."),
        (PRICES, "2026-11-20,Ag,38.40,ozt", "▶2026-11-20,Ag,,5,ozt",  # 0.5, or 5 with a comma too many
         "7 fields stand where 6 belong. Write date,metal,price,per,currency,source."),
        (PRICES, "2026-11-20,Ag,38.40,ozt", "▶2026-11-20,Ag,38,4O,ozt",
         "7 fields stand where 6 belong. Write date,metal,price,per,currency,source."),
        (WORKSHOP, "purchase = 1450.0", "purchase = ▶1,799.00 # new",
         "this is no value. Write the number with digits and a point only: 1799.00."),
        (WORKSHOP, "purchase = 1450.0", "purchase = ▶1.799,00",
         "this is no value. Write the number with digits and a point only: 1799.00."),
        (WORKSHOP, "purchase = 1450.0", "purchase = ▶1 799",
         "this is no value. Write the number with digits and a point only: 1799."),
        (WORKSHOP, "purchase = 1450.0", "purchase = ▶£1,799", f"this is no value. Write the number alone: {EITHER}."),
        (WORKSHOP, "rate = 24.0", "rate = ▶24 GBP",
         "this is no value. Write the number with digits and a point only: 24."),
        (WORKSHOP, "rate = 24.0", "rate = ▶-1,7", "this is no value. Write the number with a point: -1.7."),
        (WORKSHOP, "rate = 24.0", "rate = ▶-5.", "this is no value. Write a digit behind the point: -5.0."),
        (WORKSHOP, "rate = 24.0", "rate = ▶-.5", "this is no value. Write a digit before the point: -0.5."),
        (WORKSHOP, "rate = 24.0", "rate = ▶8,5 %", "this is no value. Write a fraction: 0.085."),  # 8.5 / 100
        (WORKSHOP, "rate = 24.0", "rate = ▶-5 %", "this is no value. Write a fraction: -0.05."),
        (WORKSHOP, "purchase = 1450.0", 'purchase = ▶"1,799"',
         'machines.kiln.purchase: the text "1,799" stands where a number belongs. '
         f"Write it without the quotes: {EITHER}."),
        (WORKSHOP, "purchase = 1450.0", 'purchase = ▶"1.799,00 €"',
         'machines.kiln.purchase: the text "1.799,00 €" stands where a number belongs. '
         "Write it without the quotes: 1799.00."),
        (WORKSHOP, "purchase = 1450.0", 'purchase = ▶"1/3"',
         'machines.kiln.purchase: the text "1/3" stands where a number belongs. Write a number, without quotes.'),
        (ALLOYS, "Ag = 0.925, Cu = 0.075 }", "Ag = ▶0,925, Cu = 0,075 }",
         "this is no value. Write the number with a point: 0.925."),
        (ALLOYS, "Cu = 0.075 }", "Cu = ▶0,075 }", "this is no value. Write the number with a point: 0.075."),
        (ALLOYS, "Ag = 0.925", "Ag = ▶925",
         "alloys.sterling.composition.Ag: 925 is more than 1. "
         "Write a fraction: 925 parts per thousand is 0.925."),
        (ALLOYS, "Ag = 0.925", "Ag = ▶92.5",
         "alloys.sterling.composition.Ag: 92.5 is more than 1. Write a fraction, not a percentage: 92.5 % is 0.925."),
        (ALLOYS, "melt_loss = 0.01", "melt_loss = ▶1001",
         "alloys.sterling.melt_loss: 1001 is more than 1. Write a fraction, at most 1."),
        (ALLOYS, "melt_loss = 0.01", "melt_loss = 0.01\npremium = ▶150",
         "alloys.sterling.premium: 150 is more than 3. Write a fraction, not a percentage: 150 % is 1.5."),
        (WORKSHOP, "rate = 24.0", "rate = ▶1E+400",
         "labour.bench.rate: this number is too large to count with. Write a smaller one."),
        (PRICES, "Ag,38.40", "Ag,▶3,300",
         "price: a comma cuts the price in two. Write 3300, or 3.300 if the comma is a decimal one."),
        (PRICES, "Ag,38.40", "Ag,▶3,300.00",
         "price: a comma cuts the price in two. Write digits and a point only: 3300.00."),
        (PRICES, "Ag,38.40", "Ag,▶1,234,567",
         "price: a comma cuts the price in 3 pieces. Write digits and a point only: 1234567."),
        (PRICES, "38.40", '▶"3,300"', 'price: "3,300" is no number. '
         "Write digits and a point only: 3300, or 3.300 if the comma is a decimal one."),
        (PRICES, "38.40", '▶"47,11 €"', 'price: "47,11 €" is no number. Write digits and a point only: 47.11.'),
        (PRICES, "38.40", '▶"1.234,56"', 'price: "1.234,56" is no number. Write digits and a point only: 1234.56.'),
        (PRICES, "38.40", '▶"-1,7"', 'price: "-1,7" is no number. Write it with a point: -1.7.'),
        (PRICES, "38.40", "▶1/3", 'price: "1/3" is no number. Write digits and a point only.'),
        (PRICES, "38.40", "▶38.4O", 'price: "38.4O" is no number. Write digits and a point only.'),
        (PRICES, "38.40", "▶=A1", 'price: "=A1" is no number. Write digits and a point only.'),
    ],
)  # fmt: skip
def test_told_without_a_factor(tmp_path, file, old, new, told):
    check_told(tmp_path, (Change(file, old, new),), told)
