"""The workshop's tables out of `workshop.parquet`, checked, and with all that no variant moves computed once."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from pathlib import Path

import numpy as np
import pyarrow as pa

from pricing.errors import Fault, Faults, Place, UsageFault, did_you_mean
from pricing.formulas.bounds import stated_bounds
from pricing.formulas.columns import KEYED
from pricing.formulas.tables import CHILDREN, OUTERMOST, TABLES
from pricing.many.checking import Checking
from pricing.many.files import Opened, opened, told_as_faults
from pricing.many.schema import AS_OF_KEY, CURRENCY_KEY, LISTS, OWN, POSTS_ALL, RULES
from pricing.many.tables import Reader, Rows
from pricing.model.channel import Reprice
from pricing.model.currency import currencies, currency_meant
from pricing.studies.repricing.deciding import UNSTATED, Terms

#: Most bytes of the file: all of it is held.
MOST_BYTES = 2**26


@dataclass(frozen=True)
class Workshop:
    """What all variants share: its tables, and the columns made of those that no variant moves."""

    digest: str
    currency: str
    as_of: date
    tables: Mapping[str, Rows]
    shared: Mapping[str, Rows]
    inputs: Mapping[str, np.ndarray]
    keys: Mapping[tuple[str, str], np.ndarray]
    sizes: Mapping[str, int]
    terms: Terms
    posts_all: np.ndarray

    def names(self, table: str) -> Sequence[str]:
        """The names of a table's rows."""
        return tuple(self.tables[table].words["name"].to_pylist())


def read_workshop(path: Path) -> Workshop:
    """Read and check the workshop's file. Raises Faults with everything that is wrong with it."""
    file = opened(path)
    checking = Checking(path.name, where=lambda row: f"row {row}")
    if path.stat().st_size > MOST_BYTES or file.footer.num_rows != 1:
        problem = f"it has {file.footer.num_rows:,} rows, and a workshop's file has one"
        raise Faults([Fault(Place(path.name), "", problem, "Name the file that was written with the variants.")])
    with told_as_faults(path.name, ""):
        table = file.reader().read(use_threads=False)
    columns = {name: table.column(name).combine_chunks() for name in table.column_names}
    columns = {name: each.chunk(0) if isinstance(each, pa.ChunkedArray) else each for name, each in columns.items()}
    tables, shared = _tables(columns, checking)
    terms, posts_all = _rules(columns.get(RULES), checking, tables)
    checking.done()
    inputs: dict[str, np.ndarray] = {}
    keys: dict[tuple[str, str], np.ndarray] = {}
    sizes: dict[str, int] = {}
    for name, rows in tables.items():
        if name != "workshop":
            sizes[name] = rows.many
        shape = np.array(0) if name == "workshop" else np.arange(rows.many + (name in KEYED))
        spread(name, rows, shape, inputs, keys, sizes)
    currency, as_of = _said(file)
    _check_currencies(currency, tables["currency"], checking)
    checking.done()
    return Workshop(
        hashlib.sha256(path.read_bytes()).hexdigest(),
        currency, as_of, tables, shared, inputs, keys, sizes, terms, posts_all,
    )  # fmt: skip


def spread(
    table: str,
    rows: Rows,
    shape: np.ndarray | slice,
    inputs: dict[str, np.ndarray],
    keys: dict[tuple[str, str], np.ndarray],
    sizes: dict[str, int],
) -> None:
    """Columns and keys of a table's rows, and of those that hang on them, over the places of `shape`, -1 for idle."""
    for name, column in rows.inputs.items():
        inputs[name] = np.asarray(column[shape])
    for key, places in rows.keys.items():
        keys[table, key] = np.asarray(places[shape])
    for child, (parent, attribute) in CHILDREN.items():
        if parent == table and attribute in rows.nested:
            inner, box = rows.nested[attribute]
            if child != "price":
                sizes[TABLES[child].axes[-1]] = box.shape[1]
            spread(child, inner, box[shape], inputs, keys, sizes)


