"""Adding to the price history: what a person wrote stays, letter by letter."""

from __future__ import annotations

import csv
import threading
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import Faults
from pricing.folder.prices import append
from pricing.folder.prices.append import append_quote, append_quotes, typed_quote, with_lines
from pricing.folder.prices.history import HEADER, PriceLines, read_quotes
from pricing.folder.prices.in_force import in_force
from pricing.model.quote import Quote

SILVER = Quote(date=date(2026, 11, 21), metal="Ag", price=39.1, per="ozt", currency="USD", source="morning fix")
LINE = "2026-11-21,Ag,39.10,ozt,USD,morning fix"
OLD = f"{HEADER}\n2026-11-20,Ag,38.40,ozt,USD,\n"


def added(text: str, quote: Quote = SILVER, price: str | None = "39.10") -> str:
    return with_lines(text.encode(), [(quote, price)]).decode()


@pytest.mark.parametrize(
    ("before", "addition"),
    [
        (OLD, f"{LINE}\n"),
        (OLD.removesuffix("\n"), f"\n{LINE}\n"),  # the last line end was missing
        (OLD.replace("\n", "\r\n"), f"{LINE}\r\n"),
        (OLD.replace("\n", "\r\n").removesuffix("\r\n"), f"\r\n{LINE}\r\n"),
        (OLD.replace("\n", "\r"), f"{LINE}\r"),
        (OLD + "\n\n", f"{LINE}\n"),  # a person's blank lines stay
        (f"{HEADER}\n", f"{LINE}\n"),
        (HEADER, f"\n{LINE}\n"),
        ("", f"{HEADER}\n{LINE}\n"),
        ("\n", f"{HEADER}\n{LINE}\n"),
        (
            "price,per,currency,metal,date,source\n9.80,kg,GBP,brass-grain,2026-11-20,list\n",
            "39.10,ozt,USD,Ag,2026-11-21,morning fix\n",
        ),
        (f"{HEADER}\n2026-12-01, Ag ,41.0,ozt,USD,\n2026-01-01,Ag,1,ozt,USD,x\n", f"{LINE}\n"),  # not in order
    ],
)
def test_a_line_is_added_at_the_end(before, addition):
    assert added(before) == before + addition


def test_a_byte_order_mark_stays():
    mark = b"\xef\xbb\xbf"
    assert with_lines(mark + OLD.encode(), [(SILVER, "39.10")]) == mark + f"{OLD}{LINE}\n".encode()
    assert with_lines(mark, [(SILVER, "39.10")]) == mark + f"{HEADER}\n{LINE}\n".encode()


def test_without_a_typed_number_all_its_digits_are_written():
    assert added(OLD, SILVER.model_copy(update={"price": 0.1 + 0.2}), None).endswith(
        "Ag,0.30000000000000004,ozt,USD,morning fix\n"
    )


def test_a_source_with_commas_and_quotes():
    quote = SILVER.model_copy(update={"source": 'list, "page" 3'})
    assert added(OLD, quote).endswith('2026-11-21,Ag,39.10,ozt,USD,"list, ""page"" 3"\n')


def test_a_faulty_line_elsewhere_does_not_stand_in_the_way():
    before = f"{HEADER}\n2026-11-20,Ag,dear,ozt,USD,\n"
    assert added(before) == f"{before}{LINE}\n"


def test_behind_an_open_quote_nothing_is_added():
    with pytest.raises(Faults) as caught:
        added(f'{HEADER}\n2026-11-20,Ag,38.40,ozt,USD,"morning fix\n')
    assert [fault.headline() for fault in caught.value.faults] == [
        "metal_prices.csv:2:1 a quote is opened on this line and never closed. Close it, or take it out."
    ]


def test_without_the_names_of_the_columns_nothing_is_added():
    with pytest.raises(Faults, match="the line with the names of the columns is missing"):
        added("2026-11-20,Ag,38.40,ozt,USD,fix\n")


