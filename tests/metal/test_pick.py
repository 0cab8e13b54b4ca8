"""The number and the day in what a source gives, as they are written there."""

from __future__ import annotations

import pytest

from pricing.metal.faults import PullFault
from pricing.metal.pick import Picked, pick
from pricing.model.source import Source

RATES = b'{"day": "2026-11-24T16:00:00Z", "rates": {"Ag": 38.40, "Au": "3300.00"}, "list": [{"a.b": 1e3}, {"a.b": 7}]}'
TABLE = b"\xef\xbb\xbfmetal, price ,day\r\nAg,38.10,2026-11-23\r\nAg,38.40,2026-11-24\r\nAu,3300.00,2026-11-24\r\n"


def source(**keys) -> Source:
    return Source(metal="Ag", per="ozt", currency="USD", file="x", **keys)


@pytest.mark.parametrize(
    ("content", "keys", "picked"),
    [
        (RATES, {"json_path": "rates.Ag"}, Picked("38.40", None)),  # its digits as they are written
        (RATES, {"json_path": "rates.Au", "json_day": "day"}, Picked("3300.00", "2026-11-24")),
        (RATES, {"json_path": '$.list[0]."a.b"'}, Picked("1e3", None)),
        (RATES, {"json_path": '$["list"][-1]["a.b"]'}, Picked("7", None)),
        (b"[NaN, -Infinity]", {"json_path": "[0]"}, Picked("NaN", None)),
        (b"[NaN, -Infinity]", {"json_path": "[1]"}, Picked("-Infinity", None)),
        (b"\xef\xbb\xbf[" + b"9" * 5000 + b"]", {"json_path": "[0]"}, Picked("9" * 5000, None)),
        (TABLE, {"csv_column": "price"}, Picked("3300.00", None)),  # the last line
        (TABLE, {"csv_column": "price", "csv_where": {"metal": "Ag"}}, Picked("38.40", None)),
        (TABLE, {"csv_column": "price", "csv_where": {"metal": "Ag", "day": "2026-11-23"}}, Picked("38.10", None)),
        (TABLE, {"csv_column": "price", "csv_day": "day"}, Picked("3300.00", "2026-11-24")),
        (b"metal;price\nAg;38,40\n", {"csv_column": "price"}, Picked("38,40", None)),  # told as no number later
        (b"metal\tprice\nAg\t38.40\n\n", {"csv_column": "price"}, Picked("38.40", None)),
        (b"metal,price\nAg\n", {"csv_column": "price"}, Picked("", None)),
    ],
)
def test_picked(content, keys, picked):
    assert pick(content, source(**keys)) == picked


@pytest.mark.parametrize(
    ("content", "keys", "told"),
    [
        (b"<html><title>Sorry</title>", {"json_path": "a"},
         "what it gives is no JSON (it begins '<html><title>Sorry</title>'). See whether the address is right."),
        (b"[" * 100_000, {"json_path": "[0]"},
         "what it gives is no JSON (it begins '[[[[[[[[[[[[[[[[[[[[[[[[[[[[[['). See whether the address is right."),
        (b"\xff\xfe", {"json_path": "a"}, "what it gives is no text in UTF-8. Choose another source."),
        (RATES, {"json_path": "rates.Agg"}, '"rates" has no "Agg". Did you mean "Ag"?'),
        (RATES, {"json_path": "prices"}, 'the answer has no "prices". Known: "day", "list", "rates".'),
        (RATES, {"json_path": "rates"}, "at rates stands a table, and no number. Correct json_path."),
        (RATES, {"json_path": "list"}, "at list stands a list, and no number. Correct json_path."),
        (RATES, {"json_path": "list[2]"}, '"list" has 2 items, and none at [2]. Places are counted from 0.'),
        (RATES, {"json_path": "list.price"},
         '"list" is a list, so that nothing stands at list.price in it. Correct the path.'),
        (RATES, {"json_path": "rates.Ag.x"},
         '"Ag" is a number, so that nothing stands at rates.Ag.x in it. Correct the path.'),
        (b'{"a": null, "b": true}', {"json_path": "a"}, "at a stands null, and no number. Correct json_path."),
        (b'{"a": null, "b": true}', {"json_path": "b"}, "at b stands true or false, and no number. Correct json_path."),
        (RATES, {"json_path": "rates.Ag", "json_day": "rates"},
         "at rates stands a table, and no day. Correct json_day."),
        (TABLE, {"csv_column": "prise"}, 'no column is called "prise". Did you mean "price"?'),
        (TABLE, {"csv_column": "price", "csv_where": {"metall": "Ag"}},
         'no column is called "metall". Did you mean "metal"?'),
        (TABLE, {"csv_column": "price", "csv_where": {"metal": "Pt"}}, "no line has metal = Pt. See what it gives."),
        (b"metal,price\n", {"csv_column": "price"}, "there is no line below the names. See what it gives."),
        (b"\n\n", {"csv_column": "price"}, "what it gives is empty. See whether it is the right file."),
    ],
)  # fmt: skip
def test_nothing_to_pick(content, keys, told):
    with pytest.raises(PullFault) as caught:
        pick(content, source(**keys))
    assert str(caught.value) == told
