"""Records as lines of a CSV, read again by the library that reads them."""

from __future__ import annotations

import csv
import io
import math
from datetime import date

import numpy as np

from pricing.csv_tables import FEW, cells, write_cells, write_csv
from pricing.json_texts import ABSENT
from pricing.record_forms import AsCells

TEXTS = ['say "so"', "a,b", "two\nlines", "'", "", "=1", " blank", "é", "-", "a\rb"]


def by_the_library(rows: list[list[object]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def written(records: list[dict[str, object]]) -> str:
    text = io.StringIO()
    write_csv(records, text)
    return text.getvalue()


def test_lines_are_those_of_the_library():
    odd = [None, True, 7, 1e-05, -0.0, math.inf, math.nan, date(2026, 11, 20), np.float64(1.5), [1, 2]]
    records = [{"text": text, "odd": value} for text, value in zip(TEXTS, odd, strict=True)]
    safe = [f"'{text}" if text in ("=1", "-") else text for text in TEXTS]
    expected = by_the_library([["text", "odd"], *([text, value] for text, value in zip(safe, odd, strict=True))])
    assert written(records) == expected


def test_many_figures_are_written_as_few():
    figures = [None, -0.0, 1e-5, 1e16, 0.1, 12.0] * FEW
    assert cells(figures) == [cells([each])[0] for each in figures]
    assert cells(figures)[:6] == ["", "-0.0", "1e-05", "1e+16", "0.1", "12.0"]


def test_names_stand_in_the_order_of_the_lines():
    assert written([{"a": 1}, {"b": 2, "a": 3}]) == "a,b\n1,\n3,2\n"
    assert written([]) == written([{}])[:1] == "\n"
    assert written([{"a": None}, {"a": "x"}]) == 'a\n""\nx\n'
    text = io.StringIO()
    write_cells({"size": [ABSENT, "7"], "sku": ["a", "b"], "none": [ABSENT, ABSENT]}, text)
    assert text.getvalue() == "sku,size\na,\nb,7\n"


def test_fields_of_records_have_no_negative_zero():
    assert AsCells().figures(np.array([-0.0, math.nan, 2.0])) == ["0.0", "", "2.0"]
