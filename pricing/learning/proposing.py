"""What the learned figures that a maker accepts change in the folder: the figures, and how sure they are.

They are written as an import writes: a figure that several products share changes where it stands, whoever would be
moved along keeps its own, comments stay, and all files change or none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from pricing.costing import Costing, cost_folder
from pricing.errors import UsageFault, did_you_mean
from pricing.folder.files import ALLOYS_FILE, DOUBTS_FILE
from pricing.folder.read import Folder, read_folder
from pricing.folder.toml.places import KeyPath
from pricing.folder.toml.text import content_hash, read_content
from pricing.folder.whole_files import changed_meanwhile
from pricing.folder.write import with_edits
from pricing.learning.evidence import MELT_LOSS
from pricing.learning.learned import path_of
from pricing.learning.rows import Learned, Learning
from pricing.workbook.back.changes import FolderChange
from pricing.workbook.back.family import Family, Question
from pricing.workbook.back.product_figures import question_of
from pricing.workbook.back.products import changes_of
from pricing.workbook.back.proposal import Proposal


def accepted(learning: Learning, names: Iterable[str] | None = None) -> tuple[Learned, ...]:
    """The rows with these names, of which enough is known; all such rows where None are named.

    Raises UsageFault for a name that is none of them, and for one of which too little is known.
    """
    wanted: set[str] = set()
    for name in names or ():
        rows = {row.name: row for row in learning.rows if name in (row.name, row.words)}
        if len(rows) != 1:
            mend = did_you_mean(name, rows or [each for row in learning.rows for each in (row.words, row.name)])
            raise UsageFault(f'the log says nothing new of "{name}". {mend}')
        wanted |= set(rows)
        (row,) = rows.values()
        if row.is_too_little:
            raise UsageFault(
                f"{row.words}: {row.batches} {'batch' if row.batches == 1 else 'batches'} "
                f"({row.count:.3g} {row.counted}) say too little of it. Log more, or leave it as it is."
            )
    chosen = [row for row in learning.rows if not row.is_too_little]
    return tuple(row for row in chosen if names is None or row.name in wanted)


def proposal(learning: Learning, rows: Sequence[Learned]) -> Proposal:
    """What these rows would change. Raises Faults where the folder would not take it, or was changed meanwhile."""
    costing = learning.costing
    folder = costing.folder
    changes = [*_figures(costing, [row for row in rows if not row.shared_by])]
    files = _with(folder, {}, changes)
    if apart := [row for row in rows if row.shared_by]:  # their own figures, once what they shared is as it shall be
        between = cost_folder(read_folder(folder.root, files), costing.asked) if files else costing
        more = [*_figures(between, apart)]
        changes, files = [*changes, *more], _with(folder, files, more)
    doubts = [*_doubts(learning, rows)]
    files = _with(folder, files, doubts)
    if files:
        read_folder(folder.root, files)
    expected = {file: folder.hashes.get(file) for file in files}
    return Proposal(folder.root, tuple([*changes, *doubts]), (), files, expected)


def _figures(costing: Costing, rows: Sequence[Learned]) -> Iterable[FolderChange]:
    family = Family(costing)
    questions: dict[tuple[str | int, ...], Question] = {}
    called: dict[tuple[KeyPath, str], dict[str, None]] = {}
    for row in rows:
        if not row.changes:
            continue
        if row.figure.key == MELT_LOSS:
            path = ("alloys", row.takers[0].alloy, MELT_LOSS)
            yield FolderChange(ALLOYS_FILE, path, row.stated, row.to, (), row.words)
            continue
        at = path_of(row.figure)
        question = questions.setdefault(at, question_of(family, at))
        question.wanted.update(dict.fromkeys(row.takers, row.to))
        called.setdefault((at, row.file), {})[row.words] = None
    for at, question in questions.items():
        for change in changes_of(family, question):
            words = "; ".join(called.get((at, change.file), ()))
            yield replace(change, why=", ".join(filter(None, (words, change.why))))


def _doubts(learning: Learning, rows: Sequence[Learned]) -> Iterable[FolderChange]:
    """How sure each figure is from now on, and up to which batch: the same batch is not learned from twice."""
    doubts = learning.costing.folder.stated.doubts
    for row in rows:
        if row.range is None:
            continue
        low, high = row.range
        before = doubt.model_dump(exclude_unset=True) if (doubt := doubts.get(row.name)) else None
        after = {"low": low, "high": high, "batch": learning.newest}
        yield FolderChange(DOUBTS_FILE, (row.name,), before, after, (), row.words)


def _with(folder: Folder, files: Mapping[str, bytes], changes: Sequence[FolderChange]) -> dict[str, bytes]:
    """The files as they would be with these changes too."""
    found = dict(files)
    for file in dict.fromkeys(change.file for change in changes):
        content = found[file] if file in found else _content(folder, file)
        found[file] = with_edits(file, content, [change.edit for change in changes if change.file == file])
    return found


def _content(folder: Folder, file: str) -> bytes:
    """A file as it was read; nothing where it is not there yet."""
    if file not in folder.hashes:
        if (folder.root / file).exists():
            raise changed_meanwhile(file)
        return b""
    content = read_content(folder.root, file)
    if content_hash(content) != folder.hashes[file]:
        raise changed_meanwhile(file)
    return content
