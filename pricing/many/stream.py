"""The one function that prices a span of a file of variants, wherever it runs: here, or on another machine."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from pricing import __version__
from pricing.errors import TroytagError
from pricing.formulas.graph import cost_model
from pricing.formulas.kernel import kernel_for
from pricing.many.pricing_batch import VERDICTS, WHYS, Priced, Pricer
from pricing.many.schema import AS_OF_KEY, CURRENCY_KEY
from pricing.many.summary import SUMMED, Summary, summed, together
from pricing.many.variants import Batch, Span, VariantFiles, batches, check_written_together, source_of
from pricing.many.workshop import Workshop, at_spot, read_workshop
from pricing.safe_files import put_over, unfinished

#: Prices (variants × channels) in a part, about: some seconds of work.
PART_PRICES = 2**20
#: What is written of a price, beside its sku, size, alloy and channel: the words, each with its meaning.
TOLD_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "currency": "What in_force, asked and price are in: the channel's currency.",
        "verdict": f"What to do: {', '.join(VERDICTS)} (none: no price can be had).",
        "reason": f"Why: {', '.join(WHYS)}.",
    }
)
#: And the figures, each with its unit and meaning; what is quoted is in the row's currency.
FIGURES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "unit_cost": ("money", "What one costs to make, in the workshop's currency, whatever the row's."),
        "in_force": ("quoted", "The price in force; empty where none is."),
        "margin_now": ("1", "What the price in force leaves, a share of net sales; empty where none is."),
        "asked": ("quoted", "What the policy asks now; empty where no price can be had."),
        "margin_asked": ("1", "What the price asked leaves, a share of net sales."),
        "price": ("quoted", "The price to put: in force, asked, or a step towards it."),
        "margin": ("1", "What that price leaves, a share of net sales."),
    }
)


#: How it is written. Words as places among them, all of which have room; figures as they are, since few are alike.
#: Where a sku may be found is told by the first and the last of a row group.
WRITTEN: Mapping[str, Any] = MappingProxyType(
    {
        "compression": "snappy",
        "use_dictionary": ["sku", "size", "alloy", "channel", *TOLD_WORDS],
        "dictionary_pagesize_limit": 2**24,
        "write_statistics": ["sku"],
    }
)


@dataclass(frozen=True)
class Job:
    """What is asked, in plain words that can be sent: files, prices of metal, the margin to count below."""

    variants: str
    workshop: str | None
    spot: tuple[tuple[str, float], ...] = ()
    under: float = 0.0


@dataclass(frozen=True)
class Ready:
    """A job with its files looked at and its workshop computed.

    `asked` tells apart what is asked and by which program, `key` all besides the rows that other figures come of, and
    `seen` also files of which not all is the same.
    """

    job: Job
    source: VariantFiles
    workshop: Workshop
    pricer: Pricer
    spans: tuple[Span, ...]
    compiled: bool
    asked: str
    key: str
    seen: str

    @property
    def channels(self) -> tuple[str, ...]:
        return tuple(self.workshop.names("channel"))


@lru_cache(maxsize=1)
def ready(job: Job) -> Ready:
    """A job made ready, once in a process. Raises Faults for files that are off."""
    source = source_of(Path(job.variants), None if job.workshop is None else Path(job.workshop))
    workshop = read_workshop(source.workshop_path)
    check_written_together(source, workshop)
    workshop = at_spot(workshop, dict(job.spot))
    pricer = Pricer(workshop, source.many)
    compiled = kernel_for(pricer.part, pricer.wanted, source.many) is not None
    spans = tuple(source.spans(max(1, PART_PRICES // max(1, workshop.sizes["channel"]))))
    asked = _hash(__version__, _formulas(), "compiled" if compiled else "numpy", repr(job.spot))
    key = _hash(asked, workshop.digest, *(file.schema.serialize().to_pybytes().hex() for file in source.files))
    seen = _hash(key, *(f"{file.name} {file.digest}" for file in source.files))
    return Ready(job, source, workshop, pricer, spans, compiled, asked, key, seen)


def _hash(*said: str) -> str:
    return hashlib.sha256("\n".join(said).encode()).hexdigest()


def _formulas() -> str:
    """What tells formulas apart that compute otherwise."""
    told = hashlib.sha256()
    for name, quantity in cost_model().quantities.items():
        code = quantity.function.__code__
        told.update(f"{name} {code.co_names} {code.co_varnames} {code.co_consts}".encode() + code.co_code)
    return told.hexdigest()


def schema(workshop: Workshop | None = None) -> pa.Schema:
    """What is written: a row for each variant in each channel in which it is sold; of a workshop, with its day."""
    kind = pa.dictionary(pa.int32(), pa.string())
    words = [pa.field(name, kind) for name in ("sku", "size", "alloy", "channel")]
    told = [pa.field(name, kind, metadata={"meaning": meaning}) for name, meaning in TOLD_WORDS.items()]
    figures = [
        pa.field(name, pa.float64(), metadata={"unit": unit, "meaning": meaning})
        for name, (unit, meaning) in FIGURES.items()
    ]
    said = workshop and {CURRENCY_KEY: workshop.currency, AS_OF_KEY: workshop.as_of.isoformat()}
    return pa.schema([*words, *told, *figures], metadata=said)


@dataclass(frozen=True)
class Named:
    """The words of all places: names of alloys, channels, currencies, verdicts and reasons."""

    alloys: pa.Array
    channels: pa.Array
    currencies: pa.Array

    @classmethod
    def of(cls, workshop: Workshop) -> Named:
        return cls(*(pa.array(workshop.names(table), pa.string()) for table in ("alloy", "channel", "currency")))


def tables(made: Ready, span: Span, threads: int = 0) -> Iterator[tuple[pa.Table, Summary]]:
    """The prices of a span, batch by batch, with what they come to; formulas run on at most so many threads.

    Raises Faults.
    """
    file = made.source.files[span.file]
    named = Named.of(made.workshop)
    for batch in batches(file, span.groups, made.workshop):
        priced = made.pricer.priced(batch.rows, batch.in_force, batch.days, batch.at_once, threads)
        table = _table(batch, priced, named, made.workshop)
        yield table, summary_of(table, int(batch.shown.sum()), made)


def _table(batch: Batch, priced: Priced, named: Named, workshop: Workshop) -> pa.Table:
    sold = priced.sold & batch.shown[:, None]
    variants, channels = np.nonzero(sold)
    rows = batch.rows
    prices, box = rows.nested["prices"]
    # the workshop's currency has no row of its own where no other is spoken of
    currencies = prices.keys["currency"][box[variants, channels]]
    columns = {
        "sku": _words(rows.words["sku"]).take(pa.array(variants)),
        "size": _words(rows.words["size"]).take(pa.array(variants)) if "size" in rows.words else None,
        "alloy": _led(rows.keys["alloy"][variants], named.alloys),
        "channel": _led(channels, named.channels),
        "currency": _led(currencies, named.currencies),
        "verdict": _led(priced.verdict[sold], pa.array(VERDICTS)),
        "reason": _led(priced.reason[sold], pa.array(WHYS)),
        "unit_cost": _numbers(priced.unit_cost[variants]),
        **{name: _numbers(getattr(priced, name)[sold]) for name in FIGURES if name != "unit_cost"},
    }
    wanted = schema()
    held = [pa.nulls(len(variants), wanted.field(name).type) if columns[name] is None else columns[name]
            for name in wanted.names]  # fmt: skip
    return pa.Table.from_arrays(held, schema=wanted)


def _words(array: pa.Array) -> pa.DictionaryArray:
    held = array if isinstance(array, pa.DictionaryArray) else array.dictionary_encode()
    return held.cast(pa.dictionary(pa.int32(), pa.string()))


def _led(places: np.ndarray, words: pa.Array) -> pa.DictionaryArray:
    indices = pa.array(places.astype(np.int32), mask=places < 0)
    return pa.DictionaryArray.from_arrays(indices, words)


def _numbers(values: np.ndarray) -> pa.Array:
    there = np.isfinite(values)
    return pa.array(values) if there.all() else pa.array(values, mask=~there)


def summary_of(table: pa.Table, variants: int, made: Ready) -> Summary:
    """What the rows of a table come to."""

    def places(name: str) -> np.ndarray:
        return np.asarray(_one(table, name).indices.to_numpy(zero_copy_only=False), dtype=np.intp)

    figures = {name: _one(table, name).to_numpy(zero_copy_only=False) for name in SUMMED}
    channels = len(made.channels)
    return summed(variants, places("channel"), places("verdict"), places("reason"), figures, channels, made.job.under)


def _one(table: pa.Table, name: str) -> Any:
    column = table.column(name)
    return column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()


def digest_of(made: Ready, span: Span) -> str:
    """The hash of a span's bytes, and of all that its prices depend on besides."""
    file, told = made.source.files[span.file], hashlib.sha256(made.key.encode())
    with file.path.open("rb") as held:
        for group in span.groups:
            start, end = file.bytes_of(group)
            held.seek(start)
            while start < end and (piece := held.read(min(2**20, end - start))):
                told.update(piece)
                start += len(piece)
    return told.hexdigest()


