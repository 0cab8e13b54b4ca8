"""Parquet files put one behind the other without unpacking them read as their tables one behind the other."""

from __future__ import annotations

import io

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pricing.many.joining import footer, joined


def file_of(path, rows, groups=1, first=0, **said):
    """A file of so many rows a group, with words, figures, and some of them empty."""
    table = pa.table({
        "word": pa.array([f"piece {(first + row) % 7}" for row in range(rows * groups)]).dictionary_encode(),
        "figure": pa.array([None if row % 5 == 0 else first + row / 3 for row in range(rows * groups)], pa.float64()),
        "hold": pa.array([row % 2 == 0 for row in range(rows * groups)]),
    })  # fmt: skip
    with pq.ParquetWriter(path, table.schema.with_metadata({"of": "GBP"}), compression="snappy") as writer:
        writer.write_table(table, row_group_size=rows)
        writer.add_key_value_metadata(said)
    return path


def test_files_put_together_hold_all_rows_in_order(tmp_path):
    """Twenty row groups: more than the fifteen whose number stands in a list's first byte."""
    paths = [file_of(tmp_path / f"{number}", 40, 4, 1000 * number, made_of=str(number)) for number in range(5)]
    with (tmp_path / "whole").open("wb") as to:
        joined(paths, to, unsaid=("made_of",))
    expected = pa.concat_tables([pq.read_table(path) for path in paths])
    with pq.ParquetFile(tmp_path / "whole") as file:
        assert file.read().equals(expected) and file.metadata.num_row_groups == 20
        assert file.metadata.num_rows == expected.num_rows == 800
        one = file.read_row_group(13, ["figure"])["figure"].to_pylist()  # the second of the fourth file
        assert one == expected["figure"].to_pylist()[13 * 40 : 14 * 40]
        assert file.metadata.row_group(13).column(1).statistics.min == pytest.approx(3000 + 41 / 3)
        said = file.metadata.metadata
    assert b"made_of" not in said and said[b"of"] == b"GBP" and b"ARROW:schema" in said


def test_one_file_by_itself_comes_out_as_it_was(tmp_path):
    """Every field of its footer, those that mean nothing here among them."""
    path, to = file_of(tmp_path / "one", 40), io.BytesIO()
    joined([path], to)
    assert to.getvalue() == path.read_bytes()


@pytest.mark.parametrize("keep", [0, 7, 12, 200, -1])
def test_a_file_that_was_cut_off_is_told(tmp_path, keep):
    path = file_of(tmp_path / "cut", 40)
    path.write_bytes(path.read_bytes()[:keep])
    with path.open("rb") as file, pytest.raises(ValueError, match="no whole Parquet file"):
        footer(file)


def test_other_columns_are_told(tmp_path):
    pq.write_table(pa.table({"other": [1]}), tmp_path / "other")
    with pytest.raises(ValueError, match="other has other columns"):
        joined([file_of(tmp_path / "one", 40), tmp_path / "other"], io.BytesIO())
