"""Variants out of Parquet, batch by batch: checked, with what is in force."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pricing.errors import Fault, Faults, Place, UsageFault
from pricing.formulas.bounds import bounds_of
from pricing.formulas.tables import INPUTS, TABLES, of_variants
from pricing.many.checking import Checking
from pricing.many.files import Opened, opened, told_as_faults, widths_of
from pricing.many.schema import IN_FORCE, SET_ON, WIDTHS_KEY, WORKSHOP_KEY, variants_schema
from pricing.many.tables import Reader, Rows, as_lists, is_text
from pricing.many.workshop import Workshop

#: Most variants in a batch, and bytes of its columns; how long a list is taken to be of a file that does not say.
BATCH_ROWS, BATCH_BYTES, USUAL_WIDTH = 32_768, 2**27, 16
#: Most that are read at once, so that many of them have steps and prices in common, and that two of these, side by
#: side, need far less than a gibibyte.
READ_ROWS = 65_536
#: Most rows of a row group in which variants have parts: it is read at once.
MOST_WITH_PARTS = 131_072
WORKSHOP_FILE = "workshop.parquet"


@dataclass(frozen=True)
class Batch:
    """Some variants: their rows, words to tell them by, what is in force by channel (NaN, and no end of days)."""

    rows: Rows
    in_force: np.ndarray
    days: np.ndarray
    shown: np.ndarray  # those that are no parts
    at_once: int  # so many are computed at once that have nothing in common


@dataclass(frozen=True)
class Span:
    """Row groups of one file that are done in one go."""

    file: int
    groups: tuple[int, ...]
    rows: int


@dataclass(frozen=True)
class VariantFiles:
    """One file of variants or a folder of such, and where its workshop's tables lie."""

    files: tuple[Opened, ...]
    workshop_path: Path
    own_workshop: bool  # named apart, and not looked at whether it is the one that the variants were written with
    path: Path  # as it was named: one file, or the folder

    @property
    def read(self) -> tuple[Path, ...]:
        """All files that are read, and what was named."""
        return (*(file.path for file in self.files), self.workshop_path, self.path)

    @property
    def many(self) -> int:
        """How many rows there are, parts included."""
        return sum(file.footer.num_rows for file in self.files)

    def spans(self, rows: int) -> list[Span]:
        """All row groups in order, put together to spans of about so many rows."""
        found: list[Span] = []
        for place, file in enumerate(self.files):
            groups: list[int] = []
            held = 0
            for group in range(file.footer.num_row_groups):
                groups.append(group)
                held += file.footer.row_group(group).num_rows
                if held >= rows:
                    found.append(Span(place, tuple(groups), held))
                    groups, held = [], 0
            if groups:
                found.append(Span(place, tuple(groups), held))
        return found


def source_of(path: Path, workshop: Path | None = None) -> VariantFiles:
    """What lies at a path: a file of variants, or a folder of such. Raises Faults and UsageFault."""
    if path.is_dir():
        paths = sorted(
            each for each in path.glob("*.parquet") if each.name != WORKSHOP_FILE and not each.name.startswith(".")
        )
        if not paths:
            raise UsageFault(f"{path}: no file of variants lies in it. Write one: troytag export FOLDER parquet")
        beside = path / WORKSHOP_FILE
    else:
        paths, beside = [path], path.parent / WORKSHOP_FILE
    source = VariantFiles(tuple(opened(each) for each in paths), workshop or beside, workshop is not None, path)
    for file in source.files:
        if "verdict" in file.schema.names and "castings" not in file.schema.names:
            raise UsageFault(f"{file.path} holds prices, as --to writes them, and no variants. Put it elsewhere.")
    if not source.workshop_path.is_file():
        raise UsageFault(
            f"{source.workshop_path}: there is no such file. The workshop's tables lie beside the variants, or are "
            "named with --workshop FILE."
        )
    return source


def check_written_together(source: VariantFiles, workshop: Workshop) -> None:
    """Raises Faults where a file of variants was written with another workshop's file than the one beside it."""
    for file in source.files:
        stated = file.said.get(WORKSHOP_KEY, b"").decode(errors="replace")
        if stated and stated != workshop.digest and not source.own_workshop:
            problem = f"it was written with another {WORKSHOP_FILE} than the one beside it"
            mend = "Put that one there, or say that this one is meant: --workshop FILE."
            raise Faults([Fault(Place(file.name), "", problem, mend)])


