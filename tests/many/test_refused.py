"""Files that are off are refused with file, row group, row, column and what to do."""

from __future__ import annotations

import json
import shutil

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pricing.errors import Faults, UsageFault
from pricing.many.stream import Job, ready, tables
from pricing.many.tables import as_lists


@pytest.fixture
def files(exported, tmp_path):
    for name in ("workshop.parquet", "variants.parquet"):
        shutil.copy(exported.folder / name, tmp_path / name)
    return tmp_path


def said_of(files) -> str:
    ready.cache_clear()
    with pytest.raises(Faults) as refused:
        made = ready(Job(str(files / "variants.parquet"), None))
        for span in made.spans:
            list(tables(made, span))
    return str(refused.value)


def changed(files, change, name="variants.parquet", **metadata):
    """The file with a table that `change` made of its own, and other words of what it says of itself."""
    table = pq.read_table(files / name)
    made = change(table) if change else table
    said = {**(table.schema.metadata or {}), **{f"troytag.{key}".encode(): value for key, value in metadata.items()}}
    pq.write_table(made.replace_schema_metadata(said), files / name, row_group_size=20)


def with_column(name, make):
    def change(table):
        place = table.schema.get_field_index(name)
        return table.set_column(place, name, make(table.column(name)))

    return change


def numbers(row, value):
    def make(column):
        held = column.to_pylist()
        held[row] = value
        return pa.array(held, column.type)

    return make


def in_list(row, change):
    def make(column):
        held = column.to_pylist()
        change(held[row])
        return pa.array(held, column.type)

    return make


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda table: table.drop_columns(["shrinkage"]), ["variants.parquet shrinkage: this column is missing"]),
        (lambda table: table.drop_columns(["steps"]), ["variants.parquet steps: this column is missing"]),
        (lambda table: table.drop_columns(["sku"]), ["variants.parquet sku: this column is missing"]),
        (with_column("scale", lambda column: column.cast("float32")),
         ["variants.parquet scale: this column holds float. Write 64-bit floating point numbers."]),
        (with_column("alloy", lambda column: column.cast("string")), ["alloy: this column holds string"]),
        (with_column("steps", lambda column: pa.array([1.0] * len(column))), ["steps: this column holds no lists"]),
        (with_column("scale", numbers(23, float("nan"))), ["row group 1, row 3, scale: nan is no number"]),
        (with_column("scale", numbers(3, None)), ["row group 0, row 3, scale: nothing stands there"]),
        (with_column("shrinkage", numbers(23, 1.0)),
         ["row group 1, row 3, shrinkage: 1 is out of bounds. State a number from 0 below 1."]),
        (with_column("sprue_ratio", numbers(2, 1e30)), ["row group 0, row 2, sprue_ratio: 1e+30 is larger"]),
        (with_column("alloy", numbers(5, 99)),
         ["row group 0, row 5, alloy: place 99 lies outside the table alloy", "State a place from 0 to"]),
        (with_column("steps", in_list(4, lambda held: held.append(-3))), ["row 4, steps", "are more than the"]),
        (with_column("steps", in_list(4, lambda held: held.__setitem__(0, 10**6))),
         ["row group 0, row 4, steps[…]: place 1000000 lies outside the table step"]),
        (with_column("steps", in_list(4, lambda held: held.__setitem__(0, -1))), ["place -2 lies outside"]),
        (with_column("prices", in_list(6, lambda held: held.pop())),
         ["row group 0, row 6, prices: there must be a price row for each"]),
        (with_column("castings", in_list(7, lambda held: held[0].__setitem__("casting_count", 1.5))),
         ["row 7, castings[…].casting_count: 1.5 is out of bounds. State a whole number from 1 to 10000."]),
        (with_column("price_in_force", in_list(1, lambda held: held.pop())), ["row 1, price_in_force: there are"]),
        (with_column("price_in_force", in_list(1, lambda held: held.__setitem__(0, -5.0))),
         ["row group 0, row 1, price_in_force: -5 is out of bounds. State a number from 0."]),
        (with_column("price_in_force", in_list(1, lambda held: held.__setitem__(0, 1e308))),
         ["row group 0, row 1, price_in_force: 1e+308 is larger than anything in a workshop. Look it up again."]),
        (with_column("price_in_force", in_list(21, lambda held: held.__setitem__(0, float("inf")))),
         ["row group 1, row 1, price_in_force: inf is no number to compute with. Leave it empty."]),
        (with_column("alloy", numbers(5, -1)), ["row group 0, row 5, alloy: -1 is no place. State a place from 0."]),
        (with_column("sku", numbers(5, "")), ["row group 0, row 5, sku: nothing stands there."]),
        (with_column("sku", numbers(6, None)), ["row group 0, row 6, sku: nothing stands there."]),
        (with_column("of", numbers(2, "nobody")),
         ["row group 0, row 2, of: it says that it is a part, and no variant of its row group has it"]),
        (with_column("sku", numbers(0, "x" * 5000)), ["sku: a name there has 5000 bytes"]),
        (with_column("castings", lambda column: pa.array([[[[1.0]]]] * len(column))), ["castings: this column"]),
    ],
)  # fmt: skip
def test_what_is_off_is_told_with_its_place(files, change, told):
    changed(files, change)
    said = said_of(files)
    assert all(each in said for each in told), said


