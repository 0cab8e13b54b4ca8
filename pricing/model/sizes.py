"""The sizes that a ring, a bracelet or the like is made in, and how long each is (`[sizes]` of a product).

A size is an inner circumference C in mm. ISO 8653 names a ring by C itself. US sizes: published charts put size 0 at
0.458 inch across and every size 0.032 inch further, so C = π × (11.63 + 0.8128 × size). UK sizes go by the steps of
BS 6820: C = 36.25 + 1.25 × n with A = 1, so that C is 40 mm; common charts, made from half US sizes, differ by up to
0.6 mm, and the standard's steps are the ones taken here.
"""

from __future__ import annotations

import math
import re
from typing import Literal

from pydantic import Field

from pricing.model.base import Fraction, Name, Names, NotNegative, Positive, StatedModel

#: US charts: diameter of size 0 and what each size adds, in mm (0.458 and 0.032 inch).
US_ZERO_MM, US_STEP_MM = 11.63, 0.8128
#: BS 6820: circumference before the first letter and what each letter adds, in mm.
UK_ZERO_MM, UK_STEP_MM = 36.25, 1.25
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

_UK = re.compile(r"([A-Z])(?:\+(\d{1,2}))?(½)?")
_NUMBER = re.compile(r"\d{1,3}(\.\d{1,3})?")

Standard = Literal["iso", "us", "uk"]


class Sizes(StatedModel):
    """Sizes of a product; whatever is left open may be taken from the product that it is like."""

    standard: Standard | None = Field(
        None,
        title="Named by",
        description="By what sizes are named: iso (circumference in mm, ISO 8653), us or uk (BS 6820).",
    )
    lengths: dict[Name, Positive] | None = Field(
        None, description="Length of each size in mm, for what is no ring; in place of standard and band_mm."
    )
    size_list: Names | None = Field(
        None,
        alias="list",
        description='Sizes that are made, as text: "6.5", "L½"; with lengths, without it their names.',
    )
    master: Name | None = Field(
        None, title="Size that was drawn", description="Size at which the pattern is drawn; it need not be in the list."
    )
    band_mm: NotNegative | None = Field(
        None, title="Thickness of the band", description="Thickness of the band, in mm; not with lengths."
    )
    band_share: Fraction | None = Field(
        None,
        title="Share that grows with it, 1 if left empty",
        description="Share of volume and surface that lies in the band and grows with it; without it 1.",
    )
    sales: dict[Name, NotNegative] | None = Field(
        None, description="How much each size sells, relative to the others; without it 1."
    )
    each_priced: bool | None = Field(
        None,
        title="every size has a price of its own",
        description="Whether every size has a price of its own; without it one price holds for all.",
    )

    model_config = {"validate_by_name": True, "validate_by_alias": True}

    @property
    def made(self) -> tuple[str, ...]:
        """The sizes that are made."""
        return self.size_list or tuple(self.lengths or ())

    def inner_mm(self, size: str) -> float | None:
        """Inner circumference of a size in mm (a stated length as it is); None where there is no such size."""
        if self.lengths is not None:
            length = self.lengths.get(size)
            return None if length is None else float(length)
        return None if self.standard is None else circumference_mm(self.standard, size)

    def weight(self, size: str) -> float:
        """How much a size sells, relative to the others."""
        return float((self.sales or {}).get(size, 1.0))


def circumference_mm(standard: Standard, size: str) -> float | None:
    """Inner circumference in mm of a size by its name; None for what is no size of this standard."""
    if standard == "uk":
        found = _UK.fullmatch(size)
        if found is None or (found[2] and found[1] != "Z"):
            return None
        place = LETTERS.index(found[1]) + 1 + int(found[2] or 0) + (0.5 if found[3] else 0)
        return UK_ZERO_MM + UK_STEP_MM * place
    if not _NUMBER.fullmatch(size):
        return None
    number = float(size)
    if standard == "iso":
        return number if number > 0 else None
    return math.pi * (US_ZERO_MM + US_STEP_MM * number)
