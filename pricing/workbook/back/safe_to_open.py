"""Whether a file may be opened as a workbook: nothing is unpacked or parsed that could swamp or mislead a reader."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from contextlib import suppress
from pathlib import Path

from pricing.errors import TroytagError, UsageFault
from pricing.reading import NotRead, read_file
from pricing.workbook.sheets.plan import MOST_BROUGHT_BACK

#: Most bytes of a file, of all its parts when unpacked, and most parts. A workbook of a thousand variants unpacks to
#: some 150 MB.
MOST_PACKED = 100 * 1024**2
MOST_UNPACKED = 512 * 1024**2
#: Most bytes of a part that is no sheet: such parts (texts, styles) are held in memory whole.
MOST_BESIDE = 64 * 1024**2
MOST_PARTS = 2_000
#: Most cells that a sheet may claim to have: more than any that is exported, far less than a sheet can hold.
MOST_CELLS = 100_000_000
#: Most columns and rows of a sheet.
MOST_COLUMNS, MOST_ROWS = 16_384, 1_048_576
#: Most tags of a part that is no sheet, which is held in memory whole: formats, defined names, whatever else.
MOST_TAGS_BESIDE = 400_000
#: Most tags of the part with the texts: four for each text.
MOST_TAGS_OF_TEXTS = 2_000_000
#: Most tags of a sheet that does not say its size first: a reader holds it whole to find out.
MOST_TAGS_UNSIZED = 400_000

_CHUNK = 1024**2
#: So much of a chunk is looked at again with the next one: longer than anything that is looked for.
_OVERLAP = 256
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
#: The dimension of a sheet stands among so many first bytes and tags.
_BEGUN, _FIRST_TAGS = 2**16, 200
_ROW = re.compile(rb"<(?:\w+:)?row[\s/>]")
_CELL = re.compile(rb"<(?:\w+:)?c[\s/>]")
_DECLARED = re.compile(rb"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)
_ENCODING = re.compile(rb"""<\?xml[^>]{0,100}?encoding\s*=\s*["']([^"']{0,40})""")
_DIMENSION = re.compile(rb"""<(?:\w+:)?dimension\s[^>]{0,100}?ref\s*=\s*["']([A-Za-z]+\d+):([A-Za-z]+)(\d+)["']""")


def sound_content(path: Path) -> bytes:
    """The bytes of a workbook; TroytagError, in one sentence, where a file is none or none that should be opened.

    Every part is unpacked piece by piece and counted as it comes, whatever sizes the file claims; none may declare a
    document type or an entity. Raises UsageFault where there is no such file.
    """
    try:
        content = read_file(path, MOST_PACKED)
    except NotRead as wrong:
        if wrong.reason == "missing":
            raise UsageFault(f"{path}: there is no such file. Name a workbook, such as workshop.xlsx.") from None
        raise _refused(path, wrong.problem) from None
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            _check_parts(path, packed)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError):
        # what the library says of a file that is cut short, encrypted, packed in an odd way or untrue about itself
        raise TroytagError(
            f"{path} is no workbook that can be opened: it is damaged, locked by a password or of another kind. "
            "Save it again as .xlsx."
        ) from None
    return content


def _check_parts(path: Path, packed: zipfile.ZipFile) -> None:
    parts = packed.infolist()
    names = {part.filename for part in parts}
    if len(parts) > MOST_PARTS or len(names) != len(parts):
        raise _refused(path, f"it has more than {MOST_PARTS} parts, or two of one name")
    if "xl/workbook.xml" not in names and "[Content_Types].xml" not in names:
        raise TroytagError(f"{path} is no workbook of spreadsheet cells (.xlsx).")
    unpacked = cells = 0
    for part in parts:
        counted = _Counted(path, part.filename)
        with packed.open(part) as content:
            while chunk := content.read(_CHUNK):
                unpacked += len(chunk)
                if unpacked > MOST_UNPACKED:
                    raise _refused(path, f"it unpacks to more than {MOST_UNPACKED // 1024**2} MB")
                counted.add(chunk)
        cells += counted.cells
        if cells > MOST_BROUGHT_BACK:
            mend = "Change the figures in the folder, or export a copy of it with fewer products and bring that back"
            raise _refused(path, f"it has more than {MOST_BROUGHT_BACK:,} cells. {mend}")


