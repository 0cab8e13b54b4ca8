"""Prices all variants of a file, part by part: what a kill leaves is continued, and the result stands whole or not.

Parts lie in a folder beside the result, each put there whole and saying by a hash what it was made of: the bytes of
its row groups, the workshop's file, the prices of metal, the formulas, and whether they ran compiled. A part that was
made of anything else is never taken. When all are there they become the one file, or the folder, that was asked for.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pricing.errors import TroytagError, UsageFault
from pricing.many.exchange import JOURNAL, MADE, folder_of, put_in, said, settle, which
from pricing.many.here import done_here
from pricing.many.joining import joined
from pricing.many.stream import (
    MADE_OF,
    VARIANTS,
    Ready,
    digest_of,
    schema,
    summary_of,
)
from pricing.many.summary import Summary, together
from pricing.many.variants import Span
from pricing.safe_files import is_unfinished, only_writer, placed, sweep, write_whole

#: Told how many rows are done, of how many.
Progress = Callable[[int, int], None]
#: Does some spans, wherever, each into its place (none where only the summary is asked for), and gives in their order
#: what each comes to.
Doing = Callable[[Ready, list[Span], list[Path] | None], Iterable[Summary]]


@dataclass(frozen=True)
class Done:
    """What came of a run: what the prices come to, and how many parts of how many stood already."""

    summary: Summary
    parts: int
    continued: int


def summarised(made: Ready, tell: Progress, doing: Doing = done_here) -> Done:
    """What all prices come to, nothing written."""
    found, rows = [], 0
    spans = list(made.spans)
    results = doing(made, spans, None)
    for span, summary in zip(spans, results, strict=True):
        found.append(summary)
        rows += span.rows
        tell(rows, made.source.many)
    return Done(together(found, len(made.channels)), len(spans), 0)


def priced(made: Ready, target: Path, force: bool, tell: Progress, doing: Doing = done_here) -> Done:
    """Write all prices to a Parquet file, or where the target has another ending to a folder of such.

    Raises UsageFault where it stands already, or where a run with other inputs was begun there; Faults for what is
    wrong with the variants. What was done by then is kept.
    """
    settle(target)
    check_target(target, force, made.source.read)
    work = folder_of(target)
    with _told_if_full(target), _alone(work):
        try:
            check_target(target, force, made.source.read)  # another one may have written there meanwhile
            _begin(made, work, force)
            done = _parts(made, work, tell, doing)
        except BaseException:
            if not begun(target):  # nothing that could be continued
                shutil.rmtree(work)
            raise
        paths = [work / _name(place) for place in range(len(made.spans))]
        if target.suffix == ".parquet":
            _join(paths, work, target, force)
            shutil.rmtree(work)
        else:
            check_target(target, force, made.source.read)  # something may have been put there meanwhile
            for left in [each for each in work.iterdir() if is_unfinished(each.name)]:
                left.unlink(missing_ok=True)  # of a worker that is gone, or that comes too late
            put_in(work, target, force)
    return done


@contextmanager
def _alone(work: Path) -> Iterator[None]:
    """The folder for the parts, made where there is none, with nobody else at work in it."""
    while True:
        with suppress(FileExistsError):
            work.mkdir()
        with ExitStack() as held:
            try:
                mine = work.stat().st_ino
                held.enter_context(only_writer(work))
                stands = work.stat().st_ino == mine
            except FileNotFoundError:
                stands = False
            if stands:  # else another one was waited for, and has taken it away
                yield
                return


@contextmanager
def _told_if_full(target: Path) -> Iterator[None]:
    """A disk that is full, with what it was that found no room; what is done stays."""
    try:
        yield
    except OSError as fault:
        if fault.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise
        problem = f"{target} cannot be written ({os.strerror(fault.errno).lower()})"
        raise TroytagError(f"{problem}. What is done is kept: make room, and give the same command again.") from None


def check_target(target: Path, force: bool, read: Collection[Path] = ()) -> None:
    """Raise UsageFault where something would be overwritten unasked, or where there is no folder to put it into.

    Nothing of what is `read` is overwritten, asked or unasked; and no file of prices goes into a folder of variants
    that is read as a whole.
    """
    is_file = target.suffix == ".parquet"
    if target.suffix[1:].isalpha() and not is_file:
        raise UsageFault(
            f"{target}: prices go to a file whose name ends in .parquet, or to a folder, without an ending."
        )
    place = target.resolve()
    if any(place in (each.resolve(), *each.absolute().parents, *each.resolve().parents) for each in read):
        raise UsageFault(f"{target} is what the prices are made of, and is not overwritten. Name another with --to.")
    for folder in read:
        if is_file and folder.is_dir() and place.parent == folder.resolve():
            problem = f"{target} would lie among the variants, and {folder} could not be read the next time"
            raise UsageFault(f"{problem}. Name a place outside it with --to, or the file of variants with --from.")
    if target.exists() and target.is_dir() == is_file:
        kind = "a folder, and a file" if is_file else "a file, and a folder"
        raise UsageFault(f"{target} is {kind} is to be written. Name another with --to.")
    if target.exists() and not force and not (target.is_dir() and not any(target.iterdir())):
        raise UsageFault(f"{target} stands already. Name another with --to, or overwrite it with --force.")
    if not is_file and target.is_dir() and any(not _is_part(each.name) for each in target.iterdir()):
        raise UsageFault(f"{target} holds other files, too, and is not overwritten. Name another with --to.")
    if not target.absolute().parent.is_dir():
        raise UsageFault(f"{target.parent} is no folder. Make it, or name another with --to.")


def begun(target: Path) -> int:
    """How many parts of an earlier run lie there."""
    work = folder_of(target)
    return sum(_is_part(each.name) for each in work.iterdir()) if work.is_dir() else 0


def _begin(made: Ready, work: Path, force: bool) -> None:
    """Write down what the run is of. Raises UsageFault where one that asked for something else was begun.

    Where only the files are other ones than they were, as after a mend, parts of what is still the same are kept.
    """
    parts = {entry.name: entry for entry in work.iterdir() if _is_part(entry.name)}
    if said(work).get("asked") == made.asked:
        wanted = {_name(place) for place in range(len(made.spans))}
        parts = {name: entry for name, entry in parts.items() if name not in wanted}
    elif parts and not force:
        raise UsageFault(
            f"{work} holds a run that was begun with other metal prices, formulas or another compiler, and is not "
            "continued with these. Begin anew with --force."
        )
    for entry in parts.values():
        entry.unlink()
    _say(work, {"asked": made.asked, "parts": len(made.spans), "run": os.urandom(16).hex()})


def _say(work: Path, what: Mapping[str, object]) -> None:
    journal = {"troytag": "a run of prices that was not finished", **what}
    write_whole(work / JOURNAL, json.dumps(journal, indent=1).encode())


def _name(place: int) -> str:
    return f"part-{place:06d}.parquet"


def _is_part(name: str) -> bool:
    return name.startswith("part-") and name.endswith(".parquet") and name[5:-8].isdecimal()


def _parts(made: Ready, work: Path, tell: Progress, doing: Doing) -> Done:
    """Do what is not done yet."""
    sweep(work)
    found: dict[int, Summary] = {}
    for place, span in enumerate(made.spans):
        summary = _held(made, span, work / _name(place))
        if summary is not None:
            found[place] = summary
    continued = len(found)
    rows = sum(made.spans[place].rows for place in found)
    tell(rows, made.source.many)
    lacking = [place for place in range(len(made.spans)) if place not in found]
    spans = [made.spans[place] for place in lacking]
    results = doing(made, spans, [work / _name(place) for place in lacking]) if spans else ()
    for place, summary in zip(lacking, results, strict=True):
        found[place] = summary
        rows += made.spans[place].rows
        tell(rows, made.source.many)
    inorder = [found[place] for place in range(len(made.spans))]
    return Done(together(inorder, len(made.channels)), len(made.spans), continued)


def _held(made: Ready, span: Span, part: Path) -> Summary | None:
    """What a part comes to that was made of just this; None for any other, which is made again."""
    if not part.is_file():
        return None
    try:
        with pq.ParquetFile(part) as file:
            told = {key.decode(): value.decode() for key, value in (file.metadata.metadata or {}).items()}
            if told.get(MADE_OF) != digest_of(made, span):
                return None
            many = [int(each) for each in told[VARIANTS].split(",") if each]
            found = []
            for group, variants in zip(range(file.num_row_groups), many, strict=True):
                table = file.read_row_group(group, use_threads=False).cast(schema())
                found.append(summary_of(_placed_again(table, made), variants, made))
    except (pa.ArrowException, OSError, ValueError, KeyError):
        return None
    return together(found, len(made.channels))


def _placed_again(table: pa.Table, made: Ready) -> pa.Table:
    """A table whose words stand at their own places again: a file keeps only those that occur."""
    from pricing.many.pricing_batch import VERDICTS, WHYS

    for name, words in (("channel", made.channels), ("verdict", VERDICTS), ("reason", WHYS)):
        held = table.column(name).combine_chunks()
        held = held.chunk(0) if isinstance(held, pa.ChunkedArray) else held
        places = pa.array([words.index(word) for word in held.dictionary.to_pylist()], pa.int32())
        placed_again = pa.DictionaryArray.from_arrays(places.take(held.indices), pa.array(words, pa.string()))
        table = table.set_column(table.schema.get_field_index(name), name, placed_again)
    return table


def _join(paths: list[Path], work: Path, target: Path, force: bool) -> None:
    """Make one file of the parts, whose pages are taken as they lie.

    Before it is put in its place the journal says which file it is: so what a kill leaves behind is known for it.
    """
    with placed(target, force) as beside:
        try:
            with beside.open("r+b") as file:
                joined(paths, file, unsaid=(MADE_OF, VARIANTS))
        except ValueError as fault:
            problem = f"{target}: its parts cannot be put together ({fault})"
            raise TroytagError(f"{problem}. Begin anew with --force.") from None
        _say(work, {**said(work), MADE: which(beside)})