PRICES = st.floats(1e-6, 1e9)
FIELD = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@given(st.lists(st.tuples(PRICES, FIELD), max_size=3), st.lists(st.tuples(PRICES, FIELD), min_size=1, max_size=3))
def test_what_was_added_is_read_back_behind_what_was_there(old, new):
    """Any source text: a quote that is made of it is read back as it was, or nothing is written."""

    def quotes(pairs):
        return [SILVER.model_copy(update={"price": price, "source": source.strip()}) for price, source in pairs]

    try:
        content = with_lines(b"", [(quote, None) for quote in quotes(old)])
        both = with_lines(content, [(quote, None) for quote in quotes(new)])
    except Faults:
        return
    assert both.startswith(content)
    read, faults = read_quotes(PriceLines(both.decode()))
    assert not faults
    assert [(each.price, each.source) for each in read] == [(each.price, each.source) for each in quotes(old + new)]


def test_of_several_lines_of_a_day_the_last_counts(tmp_path):
    (tmp_path / "metal_prices.csv").write_text(OLD)
    append_quote(tmp_path, SILVER, "39.10")
    append_quote(tmp_path, SILVER.model_copy(update={"price": 39.2}), "39.20")
    quotes, _ = read_quotes(PriceLines((tmp_path / "metal_prices.csv").read_text()))
    assert [quote.price for quote in quotes] == [38.4, 39.1, 39.2]
    assert in_force(quotes, date(2026, 11, 30)).metals["Ag"].price == 39.2


def test_several_writers_at_once_lose_nothing(tmp_path):
    (tmp_path / "metal_prices.csv").write_text(OLD)

    def add(number: int) -> None:
        for step in range(5):
            append_quote(tmp_path, SILVER.model_copy(update={"price": float(100 * number + step + 1)}))

    threads = [threading.Thread(target=add, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    text = (tmp_path / "metal_prices.csv").read_text()
    assert text.startswith(OLD)
    prices = [float(row["price"]) for row in csv.DictReader(text.splitlines())][1:]
    assert sorted(prices) == [float(100 * number + step + 1) for number in range(4) for step in range(5)]
    assert [path.name for path in tmp_path.iterdir()] == ["metal_prices.csv"]


def test_a_line_typed_by_hand_meanwhile_stays(tmp_path, monkeypatch):
    path = tmp_path / "metal_prices.csv"
    path.write_text(OLD)
    by_hand = "2026-11-21,Au,3310,ozt,USD,typed by hand\n"
    put = append.put_in_place

    def meanwhile(root, file, content, expected):
        if by_hand not in path.read_text():
            path.write_text(path.read_text() + by_hand)
        return put(root, file, content, expected)

    monkeypatch.setattr(append, "put_in_place", meanwhile)
    append_quote(tmp_path, SILVER, "39.10")
    assert path.read_text() == f"{OLD}{by_hand}{LINE}\n"


def test_a_file_that_is_not_there_is_begun_and_several_come_at_once(tmp_path):
    append_quotes(tmp_path, [(SILVER, "39.10"), (SILVER.model_copy(update={"price": 39.2}), "39.20")])
    assert (tmp_path / "metal_prices.csv").read_text() == f"{HEADER}\n{LINE}\n{LINE.replace('39.10', '39.20')}\n"


def test_a_full_disk_changes_nothing(tmp_path, monkeypatch):
    path: Path = tmp_path / "metal_prices.csv"
    path.write_text(OLD)

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(Faults, match=r"metal_prices\.csv this file cannot be written \(No space left on device\)"):
        append_quote(tmp_path, SILVER)
    assert path.read_text() == OLD
    assert [each.name for each in tmp_path.iterdir()] == ["metal_prices.csv"]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"price": "38,40"}, ['price: "38,40" is no number. Write it with a point: 38.40.']),
        ({"price": "nan"}, ['price: "nan" is no number. Write digits and a point only.']),
        ({"price": "-1"}, ["price: -1 is not above 0. State a number above 0."]),
        ({"per": "oz", "currency": "Pound"}, [
            'per: "oz" is not known here. Did you mean "ozt"?',
            'currency: "Pound" is no currency. Write its ISO 4217 code, such as "GBP".',
        ]),
        ({"metal": 'Ag",'}, []),
    ],
)  # fmt: skip
def test_typed_texts_are_held_to_the_rules_of_the_file(changes, told):
    fields = {"date": "2026-11-21", "metal": "Ag", "price": "39.10", "per": "ozt", "currency": "USD", **changes}
    if not told:
        assert typed_quote(fields).metal == changes["metal"]
        return
    with pytest.raises(Faults) as caught:
        typed_quote(fields)
    assert [f"{each.key}: {each.problem}. {each.mend}" for each in caught.value.faults] == told