class _Counted:
    """One part as it is unpacked: what is in it is counted before a reader builds any of it."""

    def __init__(self, path: Path, name: str):
        self.path, self.is_sheet = path, name.startswith("xl/worksheets/")
        self.most_tags = MOST_TAGS_OF_TEXTS if name == "xl/sharedStrings.xml" else MOST_TAGS_BESIDE
        self.size = self.tags = self.rows = self.cells = 0
        self.seen = b""
        self.says_its_size = False

    def add(self, chunk: bytes) -> None:
        """The next piece of it; TroytagError where it is too much or must not be."""
        self.size += len(chunk)
        self.tags += chunk.count(b"<")
        begun = not self.seen
        _check_text(self.path, self.seen + chunk, begun)
        if begun:
            self.says_its_size = self.is_sheet and says_its_size(chunk)
        self.seen = chunk[-_OVERLAP:]
        if self.is_sheet:
            self._add_to_sheet(chunk)
        elif self.size > MOST_BESIDE:
            raise _refused(self.path, f"a part of it unpacks to more than {MOST_BESIDE // 1024**2} MB")
        elif self.tags > self.most_tags:
            raise _refused(self.path, "it has more formats, names or texts than any workbook needs")

    def _add_to_sheet(self, chunk: bytes) -> None:
        rows, cells = len(_ROW.findall(chunk)), len(_CELL.findall(chunk))
        self.rows += rows
        self.cells += cells
        if cells > MOST_COLUMNS * (rows + 1):
            raise _refused(self.path, f"a row of it has more than {MOST_COLUMNS:,} cells")
        if self.rows > MOST_ROWS:
            raise _refused(self.path, f"a sheet of it has more than {MOST_ROWS:,} rows")
        if self.tags > MOST_TAGS_UNSIZED and not self.says_its_size:
            raise _refused(self.path, "a large sheet of it does not say how large it is")


def says_its_size(begun: bytes) -> bool:
    """Whether the first piece of a sheet holds its dimension before its cells, as an XML parser sees it."""
    from xml.parsers import expat

    found: list[str] = []
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = lambda name, _words: found.append(name) if len(found) < _FIRST_TAGS else None
    with suppress(expat.ExpatError, LookupError, ValueError):  # what is wrong with it is told by whoever reads it
        parser.Parse(begun[:_BEGUN], False)
    until = found.index(f"{_MAIN} sheetData") if f"{_MAIN} sheetData" in found else len(found)
    return f"{_MAIN} dimension" in found[:until]


def _check_text(path: Path, content: bytes, begun: bool) -> None:
    """Look through a piece of a part; `begun` says that it is the first one."""
    if begun:
        if content.startswith((b"\xff\xfe", b"\xfe\xff", b"\x00<", b"<\x00")):
            raise _refused(path, "a part of it is not written in UTF-8")
        encoding = _ENCODING.search(content[:_OVERLAP])
        if encoding and encoding[1].lower() not in (b"utf-8", b"utf8", b"us-ascii"):
            raise _refused(path, "a part of it is not written in UTF-8")
    if _DECLARED.search(content):
        raise _refused(path, "it declares a document type or an entity, which no workbook needs")
    for claimed in _DIMENSION.finditer(content):
        columns = _column_number(claimed[2].decode())
        rows = int(claimed[3][:9])
        if columns > MOST_COLUMNS or rows > MOST_ROWS or columns * rows > MOST_CELLS:
            raise _refused(path, f"a sheet of it claims {columns:,} columns and {rows:,} rows")


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters[:6].upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _refused(path: Path, why: str) -> TroytagError:
    return TroytagError(f"{path} is not opened: {why}.")