def batches(file: Opened, groups: Sequence[int], workshop: Workshop) -> Iterator[Batch]:
    """The variants of some row groups. Raises Faults with the place of what is wrong."""
    widths = widths_of(file.said, WIDTHS_KEY)
    wanted = [name for name in variants_schema().names if name in file.schema.names]
    _check_kinds(file)
    size, alone = rows_of_a_batch(widths, workshop), widths.get("part") == 0
    most = max(1, READ_ROWS // BATCH_ROWS)
    with file.reader() as reader:
        for group in groups:
            rows, before = file.footer.row_group(group).num_rows, 0
            if not alone and rows > MOST_WITH_PARTS:
                problem = f"row group {group} has {rows:,} rows, some of them perhaps with parts"
                mend = f"Write row groups of at most {MOST_WITH_PARTS:,} rows where a variant has parts."
                raise Faults([Fault(Place(file.name), "", problem, mend)])
            with told_as_faults(file.name, f"row group {group}"):
                for record in reader.iter_batches(
                    size * most if alone else max(1, rows), row_groups=[group], columns=wanted, use_threads=False
                ):
                    for piece in (record,) if alone else _pieces(record, size):
                        if piece.num_rows:
                            yield _batch(file, group, before, piece, workshop, widths, size)
                        before += piece.num_rows


def rows_of_a_batch(widths: Mapping[str, int], workshop: Workshop) -> int:
    """How many variants are done at once: the same for a file wherever it is done."""
    long = {**workshop.sizes, **widths, "variant": 1}
    places = sum(
        math.prod(long.get(axis, USUAL_WIDTH) for axis in TABLES[known.table].axes)
        for known in INPUTS.values()
        if of_variants(known.table)
    )
    return max(256, min(BATCH_ROWS, BATCH_BYTES // (8 * places)))


def _pieces(record: pa.RecordBatch, size: int) -> Iterator[pa.RecordBatch]:
    """A row group in batches of about so many rows, none cut between a variant and its parts behind it."""
    if "of" not in record.schema.names or not is_text(record.schema.field("of").type):
        yield record  # that is told where it is read
        return
    parts = pc.fill_null(pc.not_equal(record.column("of"), ""), False).to_numpy(zero_copy_only=False)
    wholes = np.flatnonzero(~parts)
    start = 0
    while start < record.num_rows:
        later = wholes[np.searchsorted(wholes, start + size) :]
        end = int(later[0]) if len(later) else record.num_rows
        yield record.slice(start, end - start)
        start = end


def _check_kinds(file: Opened) -> None:
    """Refuse columns that are nested otherwise than they should be, before anything of them is unpacked."""
    checking = Checking(file.name)
    for wanted in variants_schema():
        if wanted.name not in file.schema.names:
            continue
        if len(file.schema.get_all_field_indices(wanted.name)) > 1:
            checking.wrong(wanted.name, "there are several columns of this name", "Leave one of them.")
        elif _depth(file.schema.field(wanted.name).type) > _depth(wanted.type):
            checking.wrong(wanted.name, "this column is nested deeper than it can be", "Write it as the form says.")
    checking.done()


def _depth(kind: pa.DataType) -> int:
    deep = 0
    below = [kind]
    while below and deep < 10:
        below = [each.field(place).type for each in below for place in range(each.num_fields)]
        deep += bool(below)
    return deep


def _batch(
    file: Opened,
    group: int,
    before: int,
    record: pa.RecordBatch,
    workshop: Workshop,
    widths: dict[str, int],
    at_once: int,
) -> Batch:
    checking = Checking(file.name, where=lambda row: f"row group {group}, row {before + row}")
    columns = dict(zip(record.schema.names, record.columns, strict=True))
    sizes = {name: rows.many for name, rows in workshop.tables.items()}
    reader = Reader(checking, {**sizes, "price": sizes["channel"]}, workshop.shared, widths)
    rows = reader.rows("variant", columns, record.num_rows)
    for word in ("sku", "of"):
        if word not in rows.words:
            checking.wrong(word, "this column is missing, or holds no words", "Write strings.")
        elif word == "sku":
            nameless = np.flatnonzero(_nameless(rows.words[word]))
            if len(nameless):
                row = int(nameless[0])
                checking.wrong(checking.at(row, word), "nothing stands there", "State a name for each variant.")
    checking.done()
    channels = sizes["channel"]
    of = rows.words["of"]
    parts = pc.fill_null(pc.not_equal(of, ""), False).to_numpy(zero_copy_only=False)
    rows = _with_pieces(rows, parts, checking)
    rows, wide = _as_wide(rows, "prices", channels)
    short = np.flatnonzero((rows.nested["prices"][1][:-1] < 0).any(axis=1) & ~parts)
    if wide > channels or len(short):
        row = int(short[0]) if len(short) else 0
        problem = f"there must be a price row for each of the {channels} channels, in their order"
        checking.wrong(checking.at(row, "prices"), problem, "State one for each, with sold = false where it is not.")
    in_force, days = _in_force(columns, workshop, checking, record.num_rows)
    checking.done()
    return Batch(rows, in_force, days, ~parts, at_once)


def _nameless(words: pa.Array) -> np.ndarray:
    """Where no word stands, or an empty one."""
    held = words.dictionary if isinstance(words, pa.DictionaryArray) else words
    empty = pc.equal(pc.binary_length(held), 0)
    empty = empty.take(words.indices) if isinstance(words, pa.DictionaryArray) else empty
    return np.asarray(pc.fill_null(empty, True).to_numpy(zero_copy_only=False))


def _as_wide(rows: Rows, attribute: str, width: int) -> tuple[Rows, int]:
    """The rows with the box of a list at least so wide, and how wide it was."""
    held, box = rows.nested[attribute]
    more = max(0, width - box.shape[1])
    wider = np.pad(box, ((0, 0), (0, more)), constant_values=-1)
    return replace(rows, nested={**rows.nested, attribute: (held, wider)}), box.shape[1]


def _with_pieces(rows: Rows, is_part: np.ndarray, checking: Checking) -> Rows:
    """The rows of parts, each leading to the row of its piece, which is told by how many rows further down it is."""
    parts, box = rows.nested["parts"]
    owners, slots = np.nonzero(box[:-1] >= 0)
    places = np.full(parts.many + 1, -1, dtype=np.intp)
    led = box[owners, slots]
    places[led] = owners + parts.keys["piece"][led]
    row_of = np.zeros(parts.many, dtype=np.intp)
    row_of[led] = owners
    checking.places(
        "parts[…].piece",
        np.where(places[:-1] < 0, -2, places[:-1]),
        rows.many,
        "variant (itself and the parts behind it)",
        lambda row: int(row_of[row]),
    )
    checking.done()
    belongs = np.zeros(rows.many, dtype=bool)
    belongs[places[led]] = True
    alone = np.flatnonzero(is_part & ~belongs)
    if len(alone):
        problem = "it says that it is a part, and no variant of its row group has it among its parts"
        checking.wrong(checking.at(int(alone[0]), "of"), problem, "Leave it empty for what is sold by itself.")
    checking.done()
    held = Rows("part", parts.many, parts.inputs, {**parts.keys, "piece": places}, parts.words, parts.nested)
    return replace(rows, nested={**rows.nested, "parts": (held, box)})


def _in_force(
    columns: dict[str, pa.Array], workshop: Workshop, checking: Checking, many: int
) -> tuple[np.ndarray, np.ndarray]:
    """The prices in force and the days since they were set, by variant and channel."""
    channels = workshop.sizes["channel"]
    prices, days = np.full((many, channels), np.nan), np.full((many, channels), np.inf)
    held = _by_channel(IN_FORCE, columns, pa.float64(), channels, checking)
    if held is not None:
        full, values = held
        stated = values.is_valid().to_numpy(zero_copy_only=False)
        figures = pc.fill_null(values, np.nan).to_numpy(zero_copy_only=False)
        there, rows = np.flatnonzero(stated), np.flatnonzero(full)
        checking.within(
            bounds_of("fixed_price"),
            IN_FORCE,
            figures[there],
            lambda place: int(rows[there[place] // channels]),
            optional=True,
        )
        prices[full] = figures.reshape(-1, channels)
    held = _by_channel(SET_ON, columns, pa.date32(), channels, checking)
    if held is not None:
        full, values = held
        since = (np.datetime64(workshop.as_of) - values.to_numpy(zero_copy_only=False)).astype("timedelta64[D]")
        days[full] = np.where(np.isnat(since), np.inf, since.astype(float)).reshape(-1, channels)
    return prices, days


def _by_channel(
    name: str, columns: dict[str, pa.Array], kind: pa.DataType, channels: int, checking: Checking
) -> tuple[np.ndarray, pa.Array] | None:
    """Which rows have a list, and the values of all lists; None where the column is not there, or told as wrong."""
    if name not in columns or not channels:
        return None
    array = as_lists(columns[name])
    if not pa.types.is_list(array.type) or array.type.value_type != kind:
        checking.wrong(name, f"this column holds no lists of {kind}", "Write one value a channel, or leave it out.")
        return None
    full = array.is_valid().to_numpy(zero_copy_only=False)
    long = pc.fill_null(pc.list_value_length(array), channels).to_numpy(zero_copy_only=False)
    bad = np.flatnonzero(long != channels)
    if len(bad):
        problem = f"there are {long[bad[0]]} values for {channels} channels"
        checking.wrong(checking.at(int(bad[0]), name), problem, "State one for each, empty where there is none.")
        return None
    return full, array.flatten()
