"""The very answer of a command that only tells something, remembered: where nothing that it hangs on has changed.

It hangs on all that lies in the folder, by content (`folder/as_it_lies.py`), on the words of the command, the day, this
program, Python and every library that is there, on the environment, and on what it is printed on. All of that is one
hash; what was said under another one is never said again. What a command said is kept only where all of it still stood
once the command was through, so that nothing that was changed meanwhile is kept under the wrong hash.

So it is with small folders too: they are read in no time, but what reads them takes half a second to load.
"""

from __future__ import annotations

import functools
import hashlib
import json
import os
import sys
import zlib
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import Any, TextIO

from pricing.cli.screens.signs import Printed
from pricing.folder.as_it_lies import AsItLies, as_it_lies
from pricing.remembered import cache_folder, is_same_program, keep, program, recalled, sweep_kept

#: THE list of commands whose answers are remembered, each with the options under which one is not: it writes, asks,
#: reads from elsewhere, or draws a bar as it goes.
COMMANDS: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "check": frozenset(),
        "cost": frozenset({"sure"}),
        "reprice": frozenset({"publish", "interactive", "xlsx", "many"}),
    }
)
#: A folder of fewer files is no workshop, and soon told so.
LEAST_FILES = 3
#: Signs of one answer; bytes of one when it is packed, and of all that are kept.
MOST_SIGNS, MOST_PACKED, MOST_KEPT = 2**27, 2**24, 2**26
MOST_ANSWERS = 64
#: So many signs are kept as they are: to make them smaller takes a third of what parsing the folder does.
MOST_PLAIN = 3 * 2**22
#: What the shell, the window or the connection tells of itself in the environment; no answer hangs on it.
OF_THE_SESSION = frozenset(
    {"_", "SHLVL", "PWD", "OLDPWD", "WINDOWID", "TERM_SESSION_ID", "ITERM_SESSION_ID", "TMUX", "TMUX_PANE", "STY"}
    | {"SSH_CLIENT", "SSH_CONNECTION", "SSH_TTY", "SSH_AUTH_SOCK", "SSH_AGENT_PID", "GPG_TTY", "XDG_SESSION_ID"}
    | {"DBUS_SESSION_BUS_ADDRESS", "INVOCATION_ID", "JOURNAL_STREAM"}
)
#: In place of a text: the stream was flushed.
FLUSHED = -1

Function = Callable[..., None]


def remembering(name: str, command: Function) -> Function:
    """A command, which does not run where its answer is remembered; any other is given back as it is."""
    if name not in COMMANDS:
        return command

    @functools.wraps(command)
    def told(**said: Any) -> None:
        answer = None if any(said.get(each) for each in COMMANDS[name]) else _answer(name, said)
        if answer is None:
            command(**said)
        elif (known := answer.known()) is not None:
            _say(*known)
        else:
            answer.run(lambda: command(**said))

    return told


@dataclass
class Said:
    """What a command wrote, in order: of each piece the stream (0 for stdout, 1 for stderr) and how long it is."""

    pieces: list[tuple[int, int]] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    signs: int = 0
    is_whole: bool = True

    def add(self, stream: int, text: str) -> None:
        self.signs += len(text)
        if self.signs > MOST_SIGNS:
            self.spoil()
        if self.is_whole:
            self.pieces.append((stream, len(text)))
            self.texts.append(text)

    def flushed(self, stream: int) -> None:
        if self.is_whole:
            self.pieces.append((stream, FLUSHED))

    def spoil(self) -> None:
        """Something went past here, or there is too much: it is not remembered."""
        self.is_whole = False
        self.pieces, self.texts = [], []


class Noted:
    """A stream of which is noted what is written to it."""

    def __init__(self, inner: TextIO, number: int, said: Said):
        self._inner, self._number, self._said = inner, number, said

    def write(self, text: str) -> int:
        written = self._inner.write(text)
        self._said.add(self._number, text)
        return written

    def writelines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.write(line)

    def flush(self) -> None:
        self._inner.flush()
        self._said.flushed(self._number)

    def __getattr__(self, name: str) -> Any:
        if name in ("buffer", "detach", "reconfigure"):
            self._said.spoil()
        return getattr(self._inner, name)