def _tables(columns: Mapping[str, pa.Array], checking: Checking) -> tuple[dict[str, Rows], dict[str, Rows]]:
    """The outermost tables, and those that variants share."""
    lists = {table: attribute for table, attribute in OUTERMOST.items() if table != "variant"}
    shared = {table for attribute, table in LISTS.items() if table not in OWN or attribute in columns} - {"part"}
    lists |= {table: attribute for attribute, table in LISTS.items() if table in shared}
    found: dict[str, tuple[dict[str, pa.Array], int]] = {}
    for table, name in {"workshop": "workshop", **lists}.items():
        array = columns.get(name)
        if array is None:
            checking.wrong(name, "this column is missing", "Write the workshop's file again.")
            continue
        if pa.types.is_list(array.type) and table != "workshop" and not array.null_count:
            array = array.flatten()
        if not pa.types.is_struct(array.type) or array.null_count:
            checking.wrong(name, "this column holds no rows", "Write a list of rows with named columns.")
            continue
        inner = [array.type.field(place).name for place in range(array.type.num_fields)]
        found[table] = dict(zip(inner, array.flatten(), strict=True)), len(array)
    checking.done()
    sizes = {table: many for table, (_, many) in found.items()}
    reader = Reader(checking, {**sizes, "price": sizes["channel"]}, {}, {})
    read = {
        table: reader.rows(table, held, many, path=f"{lists.get(table, table)}.")
        for table, (held, many) in found.items()
    }
    for table in OUTERMOST:
        if table != "variant" and ("name" not in read[table].words or read[table].words["name"].null_count):
            checking.wrong(f"{lists[table]}.name", "names are missing", "State one for each row.")
        elif table != "variant":
            names = read[table].words["name"].to_pylist()
            twice = next((name for place, name in enumerate(names) if name in names[:place]), None)
            if twice is not None:
                checking.wrong(f"{lists[table]}.name", f"{twice[:60]} stands there twice", "Name each row otherwise.")
    checking.done()
    outermost = {table: rows for table, rows in read.items() if table == "workshop" or table in OUTERMOST}
    return outermost, {table: rows for table, rows in read.items() if table not in outermost}


def _rules(array: pa.Array | None, checking: Checking, tables: Mapping[str, Rows]) -> tuple[Terms, np.ndarray]:
    """When each channel's prices are moved, and whether it posts whatever is heavier than its tiers."""
    names = [each.name for each in fields(Terms)]
    channels = tables["channel"].many
    held: dict[str, np.ndarray] = {}
    if array is not None and pa.types.is_list(array.type) and pa.types.is_struct(array.type.value_type):
        rows = array.flatten()
        inner = [rows.type.field(place).name for place in range(rows.type.num_fields)]
        for name, column in zip(inner, rows.flatten(), strict=True):
            kind = pa.bool_() if name in ("stated", POSTS_ALL) else pa.float64()
            if column.type == kind and not column.null_count and len(column) == channels:
                held[name] = column.to_numpy(zero_copy_only=False)
    lacking = [name for name in (*names, POSTS_ALL) if name not in held or np.isnan(held[name].astype(float)).any()]
    if lacking:
        checking.wrong(f"{RULES}.{lacking[0]}", "this is missing for some channel", "State it for every channel.")
        checking.done()
    for name, unstated in UNSTATED.items():
        _check_rule(name, held[name], held["stated"], unstated, checking)
    return Terms(**{name: held[name] for name in names}), held[POSTS_ALL]


def _check_rule(name: str, values: np.ndarray, stated: np.ndarray, unstated: float, checking: Checking) -> None:
    """Within the bounds of the folder's own file where a channel states it, and else what stands for nothing stated."""
    always = name in ("keep_within", "falling")  # the one stands for the other
    looked = np.flatnonzero(stated & (always | (values != unstated)))
    checking.within(stated_bounds(Reprice, name), f"{RULES}.{name}", values[looked], lambda place: int(looked[place]))
    loose = np.flatnonzero(~stated & (values != unstated))
    if len(loose):
        problem = f"{values[loose[0]]:g} stands there for a channel that states no rules"
        checking.wrong(checking.at(int(loose[0]), f"{RULES}.{name}"), problem, f"Write {unstated:g}, or set stated.")


def _said(file: Opened) -> tuple[str, date]:
    """The currency and the day that the file is of."""
    try:
        return file.said[CURRENCY_KEY].decode("ascii"), date.fromisoformat(file.said[AS_OF_KEY].decode("ascii"))
    except (KeyError, ValueError):
        problem = "it does not say of which currency and day it is"
        mend = f"Add {CURRENCY_KEY.decode()} and {AS_OF_KEY.decode()} to its metadata, as GBP and 2026-03-16."
        raise Faults([Fault(Place(file.name), "", problem, mend)]) from None


def _check_currencies(own: str, rows: Rows, checking: Checking) -> None:
    """The workshop's currency and all others are those of ISO 4217."""
    names = rows.words["name"].to_pylist()
    said = {CURRENCY_KEY.decode(): own, **{checking.at(row, "currencies.name"): name for row, name in enumerate(names)}}
    for place, name in said.items():
        if name not in currencies():
            checking.wrong(place, f'"{name[:60]}" is no currency', currency_meant(name))


def at_spot(workshop: Workshop, spot: Mapping[str, float]) -> Workshop:
    """The same at other prices of metal, by name, each as it is quoted. Raises UsageFault for an unknown metal."""
    if not spot:
        return workshop
    names = list(workshop.names("metal"))
    prices = workshop.inputs["quote_price"].copy()
    for name, price in spot.items():
        if name not in names:
            raise UsageFault(f"--spot {name}: there is no such metal. {did_you_mean(name, names)}")
        prices[names.index(name)] = price
    return replace(workshop, inputs={**workshop.inputs, "quote_price": prices})
