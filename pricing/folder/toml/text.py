"""Bytes of a file to text, with a sentence for everything that can be wrong with them.

A byte order mark at the beginning, as spreadsheet programs and editors on Windows write it, is no part
of the text and is passed over.
"""

from __future__ import annotations

import codecs
import hashlib
import os
from pathlib import Path

from pricing.errors import Fault, Faults, Place
from pricing.folder.files import PRODUCTS_FOLDER
from pricing.reading import NotRead, bytes_in_words, read_file

#: Most bytes of a TOML file, and of a table such as the price history: hundreds of alloys, decades of prices.
MOST_IN_TOML = 2 * 2**20
MOST_IN_TABLE = 16 * 2**20

#: The longer marks first: one of UTF-32 begins like one of UTF-16.
_OTHER_ENCODINGS = (
    (codecs.BOM_UTF32_LE, "UTF-32"),
    (codecs.BOM_UTF32_BE, "UTF-32"),
    (codecs.BOM_UTF16_LE, "UTF-16"),
    (codecs.BOM_UTF16_BE, "UTF-16"),
)


def shown(line: str) -> str:
    """A line as it may be printed: what is invisible or would steer a terminal becomes a question mark."""
    if line.isprintable():
        return line
    return "".join(letter if letter.isprintable() or letter == "\t" else "?" for letter in line)


def whole_file(file: str, problem: str, mend: str) -> Faults:
    """A fault of a file as a whole."""
    return Faults([Fault(Place(file), "", problem, mend)])


def content_hash(content: bytes) -> str:
    """The SHA-256 of a file's bytes, in hexadecimal: whether it is still the file that was read."""
    return hashlib.sha256(content).hexdigest()


def read_content(root: Path, file: str) -> bytes:
    """The bytes of a file of the folder, by its name relative to it.

    Raises Faults for a file that is missing, no plain file, unreadable or far too large, and for a link of a
    product that leads out of the folder: what lies there is none of the workshop's.
    """
    path = os.path.join(root, file)
    most = MOST_IN_TABLE if file.endswith(".csv") else MOST_IN_TOML
    try:
        content = read_file(path, most)
    except NotRead as wrong:
        raise whole_file(file, *_words(file, wrong, most)) from None
    if file.startswith(f"{PRODUCTS_FOLDER}/") and not _leads_inside(root, path):
        raise whole_file(file, "this link leads out of the folder", "Put the file itself there.")
    return content


def _words(file: str, wrong: NotRead, most: int) -> tuple[str, str]:
    """What a file of the folder that is not read is told with: problem and mend."""
    if wrong.reason == "missing":
        return "this file is missing", f"Add {file} to the folder."
    if wrong.reason in ("folder", "no file"):
        problem = "is a folder, and a file belongs here" if wrong.reason == "folder" else "is no plain file"
        return problem, "Move it away and put the file in its place."
    if wrong.reason == "too large":
        return f"this file has more than {bytes_in_words(most)}", "See what fills it; a workshop needs far less."
    return wrong.problem, wrong.mend


def _leads_inside(root: Path, path: str) -> bool:
    """Whether a file lies in the folder, or in the one that stands for its own folder by a link."""
    if not os.path.islink(path):
        return True
    real = Path(os.path.realpath(path))
    return any(real.is_relative_to(os.path.realpath(home)) for home in (root, os.path.dirname(path)))


def read_text(root: Path, file: str) -> str:
    """The text of a file of the folder; Faults as `read_content`, and where it is not UTF-8."""
    return decoded(file, read_content(root, file))


def decoded(file: str, content: bytes) -> str:
    """These bytes as text, without a byte order mark; Faults at the first byte that is not UTF-8 or is zero."""
    for mark, encoding in _OTHER_ENCODINGS:
        if content.startswith(mark):
            raise whole_file(file, f"this file is written in {encoding}", "Save it as UTF-8.")
    content = content.removeprefix(codecs.BOM_UTF8)
    if b"\x00" in content:
        raise _zeros(file, content)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8")
        number = before.count("\n") + 1
        column = len(before) - (before.rfind("\n") + 1) + 1
        line = content.split(b"\n")[number - 1].decode("utf-8", errors="replace").rstrip("\r")
        place = Place(file, number, column, shown(line))
        problem = f"the byte 0x{content[error.start]:02X} is not UTF-8"
        raise Faults([Fault(place, "", problem, "Save the file as UTF-8.")]) from None


def _zeros(file: str, content: bytes) -> Faults:
    """The fault of a file with bytes that are zero: what a disk lost, another encoding, or a slip."""
    if not content.strip(b"\x00"):
        mend = "The disk lost it: bring it back from a copy."
        return whole_file(file, "there is nothing but zeros in this file", mend)
    for width, encoding in ((4, "UTF-32"), (2, "UTF-16")):
        # of plain text each sign has one byte that is not zero, the first of its bytes or the last
        for kept in (0, width - 1):
            zeros = [content[number::width] for number in range(width) if number != kept]
            if sum(part.count(0) for part in zeros) > 0.8 * sum(map(len, zeros)):
                return whole_file(file, f"this file is written in {encoding}", "Save it as UTF-8.")
    before, _, after = content.partition(b"\x00")
    line = before.rpartition(b"\n")[2].decode("utf-8", errors="replace")
    rest = after.partition(b"\n")[0].decode("utf-8", errors="replace").rstrip("\r")
    place = Place(file, before.count(b"\n") + 1, len(line) + 1, shown(f"{line}\x00{rest}"))
    return Faults([Fault(place, "", "a byte that is zero stands here", "Take it out, or write the line again.")])