@dataclass(frozen=True)
class _Answer:
    """An answer that may be remembered: the name that it is kept under, what it hangs on, the folder as it lies."""

    name: str
    of: str
    folder: AsItLies
    hangs_on: Callable[[], list[Any] | None]

    def known(self) -> tuple[Said, int] | None:
        """What was said, and the exit code; None where it is not remembered."""
        content = recalled("answers", self.name, MOST_PACKED)
        if content is None or content[: len(self.of)] != self.of.encode():
            return None
        with suppress(zlib.error, ValueError, KeyError, TypeError):
            unpacking = zlib.decompressobj()
            head, _, text = unpacking.decompress(content[len(self.of) :], 8 * MOST_SIGNS).partition(b"\n")
            kept = json.loads(head)
            pieces = [(stream, length) for stream, length in kept["pieces"]]
            if unpacking.eof and type(kept["code"]) is int and _fit(pieces, said := text.decode("utf-8")):
                return Said(pieces, [said]), kept["code"]
        return None

    def run(self, command: Callable[[], None]) -> None:
        """Run the command, and remember what it says."""
        said, code = Said(), 0
        streams = sys.stdout, sys.stderr
        try:
            sys.stdout, sys.stderr = (_noted(stream, number, said) for number, stream in enumerate(streams))
            command()
        except SystemExit as left:
            if not isinstance(left.code, int | None):
                raise
            code = left.code or 0
        finally:
            sys.stdout, sys.stderr = streams
        sys.stdout.flush()  # nobody waits for what follows
        self._keep(said, code)
        if code:
            raise SystemExit(code)

    def _keep(self, said: Said, code: int) -> None:
        if not said.is_whole or _may_be_compiled() or not self.folder.has_stood() or not is_same_program():
            return
        if _hash(self.hangs_on(), self.folder.digest) != self.of:
            return
        head = json.dumps({"code": code, "pieces": said.pieces}, separators=(",", ":"))
        packing = zlib.compressobj(1 if said.signs > MOST_PLAIN else 0)
        try:
            packed = [packing.compress(f"{head}\n".encode())]
            packed += [packing.compress(text.encode()) for text in said.texts]
        except UnicodeEncodeError:  # a name of bytes that are no text
            return
        content = b"".join([self.of.encode(), *packed, packing.flush()])
        if len(content) <= MOST_PACKED:
            keep("answers", self.name, content)
            sweep_kept("answers", MOST_KEPT, MOST_ANSWERS)


def _may_be_compiled() -> bool:
    """Whether formulas were asked for that hang, in their last bits, on the compiler that there is."""
    if "pricing.formulas.kernel" not in sys.modules:  # nothing was computed
        return False
    from pricing.formulas.kernel import has_compiled

    return has_compiled()


def _answer(command: str, said: Mapping[str, Any]) -> _Answer | None:
    """What the command's answer goes by; None where it is not to be remembered."""
    root = said.get("folder")
    words = {name: value for name, value in said.items() if name not in ("folder", "context")}
    if not isinstance(root, Path) or cache_folder("answers") is None or not all(map(_is_plain, words.values())):
        return None
    folder = as_it_lies(root, LEAST_FILES)
    if folder is None:
        return None
    asked = [command, str(root), folder.root, sorted(words.items())]

    def hangs_on() -> list[Any] | None:
        try:
            where = os.getcwd()
        except OSError:  # the folder that the command was begun in is gone
            return None
        by, day = program(), date.today().isoformat()
        return None if by is None else [asked, where, by, _python(), _printed_on(), day, _environment()]

    of = _hash(hangs_on(), folder.digest)
    name = hashlib.sha256(json.dumps([asked, _printed_on()]).encode()).hexdigest()
    return _Answer(f"{name}.kept", of, folder, hangs_on) if of else None


def _is_plain(value: Any) -> bool:
    """Whether an option was told by words and figures alone. What names a file hangs on what stands there."""
    return (
        value is None
        or isinstance(value, str | int | float)
        or (isinstance(value, list) and all(map(_is_plain, value)))
    )


def _hash(hangs_on: list[Any] | None, folder: str) -> str:
    """One hash of all that an answer hangs on; none where nobody can say."""
    return "" if hangs_on is None else hashlib.sha256(json.dumps([hangs_on, folder]).encode()).hexdigest()


def _python() -> list[Any]:
    """The interpreter, and every library where it looks for them, with its version and when it was put there."""
    found = []
    for place in dict.fromkeys(sys.path):
        with suppress(OSError), os.scandir(place or ".") as entries:
            found += [
                (place, entry.name, entry.stat().st_mtime_ns)
                for entry in entries
                if entry.name.endswith((".dist-info", ".egg-info", ".pth"))
            ]
    return [sys.version, sys.executable, list(sys.flags), sys.warnoptions, sorted(found)]


def _printed_on() -> list[Any]:
    """What is known of the streams: whether each is a terminal, how wide, and how it writes signs."""
    sizes = []
    for number in range(3):  # a width is asked of any of them
        try:
            sizes.append(list(os.get_terminal_size(number)))
        except (OSError, ValueError):
            sizes.append([])
    streams = [
        stream and [stream.isatty(), *(str(getattr(stream, each, None)) for each in ("encoding", "errors"))]
        for stream in (sys.stdout, sys.stderr)
    ]
    return [sizes, streams]


def _environment() -> list[tuple[str, str]]:
    return sorted((name, value) for name, value in os.environ.items() if name not in OF_THE_SESSION)


def _noted(stream: TextIO, number: int, said: Said) -> Any:
    """The stream with a note of what is really written to it, behind what keeps a terminal from being steered."""
    if isinstance(stream, Printed):
        return Printed(Noted(stream.inner, number, said))  # type: ignore[arg-type]  # all that is asked of one
    return Noted(stream, number, said)


def _fit(pieces: list[tuple[int, int]], text: str) -> bool:
    """Whether these are the pieces of the text."""
    fine = all(stream in (0, 1) and type(length) is int and length >= FLUSHED for stream, length in pieces)
    return fine and sum(length for _, length in pieces if length != FLUSHED) == len(text)


def _say(said: Said, code: int) -> None:
    """Write what was said, piece by piece as it was then."""
    streams = [stream.inner if isinstance(stream, Printed) else stream for stream in (sys.stdout, sys.stderr)]
    (text,), start = said.texts, 0
    for number, length in said.pieces:
        if length == FLUSHED:
            streams[number].flush()
        else:
            streams[number].write(text[start : start + length])
            start += length
    if code:
        raise SystemExit(code)
