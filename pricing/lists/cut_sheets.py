"""Sheets of things to be cut out: how many of a size fit on a page, and where each goes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from pricing.errors import UsageFault, did_you_mean

#: Width and height in mm (ISO 216; Letter is 8.5 × 11 in).
PAPERS: Mapping[str, tuple[float, float]] = MappingProxyType({"A4": (210.0, 297.0), "Letter": (215.9, 279.4)})
_STATED = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)")
#: A hair that lets 3 × 70 mm stand on 210 mm.
HAIR = 1e-6


@dataclass(frozen=True)
class Cutting:
    """How pieces of one size lie on a page; all lengths in mm."""

    page: tuple[float, float]
    size: tuple[float, float]
    gap: float
    across: int
    down: int

    @property
    def on_a_page(self) -> int:
        return self.across * self.down

    def as_document(self) -> dict[str, Any]:
        """The same for a template."""
        return {
            "page": list(self.page),
            "size": list(self.size),
            "gap": self.gap,
            "across": self.across,
            "down": self.down,
        }


def paper_size(stated: str) -> tuple[float, float]:
    """`A4`, `Letter` or `105x148` in mm. Raises UsageFault for anything else."""
    found = _STATED.fullmatch(stated.strip())
    if found:
        return float(found[1]), float(found[2])
    for name, size in PAPERS.items():
        if name.lower() == stated.strip().lower():
            return size
    raise UsageFault(f'no sheet "{stated}". {did_you_mean(stated, PAPERS)} Or state it in mm, as 105x148.')


def cutting(page: tuple[float, float], size: tuple[float, float], margin: float, gap: float) -> Cutting:
    """As many pieces of `size` as fit on `page`, in mm. Raises UsageFault where none does."""
    if min(*page, *size) <= 0 or min(margin, gap) < 0:
        raise UsageFault("sizes on a sheet are above 0 mm, margin and gap not below 0.")
    across, down = (
        int((whole - 2 * margin + gap + HAIR) // (one + gap)) for whole, one in zip(page, size, strict=True)
    )
    if across < 1 or down < 1:
        raise UsageFault(
            f"{size[0]:g} × {size[1]:g} mm does not fit on a sheet of {page[0]:g} × {page[1]:g} mm "
            f"with a margin of {margin:g} mm. Make it smaller."
        )
    return Cutting(page, size, gap, across, down)
