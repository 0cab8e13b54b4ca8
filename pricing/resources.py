"""Where the folders that ship with the package lie.

A wheel holds them inside the package; in a checkout, an unpacked source archive and an editable
installation they stand beside it.
"""

from __future__ import annotations

from pathlib import Path

from pricing.errors import TroytagError


def templates() -> Path:
    """The folder of every template: page, price list, job card. Raises TroytagError where it is missing."""
    return _shipped("templates")


def sample_catalog() -> Path:
    """The sample workshop folder, to be copied before anything is written. Raises TroytagError where it is missing."""
    return _shipped("sample_catalog")


def _shipped(folder: str) -> Path:
    package = Path(__file__).absolute().parent
    for place in (package, package.parent):
        if (place / folder).is_dir():
            return place / folder
    raise TroytagError(f"{package}: the folder {folder} that belongs here is missing. Install troytag again.")
