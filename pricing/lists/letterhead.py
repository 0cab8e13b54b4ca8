"""Who sends a paper: the head of price lists and quotations, from the workshop's contact."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pricing.costing import Costing
from pricing.errors import TroytagError
from pricing.reading import NotRead, read_file

#: A logo is no photograph.
MOST_LOGO_BYTES = 2_000_000


def letterhead(costing: Costing) -> tuple[dict[str, Any], dict[str, bytes]]:
    """What a paper's head says, and the logo by the name under which it speaks of it.

    Raises TroytagError where the logo cannot be read.
    """
    workshop = costing.folder.stated.workshop
    contact = workshop.contact
    reached = [contact.telephone, contact.email, contact.web]
    number = f"Tax number {contact.tax_number}" if contact.tax_number else None
    pictures: dict[str, bytes] = {}
    if contact.logo:
        pictures[f"logo{Path(contact.logo).suffix.lower()}"] = _read(costing.folder.root / contact.logo)
    return {
        "workshop": contact.name or workshop.name,
        "lines": [*contact.lines, *([number] if number else [])],
        "reached": [text for text in reached if text],
        "logo": next(iter(pictures), None),
    }, pictures


def _read(path: Path) -> bytes:
    try:
        return read_file(path, MOST_LOGO_BYTES)
    except NotRead as fault:
        raise TroytagError(f"{path.name}: {fault.problem}") from None
