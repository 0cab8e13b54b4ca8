"""Opening Parquet files that may come from anywhere: what they say of themselves is looked at before they are read.

Reading is bounded by what is looked at here (the footer's length, rows and bytes of a row group, the kinds of all
columns) and, in a process of its own, by a limit on its memory (`bounded_memory`): a few bytes of a file can stand for
very many rows.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pricing.errors import Fault, Faults, Place, TroytagError, UsageFault
from pricing.many.schema import FORM, FORM_KEY

MAGIC = b"PAR1"
#: Most bytes of a footer, and of a row group as it is unpacked.
MOST_FOOTER, MOST_UNPACKED = 16 * 2**20, 2**29
#: Most row groups of a file, rows of a row group, columns at the lowest level.
MOST_GROUPS, MOST_ROWS, MOST_COLUMNS = 100_000, 2**20, 1_000
#: Most bytes that reading and pricing may take beside what the program takes already.
MOST_MEMORY = 2**30 - 2**27
#: Columns of text, read as places among their words: one word may stand for very many.
TEXTS = ("sku", "size", "of")
#: What the file says of itself may be as long as this.
LONGEST_SAID = 2**16


@dataclass(frozen=True)
class Opened:
    """A file that was looked at: its footer, and what it says of itself."""

    path: Path
    footer: pq.FileMetaData
    schema: pa.Schema
    said: Mapping[bytes, bytes]
    digest: str  # of the footer and the length, that stand for the file where not all of it is read

    @property
    def name(self) -> str:
        return self.path.name

    def reader(self) -> pq.ParquetFile:
        return pq.ParquetFile(
            self.path,
            metadata=self.footer,
            read_dictionary=[name for name in TEXTS if name in self.schema.names],
            memory_map=False,
            buffer_size=2**20,
            pre_buffer=False,
            page_checksum_verification=True,
            thrift_string_size_limit=MOST_FOOTER,
            thrift_container_size_limit=MOST_GROUPS,
        )

    def rows_before(self, group: int) -> int:
        return sum(self.footer.row_group(each).num_rows for each in range(group))

    def bytes_of(self, group: int) -> tuple[int, int]:
        """From where to where a row group lies in the file."""
        row_group = self.footer.row_group(group)
        starts, ends = [], []
        for column in range(row_group.num_columns):
            chunk = row_group.column(column)
            first = [at for at in (chunk.dictionary_page_offset, chunk.data_page_offset) if at]
            starts.append(min(first, default=0))
            ends.append(starts[-1] + chunk.total_compressed_size)
        return min(starts, default=0), max(ends, default=0)


def opened(path: Path) -> Opened:
    """Look at a Parquet file. Raises Faults for one that is none, or that is beyond what is read."""
    file = path.name
    try:
        tail = _tail(path)
        with pq.ParquetFile(
            path, thrift_string_size_limit=MOST_FOOTER, thrift_container_size_limit=MOST_GROUPS
        ) as held:
            footer, schema = held.metadata, held.schema_arrow
    except (pa.ArrowException, OSError, ValueError, OverflowError, MemoryError, RecursionError) as fault:
        if isinstance(fault, OSError) and fault.errno is not None:
            raise TroytagError(f"{path}: {(fault.strerror or str(fault)).lower()}.") from None
        raise _refused(file, f"this is no Parquet file that can be read ({_short(fault)})") from None
    _within(footer, file, path)
    said = {key: value for key, value in (schema.metadata or {}).items() if len(value) <= LONGEST_SAID}
    form = said.get(FORM_KEY)
    if form is not None and form != FORM.encode():
        raise _refused(
            file,
            f"it is of form {form.decode(errors='replace')[:20]}, and this release reads form {FORM}",
            "Write it again with this release: troytag export FOLDER parquet.",
        )
    digest = hashlib.sha256(tail + str(path.stat().st_size).encode()).hexdigest()
    return Opened(path, footer, schema, said, digest)


def _tail(path: Path) -> bytes:
    """The footer's bytes. Raises ValueError where there is none, or a longer one than is read."""
    if not path.is_file():
        if path.exists():
            raise UsageFault(f"{path}: this is no file. Name one that holds variants.")
        raise UsageFault(f"{path}: there is no such file. Write it first: troytag export FOLDER parquet")
    size = path.stat().st_size
    with path.open("rb") as file:
        if size < 12 or file.read(4) != MAGIC:
            raise ValueError("it does not begin as one")
        file.seek(size - 8)
        length, magic = struct.unpack("<I4s", file.read(8))
        if magic != MAGIC:
            raise ValueError("it does not end as one: perhaps it was cut off")
        if length > min(MOST_FOOTER, size - 12):
            raise ValueError(
                f"its footer says that it has {length:,} bytes, and {MOST_FOOTER:,} are read: it is damaged, or "
                "has very many row groups, where 65,536 rows each are a good size"
            )
        file.seek(size - 8 - length)
        return file.read(length)


