"""One save for a form and for the text beside it: what was changed in either is kept, or nothing is written.

Only what the maker changed counts: fields against what they showed, the text against the file that was read for it.
Where both were changed the text goes first, and the form's changes are made in it.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pricing.errors import Fault, Faults, Place
from pricing.folder.toml.places import Document, KeyPath, written
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import content_hash, decoded, read_content
from pricing.folder.write import change_file, hash_of, with_edits
from pricing.page.forms.meanwhile import merged, same, shown_of
from pricing.page.forms.saving import save_text

#: So often a save is tried where somebody else writes in between.
MOST_TRIES = 3
#: What a form has beside the fields of its keys.
BESIDE = ("shown", "text", "expected", "said")
_LINE_END = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True)
class Sent:
    """A form as it came: the fields of its keys, what they showed (None: it does not say), and the text beside them
    with the hash of the file that was read for it and the mark of the text that was shown."""

    fields: Mapping[str, str]
    shown: Mapping[str, str] | None
    shown_text: str
    text: str | None
    expected: str
    said: str

    @property
    def changes_text(self) -> bool:
        return self.text is not None and mark_of_text(self.text) != self.said

    @property
    def changes_fields(self) -> bool:
        shown = self.shown or {}
        return any(not same(text, shown.get(name, "")) for name, text in self.fields.items())


@dataclass(frozen=True)
class Refused:
    """Nothing was written: the faults, what is torn between two, and what stays typed in fields and text."""

    faults: tuple[Fault, ...] = ()
    status: int = 422
    values: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    shown: str = ""
    torn: tuple[tuple[str, str, str], ...] = ()
    text: str | None = None
    read: str = ""


@dataclass(frozen=True)
class Part:
    """A part of a file that has a form: what it shows of a document, and the edits that a filled one means.

    Both are None where the document has no such part.
    """

    path: KeyPath
    shows: Callable[[Document], Mapping[str, str] | None]
    edits: Callable[[Document, Mapping[str, str]], list[Any]]


def sent_of(form: Mapping[str, str]) -> Sent:
    """What a form says."""
    fields = {name: text for name, text in form.items() if name not in BESIDE}
    shown = form.get("shown", "")
    return Sent(fields, shown_of(shown), shown, form.get("text"), form.get("expected", ""), form.get("said", ""))


def mark_of_text(text: str) -> str:
    """A mark of what a text says, whatever line ends a browser gives it."""
    return content_hash(_LINE_END.sub("\n", text).encode(errors="surrogatepass"))


def save_both(root: Path, file: str, part: Part | None, sent: Sent) -> Refused | None:
    """Write what was changed; None where that was done, or nothing was changed."""
    try:
        if sent.changes_text:
            return _save_text(root, file, part, sent)
        return _save_fields(root, file, part, sent) if part is not None and sent.changes_fields else None
    except Faults as found:
        return _kept(sent, found.faults)


def _kept(
    sent: Sent, faults: tuple[Fault, ...], status: int = 422, torn: tuple[tuple[str, str, str], ...] = ()
) -> Refused:
    """Refused, with all that was typed."""
    text = sent.text if sent.changes_text else None
    return Refused(faults, status, sent.fields, sent.shown_text, torn, text, sent.expected)


def _save_text(root: Path, file: str, part: Part | None, sent: Sent) -> Refused | None:
    content = as_sent(root, file, sent.text or "").encode()
    if part is not None and sent.changes_fields and sent.shown is not None:
        read = document(file, decoded(file, content))
        now = part.shows(read)
        if now is None:
            return _gone(file, part, sent)
        found = merged(sent.shown, sent.fields, now)
        if found.torn:
            torn = tuple((name, sent.fields[name], now.get(name, "")) for name in found.torn)
            return _kept(sent, (), 409, torn)
        content = with_edits(file, content, part.edits(read, found.fields))
    save_text(root, file, content.decode(), sent.expected or None)
    return None


def _save_fields(root: Path, file: str, part: Part, sent: Sent) -> Refused | None:
    assert sent.shown is not None
    for attempt in range(1, MOST_TRIES + 1):
        expected = hash_of(root, file)
        try:
            read = document(file, decoded(file, read_content(root, file)) if (root / file).exists() else "")
            now = part.shows(read)
            if now is None:
                return _gone(file, part, sent)
            found = merged(sent.shown, sent.fields, now)
            if found.torn:
                torn = tuple((name, sent.fields[name], now.get(name, "")) for name in found.torn)
                return Refused((), 409, found.kept, torn=torn)
            change_file(root, file, part.edits(read, found.fields), expected)
            return None
        except Faults:
            if attempt == MOST_TRIES or hash_of(root, file) == expected:
                raise
    return None


def _gone(file: str, part: Part, sent: Sent) -> Refused:
    """The part went away; what was typed is told, for there is nothing left to compare it with."""
    shown = sent.shown or {}
    typed = tuple((name, text, "") for name, text in sent.fields.items() if text != shown.get(name, ""))
    fault = Fault(Place(file), written(part.path), "this part is not there any more", "Look at what is.")
    text = sent.text if sent.changes_text else None
    return Refused((fault,), 409, torn=typed, text=text, read=sent.expected)


def as_sent(root: Path, file: str, text: str) -> str:
    """The text with the line ends (and the mark at its beginning) that the file has; browsers send their own."""
    text = text.replace("\r\n", "\n")
    old = (root / file).read_bytes() if (root / file).is_file() else b""
    if b"\r\n" in old:
        text = text.replace("\n", "\r\n")
    return codecs.BOM_UTF8.decode() + text if old.startswith(codecs.BOM_UTF8) else text
