"""Large files of variants for tests and benchmarks: a folder's variants again and again, figures a little apart."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pricing.many.schema import IN_FORCE


def grown(
    exported: Path,
    into: Path,
    rows: int,
    group_rows: int = 131_072,
    seed: int = 5,
    only: int | None = None,
    in_force: bool = False,
) -> Path:
    """A file of so many variants made of the exported ones: other names, volumes, surfaces, sales; the same workshop.

    Those with parts are left out; `only` takes so many of the others, `in_force` gives each a price in force. Each row
    group is drawn from the seed and its number.
    """
    into.mkdir(parents=True, exist_ok=True)
    shutil.copy(exported / "workshop.parquet", into / "workshop.parquet")
    file = pq.ParquetFile(exported / "variants.parquet")
    base = file.read()
    schema = base.schema
    alone = pc.and_(pc.equal(base["of"], ""), pc.equal(pc.list_value_length(base["parts"]), 0))
    base = base.filter(alone)
    widths = json.dumps({**json.loads(schema.metadata[b"troytag.widths"]), "part": 0})
    schema = schema.with_metadata({**schema.metadata, b"troytag.widths": widths})
    if only is not None:
        base = base.slice(0, only)
    if in_force:
        channels = len(pq.read_table(into / "workshop.parquet")["channels"][0])
        schema = schema.append(pa.field(IN_FORCE, pa.list_(pa.float64())))
        prices = pa.array([[60.0] * channels] * base.num_rows, pa.list_(pa.float64()))
        base = base.append_column(schema.field(IN_FORCE), prices)
    target = into / "variants.parquet"
    with pq.ParquetWriter(target, schema, compression="zstd", version="2.6") as writer:
        for number, start in enumerate(range(0, rows, group_rows)):
            writer.write_table(
                group(base, schema, start, min(group_rows, rows - start), np.random.default_rng([seed, number]))
            )
    return target


def group(base: pa.Table, schema: pa.Schema, start: int, rows: int, chance: np.random.Generator) -> pa.Table:
    """One row group."""
    taken = base.take(pa.array((start + np.arange(rows)) % base.num_rows))
    columns = {name: taken.column(name).combine_chunks() for name in taken.column_names}
    columns = {name: each.chunk(0) if isinstance(each, pa.ChunkedArray) else each for name, each in columns.items()}
    columns["sku"] = pa.array([f"piece-{start + place}" for place in range(rows)])
    columns["expected_sales"] = pc.multiply(columns["expected_sales"], pa.array(1 + 0.2 * chance.random(rows)))
    castings = columns["castings"]
    inner = castings.flatten()
    fields = dict(zip((each.name for each in inner.type), inner.flatten(), strict=True))
    for name in ("volume_cm3", "area_cm2", "metal_g", "model_g"):
        fields[name] = pc.multiply(fields[name], pa.array(1 + 0.2 * chance.random(len(inner))))
    made = pa.StructArray.from_arrays([fields[each.name] for each in inner.type], fields=list(inner.type))
    if IN_FORCE in columns:
        prices = columns[IN_FORCE].flatten()
        moved = pc.multiply(prices, pa.array(0.7 + 0.6 * chance.random(len(prices))))
        columns[IN_FORCE] = pa.ListArray.from_arrays(columns[IN_FORCE].offsets, moved)
    offsets = pa.array(castings.offsets.to_numpy() - castings.offsets[0].as_py(), pa.int32())
    columns["castings"] = pa.ListArray.from_arrays(offsets, made, type=castings.type)
    return pa.Table.from_arrays([columns[name] for name in schema.names], schema=schema)
