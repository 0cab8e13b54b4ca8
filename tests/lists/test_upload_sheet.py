"""The upload sheet: RFC 4180, stable ids, columns as stated, and no cell that becomes a formula."""

from __future__ import annotations

import csv
import re
from io import StringIO

import pytest

from pricing.csv_tables import FORMULA_STARTS, no_formula
from pricing.errors import Faults, UsageFault
from pricing.lists.upload_sheet import columns_from, upload_sheet
from pricing.records import flat_records
from pricing.studies.prices_out import prices_out
from tests.lists.fernhollow import changed_folder, costing_of


def all_of(costing):
    return range(len(costing.computed.resolved.variants))


def rows_of(costing, columns, channels=None):
    channels = channels or list(costing.folder.stated.channels)
    text = upload_sheet(prices_out(costing), all_of(costing), channels, columns).decode()
    return list(csv.DictReader(StringIO(text, newline="")))


def test_one_row_a_variant_and_channel_with_the_engine_s_price(sample):
    rows = rows_of(sample, columns_from(None))
    expected = {
        f"{record['sku']}:{record['alloy']}:{record['channel']}": f"{record['price']:.2f}"
        for record in flat_records(sample.computed, all_of(sample), sample.folder.stated.channels)
    }
    assert {row["Variant id"]: row["Price"] for row in rows} == expected
    assert len(rows) == len(expected)
    told = {row["Variant id"].rsplit(":", 1)[1]: row["Currency"] for row in rows}
    assert told == {"shop": "GBP", "marketplace": "GBP", "trade": "GBP", "stall": "GBP", "abroad": "USD"}


def test_ids_stay_while_prices_and_names_move(tmp_path):
    root = changed_folder(tmp_path / "before", {})
    moved = changed_folder(
        tmp_path / "after",
        {"metal_prices.csv": {",38.40,": ",50.00,"}, "products/thimble.toml": {"Bramble thimble": "Another"}},
    )
    before, after = (rows_of(costing, columns_from(None)) for costing in map(costing_of, (root, moved)))
    assert [row["Variant id"] for row in before] == [row["Variant id"] for row in after]
    assert before != after


def test_columns_by_a_mapping_file(sample, tmp_path):
    file = tmp_path / "columns.toml"
    file.write_text(
        '[columns]\nHandle = "{sku}"\n"Full title" = "{name} in {alloy_name}"\nMargin = "{margin}"\nVendor = "Us"\n'
    )
    rows = rows_of(sample, columns_from(file), ["trade"])
    records = flat_records(sample.computed, all_of(sample), ["trade"])
    assert list(rows[0]) == ["Handle", "Full title", "Margin", "Vendor"]
    assert [float(row["Margin"]) for row in rows] == [record["margin"] for record in records]  # in full
    assert rows[0]["Full title"] == "Acorn drawer knob, large in Yellow brass"
    assert {row["Vendor"] for row in rows} == {"Us"}


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_what_would_be_a_formula_gets_an_apostrophe(start):
    assert start in FORMULA_STARTS
    assert no_formula(f"{start}1+1") == f"'{start}1+1"
    assert no_formula(f"a{start}1") == f"a{start}1"


def test_hostile_names_are_harmless_in_the_sheet(tmp_path):
    names = {"Bramble thimble": '=HYPERLINK(\\"x\\",\\"y\\")', "Workbox": "@SUM(1)"}
    root = changed_folder(tmp_path, {"products/thimble.toml": {old: new for old, new in names.items()}})
    costing = costing_of(root)
    rows = rows_of(costing, {"=Head": "{name}", "In": "{collection}", "Profit": "{profit}"})
    assert list(rows[0]) == ["'=Head", "In", "Profit"]
    assert {'\'=HYPERLINK("x","y")'} <= {row["'=Head"] for row in rows}
    assert "'@SUM(1)" in {row["In"] for row in rows}
    for row in rows:
        for name in ("'=Head", "In"):
            assert not row[name].startswith(FORMULA_STARTS)
        float(row["Profit"])  # a loss is a number, not a formula


def test_a_loss_stays_a_number(tmp_path):
    root = changed_folder(
        tmp_path, {"products/thimble.toml": {"policy = { fixed = 28.00 }": "policy = { fixed = 1.00 }"}}
    )
    rows = rows_of(costing_of(root), {"id": "{id}", "profit": "{profit}"}, ["stall"])
    (loss,) = [row["profit"] for row in rows if row["id"] == "thimble:yellow-brass:stall"]
    assert float(loss) < 0


def test_the_form_is_rfc_4180(tmp_path):
    """Sections 2.1, 2.6 and 2.7: lines end in CR LF; commas and quotes stand in quotes, quotes doubled."""
    root = changed_folder(tmp_path, {"products/thimble.toml": {'"Bramble thimble"': "'A \"good\", old one'"}})
    costing = costing_of(root)
    content = upload_sheet(prices_out(costing), all_of(costing), ["stall"], {"a": "{name}", "b": "{price}"})
    assert content.endswith(b"\r\n") and content.count(b"\n") == content.count(b"\r\n")
    assert b'"A ""good"", old one",28.00\r\n' in content


def test_currencies_without_decimals(tmp_path):
    root = changed_folder(
        tmp_path,
        {
            "workshop.toml": {'"GBP"': '"JPY"'},
            "metal_prices.csv": {",GBP,": ",JPY,"},
            "channels.toml": {"step = 0.50": "step = 1.00"},
        },
    )
    rows = rows_of(costing_of(root), {"price": "{price}"}, ["shop"])
    assert all(re.fullmatch(r"\d+", row["price"]) for row in rows)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[columns]\nPrice = "{prise}"\n', 'columns.toml columns.Price: there is no "prise". Did you mean "price"?'),
        ("[columns]\nPrice = 3\n", "columns.Price: it is no text"),
        ('[columns]\nPrice = "{price"\n', "a brace is left alone"),
        ("[columns]\n", "there is no column"),
        ('[colums]\nPrice = "{price}"\n', "no such table"),
        ("[columns\n", "columns.toml"),
        ('[columns]\nA = "{x}"\nB = "{y}"\n', "columns.B"),
    ],
)
def test_faults_of_a_mapping_file_are_told_all_at_once(tmp_path, text, said):
    file = tmp_path / "columns.toml"
    file.write_text(text)
    with pytest.raises(Faults) as found:
        columns_from(file)
    assert said in str(found.value)


def test_a_mapping_file_that_is_not_there(tmp_path):
    with pytest.raises(UsageFault, match="cannot be read"):
        columns_from(tmp_path / "none.toml")


def test_nothing_sold_is_refused(sample):
    with pytest.raises(UsageFault, match="none of these products is sold"):
        upload_sheet(prices_out(sample), [], ["shop"], {"id": "{id}"})
