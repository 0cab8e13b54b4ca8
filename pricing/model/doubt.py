"""How sure a figure is (`doubts.toml`)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from pricing.model.base import Number, Sense, StatedModel


class Doubt(StatedModel):
    """The range in which a figure lies nine times out of ten, in the figure's own unit."""

    low: Number = Field(description="The 5 % point: one time in twenty the figure is lower.")
    high: Number = Field(description="The 95 % point: one time in twenty the figure is higher.")

    batch: Annotated[int, Field(ge=1)] | None = Field(
        None, description="Number of the last batch of the log that it was learned from; later ones are not in it yet."
    )

    def senses(self) -> Iterator[Sense]:
        if self.high <= self.low:
            yield Sense(("high",), f"{self.high:g} is not above low, {self.low:g}", "Exchange them, or correct one.")
