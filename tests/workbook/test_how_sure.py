"""How sure a price is stands beside it on *Prices*, where somebody asks for it, and nothing of it comes back."""

from __future__ import annotations

from datetime import date

import openpyxl

from pricing.costing import asked_for, cost
from pricing.studies.doubt.in_doubt import in_doubt
from pricing.studies.prices_out import prices_out
from pricing.workbook.incoming import propose
from pricing.workbook.sheets import write_workbook
from tests.folder.workshops import write
from tests.workbook.workbooks import BARE


def test_the_ends_stand_beside_the_price_and_stay_there(tmp_path):
    root = write(tmp_path / "shop", {**BARE, "doubts.toml": '"alloys.tin.melt_loss" = { low = 0.005, high = 0.1 }\n'})
    costing = cost(root, asked_for(date(2026, 11, 20)))
    doubt = in_doubt(prices_out(costing), draws=64, shares=False)
    book = tmp_path / "book.xlsx"
    write_workbook(costing, book, doubt=doubt)
    rows = openpyxl.load_workbook(book, data_only=True)["Prices"].iter_rows(values_only=True)
    heads = next(row for row in rows if "price P10" in row)
    line = dict(zip(heads, next(rows), strict=True))
    (asked,) = (price.asked for row in doubt.rows for price in row.prices)
    assert asked.low < asked.high
    assert (line["price P10"], line["price P90"]) == (asked.low, asked.high)
    found = propose(book, root)
    assert (found.changes, dict(found.files), found.notes) == ((), {}, ())