def _within(footer: pq.FileMetaData, file: str, path: Path) -> None:
    size = path.stat().st_size
    if footer.num_row_groups > MOST_GROUPS or footer.num_columns > MOST_COLUMNS:
        many = f"{footer.num_row_groups:,} row groups of {footer.num_columns:,} columns"
        raise _refused(file, f"{many} are more than are read", "Write several files, or larger row groups.")
    for group in range(footer.num_row_groups):
        row_group = footer.row_group(group)
        if not 0 <= row_group.num_rows <= MOST_ROWS:
            problem = f"row group {group} has {row_group.num_rows:,} rows, and {MOST_ROWS:,} are read at once"
            raise _refused(file, problem, "Write smaller row groups; 65,536 rows are a good size.")
        unpacked = 0
        for place in range(row_group.num_columns):
            chunk = row_group.column(place)
            unpacked += max(0, chunk.total_uncompressed_size)
            start = chunk.dictionary_page_offset or chunk.data_page_offset
            if start < 0 or chunk.total_compressed_size < 0 or start + chunk.total_compressed_size > size:
                raise _refused(file, f"row group {group} does not lie within the file")
        if unpacked > MOST_UNPACKED:
            problem = f"row group {group} unpacks to {unpacked / 2**20:,.0f} MiB, and {MOST_UNPACKED >> 20} are read"
            raise _refused(file, problem, "Write smaller row groups; 65,536 rows are a good size.")


def _refused(file: str, problem: str, mend: str = "Write it again, or name another file.") -> Faults:
    return Faults([Fault(Place(file), "", problem, mend)])


def _short(fault: BaseException) -> str:
    return " ".join(str(fault).split())[:160] or type(fault).__name__


@contextmanager
def told_as_faults(file: str, where: str) -> Iterator[None]:
    """What a library says of a damaged file, as a fault with its place."""
    try:
        yield
    except MemoryError:
        mend = "Write smaller row groups; 65,536 rows are a good size."
        raise Faults([Fault(Place(file), where, "more than a gibibyte is needed to read it", mend)]) from None
    except (pa.ArrowException, OSError, ValueError, OverflowError) as fault:
        if isinstance(fault, OSError) and fault.errno is not None:
            raise
        raise Faults([Fault(Place(file), where, f"it cannot be read ({_short(fault)})", "Write it again.")]) from None


@contextmanager
def bounded_memory(most: int = MOST_MEMORY) -> Iterator[None]:
    """So much more memory and no more for what is done within, where the system can see to that."""
    pa.set_memory_pool(pa.system_memory_pool())  # it asks for memory when it needs it, and gives it back
    pa.set_cpu_count(1)
    try:
        import resource

        held = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * os.sysconf("SC_PAGE_SIZE")
        before = resource.getrlimit(resource.RLIMIT_AS)
        limit = held + most
        if before[1] not in (resource.RLIM_INFINITY, -1):
            limit = min(limit, before[1])
        resource.setrlimit(resource.RLIMIT_AS, (limit, before[1]))
    except (ImportError, OSError, ValueError):
        yield
        return
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


def widths_of(said: Mapping[bytes, bytes], key: bytes) -> dict[str, int]:
    """How long the longest lists of the file are, as it says; none where it says nothing of use."""
    try:
        held = json.loads(said.get(key, b"{}"))
        return {str(axis): int(width) for axis, width in held.items() if 0 <= int(width) <= 1_000}
    except (ValueError, TypeError, AttributeError, OverflowError, RecursionError):
        return {}
