"""Tables out of Arrow: a column for each input with its idle value at the end, as the engine's columns are made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pricing.formulas.tables import ROW_OF, TABLES
from pricing.many.checking import Checking, kind_wanted, texts
from pricing.many.schema import figure
from pricing.model.given import Input


@dataclass(frozen=True)
class Rows:
    """The rows of one table: inputs and keys with an idle row at the end, words, and the rows that hang on each.

    `nested` holds for a list the rows that it leads to and a box of their places by row, -1 where a list is shorter;
    the last row of a box is that of the idle row.
    """

    table: str
    many: int
    inputs: Mapping[str, np.ndarray]
    keys: Mapping[str, np.ndarray]
    words: Mapping[str, pa.Array]
    nested: Mapping[str, tuple[Rows, np.ndarray]]


@dataclass
class Reader:
    """Reads tables of one file, whatever is wrong with them told to `checking`.

    `sizes` says how many rows the tables have that keys lead to; `shared` are rows that lists lead to by places;
    `widths` how long the longest list is of all, where that is known.
    """

    checking: Checking
    sizes: Mapping[str, int]
    shared: Mapping[str, Rows]
    widths: Mapping[str, int]

    def rows(
        self,
        table: str,
        columns: Mapping[str, pa.Array],
        many: int,
        path: str = "",
        row_of: Callable[[int], int] = lambda row: row,
    ) -> Rows:
        """The rows of a table from its columns by name."""
        row = ROW_OF[table]
        inputs: dict[str, np.ndarray] = {}
        keys: dict[str, np.ndarray] = {}
        words: dict[str, pa.Array] = {}
        nested: dict[str, tuple[Rows, np.ndarray]] = {}
        for known in row.inputs.values():
            if not known.unit and not known.target:
                if known.name in columns and is_text(columns[known.name].type):
                    words[known.name] = texts(self.checking, f"{path}{known.name}", columns[known.name])
                continue
            array = self.of_kind(known, columns, path)
            if array is None:
                continue
            if known.target:
                keys[known.name] = self.key(known, array, path, row_of)
            else:
                inputs.update(self.figures(known, array, path, row_of))
        for attribute, inner in row.nested.items():
            if attribute in columns:
                found = self.list(attribute, inner.table, columns[attribute], many, path, row_of)
                if found is not None:
                    nested[attribute] = found
            else:
                self.checking.wrong(f"{path}{attribute}", "this column is missing", "Write it; empty lists will do.")
        return Rows(table, many, inputs, keys, words, nested)

    def of_kind(self, known: Input, columns: Mapping[str, pa.Array], path: str) -> pa.Array | None:
        """A column, where it is there and of its kind; else that is told."""
        name, wanted = f"{path}{known.name}", figure(known).type
        array = columns.get(known.name)
        if array is None:
            unit = f", in {known.unit}" if known.unit not in ("", "1", "switch") else ""
            self.checking.wrong(name, "this column is missing", f"Write {kind_wanted(known)}{unit}.")
        elif not (array.type == wanted or pa.types.is_int32(wanted) and array.type in (pa.int16(), pa.int64())):
            said = str(array.type)
            problem = f"this column holds {said if len(said) < 60 else said[:57] + '…'}"
            self.checking.wrong(name, problem, f"Write {kind_wanted(known)}.")
        else:
            return array
        return None

    def key(self, known: Input, array: pa.Array, path: str, row_of: Callable[[int], int]) -> np.ndarray:
        name = f"{path}{known.name}"
        if not known.optional:
            self.checking.missing(name, array, row_of)
        stated = array.drop_null().to_numpy(zero_copy_only=False)
        if len(stated) and stated.min() < 0 and known.target != "variant":
            row = int(np.flatnonzero(pc.fill_null(pc.less(array, 0), False))[0])
            mend = "Leave it empty where there is none." if known.optional else "State a place from 0."
            self.checking.wrong(self.checking.at(row_of(row), name), f"{stated.min()} is no place", mend)
        led = pc.fill_null(array, -1).to_numpy(zero_copy_only=False).astype(np.intp)
        if known.target != "variant":  # a part leads to a row of its own row group, which is looked at there
            self.checking.places(name, led, self.sizes.get(known.target, 0), known.target, row_of)
        return np.append(led, -1)

    def figures(self, known: Input, array: pa.Array, path: str, row_of: Callable[[int], int]) -> dict[str, np.ndarray]:
        name, found = f"{path}{known.name}", {}
        if known.optional:
            found[known.companion.name] = np.append(array.is_valid().to_numpy(zero_copy_only=False), False)
        elif self.checking.missing(name, array, row_of):
            return {}
        if array.null_count:
            array = pc.fill_null(array, known.absent or known.idle)
        values = array.to_numpy(zero_copy_only=False)
        if not known.is_switch:
            self.checking.number(known, name, values, row_of)
        found[known.name] = np.append(values, bool(known.idle) if known.is_switch else known.idle)
        return found

    def list(
        self, attribute: str, table: str, array: pa.Array, many: int, path: str, row_of: Callable[[int], int]
    ) -> tuple[Rows, np.ndarray] | None:
        """What the lists of some rows lead to: rows of their own, or places among the shared ones."""
        name, array = f"{path}{attribute}", as_lists(array)
        if not pa.types.is_list(array.type) or not (
            pa.types.is_struct(array.type.value_type) or pa.types.is_integer(array.type.value_type)
        ):
            self.checking.wrong(name, "this column holds no lists", f"Write a list of {table}s for each row.")
            return None
        if self.checking.missing(name, array, row_of):
            return None
        values, offsets = array.flatten(), array.offsets.to_numpy()
        long = np.diff(offsets)
        if len(long) and int(long.sum()) != len(values):
            self.checking.wrong(name, "its lists do not hold together", "Write the file again.")
            return None
        parents = np.repeat(np.arange(many), long)
        inner_row = lambda place: row_of(int(parents[place]))  # noqa: E731
        if self.checking.missing(f"{name}[…]", values, inner_row):
            return None
        wide = int(long.max(initial=0))
        axis = TABLES[table].axes[-1]
        width = self.widths.get(axis, wide)
        if wide > width:
            row = int(long.argmax())
            problem = f"{wide} {table}s are more than the {width} that the file says are the most"
            self.checking.wrong(self.checking.at(row_of(row), name), problem, "Write the file again.")
            return None
        if pa.types.is_struct(values.type):
            inner = [values.type.field(place) for place in range(values.type.num_fields)]
            held = dict(zip((each.name for each in inner), values.flatten(), strict=True))
            rows = self.rows(table, held, len(values), f"{name}[…].", inner_row)
            led = np.arange(len(values))
        elif table not in self.shared:
            self.checking.wrong(name, f"it holds places, and the workshop has no table of {table}s", "Write the rows.")
            return None
        else:
            rows = self.shared[table]
            led = values.to_numpy(zero_copy_only=False).astype(np.intp)
            if not self.checking.places(f"{name}[…]", np.where(led < 0, -2, led), rows.many, table, inner_row):
                return None
        box = np.full((many + 1, width), -1, dtype=np.intp)
        box[parents, np.arange(len(values)) - np.repeat(offsets[:-1] - offsets[:1], long)] = led
        return rows, box


def as_lists(array: pa.Array) -> pa.Array:
    """Lists with long offsets, or all of one length, as other programs write them, as plain lists."""
    kind = array.type
    if pa.types.is_large_list(kind) or pa.types.is_fixed_size_list(kind):
        return array.cast(pa.list_(kind.value_field))
    return array


def is_text(kind: pa.DataType) -> bool:
    """Whether a column holds words, each by itself or as places among them."""
    inner = kind.value_type if pa.types.is_dictionary(kind) else kind
    return bool(pa.types.is_string(inner) or pa.types.is_large_string(inner))
