"""Faults of the price history, each with the line and the column of its field."""

from __future__ import annotations

import pytest

from tests.folder.telling import check_told
from tests.folder.workshops import Change, changed, faults_of, read, write

PRICES = "metal_prices.csv"
HEADER = "date,metal,price,per,currency,source"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("38.40", "▶38,40", "price: a comma cuts the price in two. Write it with a point: 38.40."),
        ("38.40", '▶"38,40"', 'price: "38,40" is no number. Write it with a point: 38.40.'),
        ("38.40", "▶£38.40", 'price: "£38.40" is no number. Write digits and a point only: 38.40.'),
        ("38.40", '▶"1,038.40"', 'price: "1,038.40" is no number. Write digits and a point only: 1038.40.'),
        ("38.40", "▶1_000", 'price: "1_000" is no number. Write digits and a point only: 1000.'),
        ("38.40", "▶٣٨", 'price: "٣٨" is no number. Write digits and a point only.'),
        ("38.40", "▶nan", 'price: "nan" is no number. Write digits and a point only.'),
        ("38.40", "▶0", "price: 0 is not above 0. State a number above 0."),
        ("38.40", "▶-38.40", "price: -38.4 is not above 0. State a number above 0."),
        ("38.40", "▶1e999", 'price: "1e999" is no number to count with. Write a smaller one.'),
        ("38.40", "▶", "price: nothing stands here. Write the price."),
        ("38.40", "   ▶dear", 'price: "dear" is no number. Write digits and a point only.'),
        ("ozt", "▶oz", 'per: "oz" is not known here. Did you mean "ozt"?'),
        ("ozt", "▶pound", 'per: "pound" is not known here. Write "ozt", "dwt", "g", "kg", "lb", "t" or "unit".'),
        ("ozt", "▶unit", 'per: "unit" is for exchange rates, and "Ag" is no currency. '
         "Write the mass that the price is for, such as ozt or kg."),
        ("ozt,USD", "ozt,▶US$", 'currency: "US$" is no currency. Write its ISO 4217 code, such as "GBP".'),
        ("ozt,USD", "ozt,▶usd", 'currency: "usd" is no currency. Did you mean "USD"?'),
        ("2026-11-20,Ag", "▶20/11/2026,Ag", 'date: "20/11/2026" is no day. Write year, month, day as 2026-11-20.'),
        ("2026-11-20,Ag", "▶20261120,Ag", 'date: "20261120" is no day. Write year, month, day as 2026-11-20.'),
        ("2026-11-20,Ag", "▶2026-02-30,Ag", 'date: "2026-02-30" is no day of the calendar. Look it up again.'),
        ("2026-11-20,Ag,38.40,ozt,USD,morning fix", "▶2026-11-20,Ag,38.40,ozt,USD",
         "5 fields stand where 6 belong. Add a comma at its end where there is no source."),
        ("2026-11-20,Ag,38.40,ozt,USD,morning fix", "▶2026-11-20,Ag,38.40",
         f"3 fields stand where 6 belong. Write {HEADER}."),
        ("morning fix", "▶morning, fix",
         'source: 7 fields stand where 6 belong. Put a source that has a comma in quotes: "a, b".'),
        ("2026-11-20,Ag,38.40,ozt,USD,morning fix", '▶2026-11-20,Ag,38.40,ozt,USD,"morning" fix',
         'there is text behind a closing quote. Write a quote inside quotes twice: "a ""b"" c".'),
        ("2026-11-20,Ag,38.40,ozt,USD,morning fix", '▶2026-11-20,Ag,38.40,ozt,USD,"morning fix',
         "a quote is opened on this line and never closed. Close it, or take it out."),
        ("date,metal", "date,▶metl", 'no column is called "metl". Did you mean "metal"?'),
        ("date,metal,price,per,currency,source\n", "▶date,metal,price,per,currency\n",
         f"the column source is missing. Write {HEADER}."),
        ("date,metal,price,per,currency,source\n2026", "▶2026",
         f"the line with the names of the columns is missing. Put this line above it: {HEADER}"),
        ("date,metal,price,per,currency,source", "▶Date,Metal,Price,Per,Currency,Source",
         f"the names of the columns have capitals in them. Write them small: {HEADER}."),
        ("date,metal,price,per,currency,source", "▶Datum,Metall,Preis,Masse,Geld,Quelle",
         "the line with the names of the columns is missing. "
         f"This one has other names: write {HEADER}"),
        ("date,metal,price,per,currency,source", "▶sep=,\ndate,metal,price,per,currency,source",
         "this line tells a spreadsheet which sign stands between the fields, and is none of the history. "
         f"Take it out, so that the first line is {HEADER}."),
        ("2026-11-20,Ag,38.40,ozt,USD,morning fix", "▶2026-11-20",
         f"1 field stands where 6 belong. Write {HEADER}."),
        ("USD,0.79,unit,GBP", "GBP,1,unit,▶GBP",
         'currency: the exchange rate of "GBP" is told in itself. '
         "Name the currency that one of it costs, or take the line out."),
        ("date,metal,price,per,currency,source", "▶date;metal;price;per;currency;source",
         "the line with the names of the columns is missing. "
         f"Put commas between the fields, and in the first line: {HEADER}"),
    ],
)  # fmt: skip
def test_told_at_its_field(tmp_path, old, new, told):
    check_told(tmp_path, (Change(PRICES, old, new),), told)