def test_a_part_that_leads_out_of_its_row_group_is_told(files):
    whole = next(
        row for row, parts in enumerate(pq.read_table(files / "variants.parquet")["parts"].to_pylist()) if parts
    )
    changed(files, with_column("parts", in_list(whole, lambda held: held[0].__setitem__("piece", 10**6))))
    assert "parts[…].piece: place" in said_of(files)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda table: pa.concat_tables([table, table]), "it has 2 rows, and a workshop's file has one"),
        (lambda table: table.drop_columns(["metals"]), "metals: this column is missing"),
        (lambda table: table.drop_columns(["rules"]), "rules.stated: this is missing"),
        (with_column("alloys", in_list(0, lambda held: held[0].__setitem__("density", -1.0))),
         "workshop.parquet row 0, alloys.density: -1 g/cm3 is out of bounds"),
        (with_column("channels", in_list(0, lambda held: held[1].__setitem__("name", held[0]["name"]))),
         "stands there twice. Name each row otherwise."),
        (with_column("rules", in_list(0, lambda held: held[0].update(stated=True, keep_within=float("inf")))),
         "row 0, rules.keep_within: inf is no number to compute with. State a number from 0 to 1."),
        (with_column("rules", in_list(0, lambda held: held[0].update(stated=True, keep_within=float("-inf")))),
         "row 0, rules.keep_within: -inf is no number to compute with. State a number from 0 to 1."),
        (with_column("rules", in_list(0, lambda held: held[1].update(stated=True, keep_within=0.1, falling=-0.2))),
         "row 1, rules.falling: -0.2 is out of bounds. State a number from 0 to 1."),
        (with_column("rules", in_list(0, lambda held: held[0].update(stated=True, least_margin=1.0))),
         "row 0, rules.least_margin: 1 is out of bounds. State a number from 0 below 1."),
        (with_column("rules", in_list(0, lambda held: held[0].update(stated=True, largest_step=-1.0))),
         "row 0, rules.largest_step: -1 is out of bounds. State a number from 0."),
        (with_column("rules", in_list(0, lambda held: held[0].update(stated=False, days_between=3.0))),
         "row 0, rules.days_between: 3 stands there for a channel that states no rules. Write 0, or set stated."),
        (with_column("currencies", in_list(0, lambda held: held[0].__setitem__("name", "gbp"))),
         'row 0, currencies.name: "gbp" is no currency. Did you mean "GBP"?'),
        (with_column("roles", in_list(0, lambda held: held[0].__setitem__("name", None))), "roles.name: names are"),
    ],
)  # fmt: skip
def test_what_is_off_with_the_workshops_file_is_told(files, change, told):
    changed(files, change, "workshop.parquet")
    assert told in said_of(files)


def test_a_currency_that_is_none_is_told(files):
    changed(files, None, "workshop.parquet", currency=b"XAU")
    assert 'workshop.parquet troytag.currency: "XAU" is no currency. Write its ISO 4217 code' in said_of(files)


