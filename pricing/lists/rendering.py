"""Templates to finished bytes: HTML by jinja2, PDF by typst. Both get the same plain document and only lay it out."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import Any

from pricing.errors import TroytagError, UsageFault
from pricing.extras import missing
from pricing.resources import templates

#: Kinds of picture by the suffix of their names.
KINDS: Mapping[str, str] = MappingProxyType(
    {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".svg": "image/svg+xml"}
)
#: What the fonts inside typst can write: Latin, Greek, Cyrillic, and the signs of print and money.
BUNDLED_LETTERS = re.compile(r"[\u0000-\u052f\u1e00-\u1fff\u2000-\u22ff\u2c60-\u2c7f\ua720-\ua7ff\ufb00-\ufb06]*")


@dataclass(frozen=True)
class Paper:
    """A document that is ready to be laid out.

    `kind` names its templates (`price_list.html`, `price_list.typ`); `document` holds plain texts and lists of them;
    `pictures` are files by the names under which it speaks of them.
    """

    kind: str
    document: Mapping[str, Any]
    pictures: Mapping[str, bytes]

    def laid_out(self, suffix: str) -> bytes:
        """The bytes of an HTML (`.html`, `.htm`) or a PDF file. Raises UsageFault for another suffix."""
        check_suffix(suffix)
        if suffix.lower() == ".pdf":
            return pdf(f"{self.kind}.typ", self.document, self.pictures)
        return html(f"{self.kind}.html", self.document, self.pictures)


def check_suffix(suffix: str, known: tuple[str, ...] = (".html", ".htm", ".pdf")) -> None:
    """Raise UsageFault where a file's suffix is none of those that can be written."""
    if suffix.lower() not in known:
        raise UsageFault(f'a file ending in "{suffix}" is not written here. End its name in {" or ".join(known)}.')


def html(template: str, document: Mapping[str, Any], pictures: Mapping[str, bytes]) -> bytes:
    """One page that needs nothing beside it: every name in it escaped, every picture inside it."""
    from base64 import b64encode

    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    page = Environment(
        loader=FileSystemLoader(templates()),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    inside = {
        name: f"data:{KINDS[Path(name).suffix]};base64,{b64encode(data).decode()}" for name, data in pictures.items()
    }
    return page.get_template(template).render(document=document, pictures=inside).encode()


def pdf(template: str, document: Mapping[str, Any], files: Mapping[str, bytes]) -> bytes:
    """A PDF with its fonts in it; the same document gives the same bytes.

    `files` are pictures by the name under which the document speaks of them. Fonts of the machine are looked for only
    where a name has letters that the bundled ones lack.
    """
    try:
        import typst
    except ImportError:
        raise missing("A PDF", "typst", "pdf") from None
    data = json.dumps(document, ensure_ascii=False)
    own_fonts = BUNDLED_LETTERS.fullmatch(data) is not None
    with TemporaryDirectory(prefix="troytag-") as made:  # typst takes pictures only from files
        root = Path(made)
        for sheet in templates().glob("*.typ"):
            copyfile(sheet, root / sheet.name)
        (root / "document.json").write_text(data, encoding="utf-8")
        for name, content in files.items():
            (root / name).write_bytes(content)
        try:
            return typst.compile(root / template, root=root, ignore_system_fonts=own_fonts)
        except typst.TypstError as fault:
            blame = "This is a fault of the template, not of your data."
            raise TroytagError(f"{template}: {fault.message}. {blame}") from None
