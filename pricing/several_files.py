"""A change of several files of one folder: all or none, also where the process is killed half-way.

The new files are written beside their places and brought to the disk. Then a journal is put into the folder, which
names each file, the hash of what lies there, the hash of what shall lie there, and the file beside it. From then on
the change is made: what is left to do of it is done by whoever reads or changes the folder next (`finish`). Before
it, nothing is changed, and what lies beside is swept away.

A journal is believed only where every file is as it was or as it shall be. So one that a synced drive brought, or one
beside files that somebody changed since, harms nothing: it is told, and nothing is touched.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from pricing.errors import Fault, Faults, Place, TroytagError, UsageFault
from pricing.reading import NotRead, read_file
from pricing.safe_files import (
    check_free,
    is_unfinished,
    keep_rights,
    machine,
    only_writer,
    put_new,
    put_over,
    sweep,
    sync_file,
    sync_folder,
    unfinished_name,
)

#: The journal, in the folder itself.
JOURNAL = ".unfinished-change.json"
#: Most bytes of a journal: some hundred a file.
MOST_BYTES = 16 * 2**20
#: The journal of another machine that is so many seconds old or less may be one that is worked through just now.
RECENT = 120.0
FORM = 1


class Meanwhile(TroytagError):
    """A file is not what the writer took it for; `file` is its name relative to the folder."""

    def __init__(self, file: str):
        super().__init__(f"{file} was changed meanwhile, and nothing was written.")
        self.file = file


class HalfDone(TroytagError):
    """The disk gave up in the midst of a change, and while it was taken back: the journal stays."""


@dataclass(frozen=True)
class _Entry:
    """One file of a change: its name, hashes of what lies there (None: nothing) and of what shall, the name beside."""

    file: str
    before: str | None
    after: str
    beside: str

    def target(self, root: Path) -> Path:
        return (root / self.file).resolve()  # a link stays a link

    def source(self, root: Path) -> Path:
        return self.target(root).with_name(self.beside)


@dataclass(frozen=True)
class _Journal:
    """A change that was begun: what it is, when and on which machine, and its files."""

    what: str
    begun: str
    machine: str
    entries: tuple[_Entry, ...]

    def called(self) -> str:
        return f"a change of {len(self.entries)} files ({self.what}, {self.begun[:16].replace('T', ' ')})"


def put_all(root: Path, contents: Mapping[str, bytes], expected: Mapping[str, str | None], what: str) -> None:
    """Put files in their places, all or none; only the writer that holds the folder may do so.

    Names are relative to `root`. `expected` gives for each file the SHA-256 of what must lie there, None for nothing;
    `what` is a word for the change, for whoever has to be told of it. Raises Meanwhile where something else lies
    there, OSError where the disk refuses (then nothing has changed), and HalfDone where it refuses in the midst and
    the change could not be taken back: then the next reader finishes it.
    """
    made: list[Path] = []
    entries: list[_Entry] = []
    try:
        for file, content in contents.items():
            target = (root / file).resolve()
            made += _folders_for(target.parent)
            beside = unfinished_name(target)
            entries.append(_Entry(file, expected[file], _hash(content), beside.name))
            with beside.open("xb") as written:
                written.write(content)
            keep_rights(beside, target)
            sync_file(beside)
        before = {entry.file: _content(entry.target(root)) for entry in entries}
        for entry in entries:
            if (None if (held := before[entry.file]) is None else _hash(held)) != entry.before:
                raise Meanwhile(entry.file)
        if len(entries) == 1:
            _put(root, entries[0])
        else:
            _put_with_journal(root, entries, before, what)
    except BaseException:
        if not _stands(root / JOURNAL):  # else what is written there is still needed
            for entry in entries:
                with suppress(OSError):
                    entry.source(root).unlink(missing_ok=True)
            for folder in reversed(made):
                with suppress(OSError):  # somebody else has put something into it
                    folder.rmdir()
        raise


def _put(root: Path, entry: _Entry) -> None:
    """One file in its place, and the name on the disk. Raises Meanwhile where a new one is none any more."""
    target, source = entry.target(root), entry.source(root)
    if entry.before is None:
        try:
            put_new(source, target)
        except FileExistsError:
            raise Meanwhile(entry.file) from None
        source.unlink(missing_ok=True)
    else:
        put_over(source, target)
    sync_folder(target.parent)


def _put_with_journal(root: Path, entries: Sequence[_Entry], before: Mapping[str, bytes | None], what: str) -> None:
    """All files in their places, under a journal that is taken away when the last one stands."""
    begun = datetime.now().astimezone().isoformat(timespec="seconds")
    journal = _Journal(what, begun, machine(), tuple(entries))
    path = root / JOURNAL
    _write_journal(path, journal)
    done: list[_Entry] = []
    try:
        for entry in entries:
            done.append(entry)
            _put(root, entry)
    except BaseException as fault:
        try:
            for entry in done:
                _take_back(root, entry, before[entry.file])
            path.unlink()
        except OSError:
            raise HalfDone(
                f"{root}: the disk gave up in the midst of {journal.called()}: {fault}. What is left of it is written "
                "down, and the next command on this folder finishes it as soon as the disk can be written."
            ) from None
        raise
    path.unlink()
    sync_folder(root)


def _write_journal(path: Path, journal: _Journal) -> None:
    body = {
        "form": FORM,
        "what": journal.what,
        "begun": journal.begun,
        "machine": journal.machine,
        "files": [
            {"file": each.file, "before": each.before, "after": each.after, "beside": each.beside}
            for each in journal.entries
        ],
    }
    content = json.dumps({"change": body, "sha256": _hash(_plain(body))}, indent=1).encode()
    beside = unfinished_name(path)
    try:
        with beside.open("xb") as written:
            written.write(content)
        put_new(beside, path)
        sync_folder(path.parent, confirmed=os.name != "nt")
    except BaseException:
        with suppress(OSError):
            if _content(path) == content:
                path.unlink()
        raise
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


def _take_back(root: Path, entry: _Entry, before: bytes | None) -> None:
    """A file as it was, where this change has replaced it.

    What it had become lies beside it again: where the disk gives up now, the next reader can still finish the change.
    """
    target, source = entry.target(root), entry.source(root)
    now = _content(target)
    if now is None or _hash(now) != entry.after or entry.after == entry.before:
        return
    if before is None:
        os.rename(target, source)
        return
    with suppress(OSError):  # a drive may have no links
        os.link(target, source)
    beside = unfinished_name(target)
    try:
        with beside.open("xb") as written:
            written.write(before)
        put_over(beside, target)
    finally:
        beside.unlink(missing_ok=True)


@contextmanager
def only_change(root: Path) -> Iterator[tuple[Fault, ...]]:
    """The only writer to this folder, after whatever a killed one left has been finished; gives what to tell of it."""
    with only_writer(root):
        notes = _finish_held(root) if _stands(root / JOURNAL) else ()
        yield notes


def finish(root: Path) -> tuple[Fault, ...]:
    """Finish what a killed process left half-done in this folder; gives what is to be told of it, mostly nothing.

    Raises Faults where it cannot be finished: a file is neither as it was nor as it shall be, the folder may not be
    written to, or another machine is at it; then nothing is touched.
    """
    if not _stands(root / JOURNAL):
        return ()
    with only_change(root) as notes:
        return notes


def _finish_held(root: Path) -> tuple[Fault, ...]:
    journal = _read_journal(root)
    if journal is None:  # another one has finished it while we waited
        return ()
    states = {entry: _state(root, entry) for entry in journal.entries}
    odd = [entry.file for entry, state in states.items() if state == "other"]
    lost = [entry.file for entry, state in states.items() if state == "lost"]
    if odd:
        problem = f"{journal.called()} was interrupted, and {_listed(odd)} was changed by somebody else since"
        raise _to_be_compared(root, problem, journal)
    foreign = journal.machine != machine()
    if foreign and set(states.values()) != {"after"} and _age(journal) < RECENT:
        mend = "Wait until it is done and the drive is in step, then repeat the command."
        raise Faults([Fault(Place(JOURNAL), "", f"{journal.called()} is being made from another machine", mend)])
    if lost and (foreign or "after" in states.values()):
        problem = f"{journal.called()} was interrupted, and what {_listed(lost)} shall become is not here"
        raise _to_be_compared(root, problem, journal, "If the drive is synced, wait until it is in step. Else ")
    undone = bool(lost)
    try:
        if not undone:
            for entry, state in states.items():
                if state == "before":
                    _finish_one(root, entry)
        (root / JOURNAL).unlink(missing_ok=True)
        sync_folder(root)
        for entry in journal.entries:
            entry.source(root).unlink(missing_ok=True)
        for folder in {root, *(entry.target(root).parent for entry in journal.entries)}:
            sweep(folder)
    except OSError as refused:
        reason = refused.strerror or type(refused).__name__
        problem = f"{journal.called()} was interrupted and cannot be finished ({reason}), so half of it stands here"
        mend = "Run the command once where the folder may be written to and the disk has room."
        raise Faults([Fault(Place(JOURNAL), "", problem, mend)]) from None
    files = _listed([entry.file for entry in journal.entries])
    problem = f"{journal.called()} was interrupted and is {'taken back' if undone else 'finished'} now: {files}"
    return (Fault(Place(JOURNAL), "", problem, "Do it again." if undone else "Look whether it is as you meant it."),)


def _finish_one(root: Path, entry: _Entry) -> None:
    try:
        _put(root, entry)
    except (FileNotFoundError, Meanwhile):
        if _state(root, entry) != "after":  # one at the same moment, on a system without locks, has done the same
            raise FileNotFoundError(errno.ENOENT, f"{entry.file} was changed meanwhile") from None


def _to_be_compared(root: Path, problem: str, journal: _Journal, lead: str = "") -> Faults:
    """The fault of a change that only a person can finish; what the files should have become is left where it lies."""
    kept = [os.path.relpath(entry.source(root), root) for entry in journal.entries if hash_at(entry.source(root))]
    files = _listed([entry.file for entry in journal.entries])
    mend = f"{lead}compare {files}"
    mend += f" with what they should have become ({_listed(kept)})" if kept else ""
    mend = f"{mend[0].upper()}{mend[1:]}, put right what is not, then delete {JOURNAL}."
    return Faults([Fault(Place(JOURNAL), "", problem, mend)])


def _state(root: Path, entry: _Entry) -> str:
    """`after` where it is done, `before` where it can be, `lost` where what to put there is gone, `other` else."""
    now = hash_at(entry.target(root))
    if now == entry.after:
        return "after"
    if now != entry.before:
        return "other"
    return "before" if hash_at(entry.source(root)) == entry.after else "lost"


def _read_journal(root: Path) -> _Journal | None:
    """The journal of a folder. Raises Faults for one that is none, or that names files outside the folder."""
    try:
        content = _content(root / JOURNAL, MOST_BYTES)
    except OSError as refused:
        raise _no_journal(refused.strerror or str(refused)) from None
    if content is None:
        return None
    try:
        document = json.loads(content)
        change = document["change"]
        if document["sha256"] != _hash(_plain(change)):
            raise _no_journal("it is torn")
        if change["form"] != FORM:
            raise _no_journal(f"it is of form {change['form']}, and this program reads {FORM}")
        entries = tuple(_entry(each) for each in change["files"])
        return _Journal(str(change["what"]), str(change["begun"]), str(change["machine"]), entries)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise _no_journal("it is torn") from None


def _entry(said: Mapping[str, Any]) -> _Entry:
    """Raises ValueError for a name that leads out of the folder, or that no unfinished file of ours has."""
    file, before, after, beside = (said[name] for name in ("file", "before", "after", "beside"))
    parts = PurePosixPath(file).parts
    inside = parts and ".." not in parts and not PurePosixPath(file).is_absolute() and "\\" not in file
    if not inside or not is_unfinished(beside) or "/" in beside or "\\" in beside or "\0" in file + beside:
        raise ValueError(file)
    if not isinstance(after, str) or not (before is None or isinstance(before, str)):
        raise ValueError(after)
    return _Entry(file, before, after, beside)


def _no_journal(reason: str) -> Faults:
    problem = f"an interrupted change of several files is written down here, and it cannot be read ({reason})"
    mend = f"If the drive is synced, wait until it is in step. Else see what changed last, then delete {JOURNAL}."
    return Faults([Fault(Place(JOURNAL), "", problem, mend)])


def sweep_all(root: Path, folders: Sequence[str] = ("",)) -> None:
    """Sweep away what killed writers left in these folders of `root`; only the writer that holds it may do so."""
    if not _stands(root / JOURNAL):
        for folder in folders:
            sweep(root / folder)


def place_all(contents: Mapping[Path, Callable[[], bytes] | bytes], force: bool, what: str) -> tuple[Fault, ...]:
    """Put several files in place, all or none where they go into one folder; gives what is to be told.

    Raises UsageFault where one would be overwritten unasked, TroytagError where one cannot be written.
    """
    for path in contents:
        check_free(path, force)
    ready = {path: content if isinstance(content, bytes) else content() for path, content in contents.items()}
    by_folder: dict[Path, dict[str, bytes]] = {}
    for path, content in ready.items():
        by_folder.setdefault(path.absolute().parent, {})[path.name] = content
    notes: tuple[Fault, ...] = ()
    for folder, files in by_folder.items():
        try:
            with only_change(folder) as finished:
                notes += finished
                sweep_all(folder)
                expected = {file: hash_at((folder / file).resolve()) if force else None for file in files}
                put_all(folder, files, expected, what)
        except Meanwhile as changed:
            path = folder / changed.file
            raise UsageFault(f"{path} has come into being meanwhile. Overwrite it with --force.") from None
        except OSError as fault:
            named, reason = " and ".join(files), fault.strerror or fault
            raise TroytagError(f"{named} cannot be written ({reason}); nothing was changed.") from None
    return notes


def _folders_for(folder: Path) -> list[Path]:
    """Make a folder and those above it; gives the ones that were made, from the highest down."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()][::-1]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def _age(journal: _Journal) -> float:
    try:
        return time.time() - datetime.fromisoformat(journal.begun).timestamp()
    except (ValueError, OverflowError, OSError):
        return RECENT


def _stands(path: Path) -> bool:
    try:
        return os.path.lexists(path)
    except OSError:
        return False


def hash_at(path: Path) -> str | None:
    """The SHA-256 of a plain file, None where nothing lies there. Raises OSError for anything else."""
    content = _content(path)
    return None if content is None else _hash(content)


def _content(path: Path, most: int = sys.maxsize) -> bytes | None:
    try:
        return read_file(path, most)
    except NotRead as wrong:
        if wrong.reason == "missing":
            return None
        raise OSError(errno.EINVAL, wrong.problem, str(path)) from None


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _plain(body: Mapping[str, Any]) -> bytes:
    return json.dumps(body, sort_keys=True).encode()


def _listed(names: Sequence[str], most: int = 6) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