def summarise(made: Ready, span: Span, threads: int = 0) -> Summary:
    """What a span comes to, nothing written."""
    return together([summary for _, summary in tables(made, span, threads)], len(made.channels))


def put_part(made: Ready, span: Span, target: Path, threads: int = 0) -> Summary:
    """Write the prices of a span to a file, whole or not at all. Raises as `write_part`, and OSError."""
    with unfinished(target) as beside:
        summary = write_part(made, span, beside, threads)
        put_over(beside, target)
    return summary


def write_part(made: Ready, span: Span, sink: Any, threads: int = 0) -> Summary:
    """Write the prices of a span as a Parquet file that says what it was made of; gives what they come to.

    Raises Faults, and TroytagError where the file was changed meanwhile.
    """
    digest = digest_of(made, span)
    found = []
    with pq.ParquetWriter(sink, schema(made.workshop), **WRITTEN) as writer:
        for table, summary in tables(made, span, threads):
            writer.write_table(table, row_group_size=max(1, table.num_rows))
            found.append(summary)
        writer.add_key_value_metadata({MADE_OF: digest, VARIANTS: ",".join(str(each.variants) for each in found)})
    if digest_of(made, span) != digest:
        raise TroytagError(
            f"{made.source.files[span.file].name} was changed while it was read; nothing was kept of it."
        )
    return together(found, len(made.channels))


#: What a part says of itself: the hash of all that it was made of, and how many variants each of its row groups has.
MADE_OF, VARIANTS = "troytag.made_of", "troytag.variants"