def test_variants_of_another_workshop_or_form_are_told(files):
    changed(files, None, form=b"7")
    assert "it is of form 7, and this release reads form 1" in said_of(files)
    changed(files, None, form=b"1", workshop=b"0" * 64)
    assert "it was written with another workshop.parquet than the one beside it" in said_of(files)
    ready.cache_clear()
    ready(Job(str(files / "variants.parquet"), str(files / "workshop.parquet")))  # that this one is meant was said


def test_widths_that_lie_are_told(files):
    changed(files, None, widths=json.dumps({"step": 1}).encode())
    assert "steps are more than the 1 that the file says are the most" in said_of(files)


def test_a_bit_that_fell_over_is_told(files):
    """In the values themselves, where they would be read as others: each page has its checksum."""
    path = files / "variants.parquet"
    held = bytearray(path.read_bytes())
    chunk = pq.read_metadata(path).row_group(0).column(0)
    held[chunk.data_page_offset + chunk.total_compressed_size // 2] ^= 4
    path.write_bytes(held)
    assert "row group 0: it cannot be read" in said_of(files)


def test_what_says_no_width_to_count_with_is_read(files):
    changed(files, None, widths=b'{"step": 1e999}')
    ready.cache_clear()
    made = ready(Job(str(files / "variants.parquet"), None))
    assert sum(table.num_rows for table, _ in tables(made, made.spans[0])) > 0


def test_lists_of_other_programs_are_read(files):
    """With long offsets, or all of one length."""
    expected = prices_of(files)
    table = pq.read_table(files / "variants.parquet")
    for name in ("steps", "castings"):
        table = with_column(name, lambda column: column.cast(pa.large_list(column.type.value_field)))(table)
    pq.write_table(table, files / "variants.parquet")
    assert prices_of(files) == expected
    same_length = pa.array([[1, 2], [3, 4]], pa.list_(pa.int32(), 2))
    assert as_lists(same_length).equals(pa.array([[1, 2], [3, 4]], pa.list_(pa.int32())))


def prices_of(files):
    ready.cache_clear()
    made = ready(Job(str(files / "variants.parquet"), None))
    return [row for span in made.spans for table, _ in tables(made, span) for row in table.to_pylist()]


def test_what_says_nothing_of_itself_is_read(files):
    """As another program writes it: without widths, form, or prices in force."""
    table = pq.read_table(files / "variants.parquet").drop_columns(["price_in_force", "price_set_on"])
    pq.write_table(table.replace_schema_metadata(None), files / "variants.parquet")
    ready.cache_clear()
    made = ready(Job(str(files / "variants.parquet"), None))
    (table,) = [table for span in made.spans for table, _ in tables(made, span)]
    assert set(table["verdict"].to_pylist()) == {"new"}


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "does not begin as one"),
        (b"PAR1" + b"\0" * 100, "does not end as one: perhaps it was cut off"),
        (b"PAR1" + b"\0" * 20 + b"\xff\xff\xff\x7fPAR1", "its footer says that it has 2,147,483,647 bytes"),
        (b"PAR1" + b"\x19\xfc\xff\xff\xff\xff\x0f" * 20 + b"\x8c\0\0\0PAR1", "this is no Parquet file"),
    ],
)  # fmt: skip
def test_what_is_no_parquet_is_told(files, content, told):
    (files / "variants.parquet").write_bytes(content)
    assert told in said_of(files)


def test_a_row_group_that_is_too_large_is_told_before_it_is_read(files):
    rows = 2**20 + 1
    table = pa.table({"scale": pa.array(np.ones(rows))})
    pq.write_table(table, files / "variants.parquet", row_group_size=rows)
    assert f"row group 0 has {rows:,} rows, and 1,048,576 are read at once" in said_of(files)


def test_a_file_that_is_not_there_is_told(files):
    ready.cache_clear()
    with pytest.raises(UsageFault, match=r"nowhere\.parquet: there is no such file"):
        ready(Job(str(files / "nowhere.parquet"), str(files / "workshop.parquet")))
    (files / "workshop.parquet").unlink()
    with pytest.raises(UsageFault, match=r"workshop\.parquet: there is no such file"):
        ready(Job(str(files / "variants.parquet"), None))