def test_quotes_that_swallow_half_the_file(tmp_path):
    """The csv reader gives up at 131,072 letters in one field, long before it comes to the end of the file."""
    check_told(
        tmp_path,
        (
            Change(
                PRICES, "2026-11-20,Ag,38.40,ozt,USD,morning fix", '▶2026-11-20,Ag,38.40,ozt,USD,"' + "fix\n" * 40_000
            ),
        ),
        "a field that begins on this line is longer than any can be. See where its quotes should close.",
    )


def test_every_field_of_a_line_at_once(tmp_path):
    check_told(
        tmp_path,
        (Change(PRICES, "2026-11-20,Ag,38.40,ozt,USD,morning fix", "▶tomorrow,▶,▶cheap,▶ton,▶Pound,"),),
        'date: "tomorrow" is no day. Write year, month, day as 2026-11-20.',
        "metal: nothing stands here. Write the metal.",
        'price: "cheap" is no number. Write digits and a point only.',
        'per: "ton" is not known here. Write "ozt", "dwt", "g", "kg", "lb", "t" or "unit".',
        'currency: "Pound" is no currency. Write its ISO 4217 code, such as "GBP".',
    )


@pytest.mark.parametrize("header_too", [True, False])
def test_empty_columns_that_spreadsheets_write_do_not_count(tmp_path, header_too):
    text = "\n".join(f"{line},,," for line in changed()[PRICES].splitlines())
    text = text if header_too else text.replace("source,,,", "source")
    folder = read(tmp_path, Change(PRICES, "", text))
    assert [quote.source for quote in folder.stated.quotes] == ["morning fix", "supplier list", "bank"]


def test_of_very_many_faults_the_first_are_told(tmp_path):
    """Of 1,000 bad lines from line 5 on, 50 are told and 950 counted, at the 51st of them: line 55."""
    files = changed()
    files[PRICES] += "2026-11-20,Ag,dear,ozt,USD,\n" * 1000
    faults = faults_of(write(tmp_path, files))
    assert [fault.place.line for fault in faults] == list(range(5, 56))
    assert faults[-1].headline() == "metal_prices.csv:55:15 … and 950 more like these. Mend those above first."


def test_a_column_twice(tmp_path):
    check_told(
        tmp_path,
        (Change(PRICES, "date,metal,price", "date,metal,▶metal"),),
        'the column "metal" is there twice. Keep one.',
    )


def test_lines_are_counted_through_quoted_line_ends_and_blank_lines(tmp_path):
    """The source runs over lines 2 and 3, line 4 is blank, and the metal of the next record over lines 5 and 6."""
    check_told(
        tmp_path,
        (Change(PRICES, "morning fix\n", '"morning\nfix"\n\n2026-11-20,▶"Grain\nA",▶dear,kg,GBP,\n'),),
        "metal: it has blanks at its ends or signs that cannot be seen. Write it without them.",
        'price: "dear" is no number. Write digits and a point only.',
    )


@pytest.mark.parametrize("text", ["", "\n\n", " \n,,,,,\n"])
def test_an_empty_file(tmp_path, text):
    files = {**changed(), PRICES: text}
    (fault,) = faults_of(write(tmp_path, files))
    assert str(fault) == f"metal_prices.csv the file is empty. Its first line is {HEADER}."


def test_columns_in_any_order_blanks_around_fields_and_no_source(tmp_path):
    text = (
        "price,per,currency,metal,date,source\n"
        " 38.40 , ozt,USD,Ag,2026-11-20,\n"
        ",,,,,\n"
        '9.80,kg,GBP,brass-grain,2026-11-20,"list, page 3"\n'
    )
    quotes = read(tmp_path, Change(PRICES, "", text)).stated.quotes
    assert [(quote.line, quote.metal, quote.price, quote.per, quote.currency, quote.source) for quote in quotes] == [
        (2, "Ag", 38.4, "ozt", "USD", ""),
        (4, "brass-grain", 9.8, "kg", "GBP", "list, page 3"),
    ]
    assert {quote.date.isoformat() for quote in quotes} == {"2026-11-20"}


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_line_ends_of_every_system(tmp_path, line_end):
    files = {**changed()}
    files[PRICES] = files[PRICES].replace("38.40", "dear").replace("\n", line_end)
    (fault,) = faults_of(write(tmp_path, files))
    assert str(fault) == (
        'metal_prices.csv:2:15 price: "dear" is no number. Write digits and a point only.\n'
        "     2 | 2026-11-20,Ag,dear,ozt,USD,morning fix\n"
        "       |               ^"
    )


def test_the_place_of_a_field_by_its_line_and_column(tmp_path):
    folder = read(tmp_path)
    assert str(folder.place(PRICES, (3, "price"))) == "metal_prices.csv:3:24"  # behind "2026-11-20,brass-grain,"
    assert str(folder.place(PRICES, (3,))) == "metal_prices.csv:3:1"
    assert str(folder.place(PRICES)) == PRICES
    assert str(folder.place(PRICES, (99, "price"))) == PRICES
