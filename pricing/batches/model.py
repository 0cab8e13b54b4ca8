"""A batch: the card that was filled in at the bench, and the same as it is kept in the log.

Counts are of castings, as they are cut off the tree: a pair of knobs is two. Masses are in grams as weighed.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Annotated

from pydantic import Field

from pricing.model.base import FractionBelowOne, List, Name, Note, NotNegative, Positive, Sense, StatedModel

#: Most castings of one product in one flask, most minutes of a step: far more is a slip of the pen.
MOST_PIECES, MOST_MINUTES = 100_000, 100_000
Count = Annotated[int, Field(ge=0, le=MOST_PIECES)]
Minutes = Annotated[float, Field(ge=0, le=MOST_MINUTES)]


class Pieces(StatedModel):
    """The castings of one product in a flask, from the first step that is counted to the last one that was done."""

    sku: Name = Field(description="The product, by its sku.")
    size: Name | None = Field(None, description="Its size, where it comes in sizes.")
    started: Count = Field(description="Castings begun with: as a rule those on the tree.")
    good: Count = Field(description="Castings that came out right.")
    rejected: dict[Name, Count] = Field({}, description="Castings spoiled, by the step at which it was seen.")
    since: Name | None = Field(
        None, description="The first step that is counted; left out: the pour. State it where earlier rejects are told."
    )
    up_to: Name | None = Field(None, description="The last step that was done so far; left out: all of them.")
    castings_g: Positive | None = Field(None, description="What the good castings of this product weighed, as cast.")
    finished_g: Positive | None = Field(None, description="What its good pieces weighed when they were finished.")
    minutes: dict[Name, Minutes] = Field({}, description="Attended minutes of a step spent on these castings alone.")

    def senses(self) -> Iterator[Sense]:
        if self.started < 1:
            yield Sense(("started",), "nothing was begun with", "Leave the product out, or write how many.")
        told = self.good + sum(self.rejected.values())
        if told != self.started:
            problem = f"{self.started} were started, and good and rejected add up to {told}"
            yield Sense(("started",), problem, "Say of every casting what became of it.")


class Flask(StatedModel):
    """One flask and the melt that was poured into it. charge = castings + back + rejects + what is missing."""

    alloy: Name = Field(description="The alloy that was poured.")
    fresh_g: NotNegative = Field(0.0, description="Fresh metal weighed into the crucible.")
    returned_g: NotNegative = Field(0.0, description="Returned metal (clean sprue, button) weighed into it.")
    back_g: NotNegative = Field(description="Button and sprues that came back.")
    castings_g: NotNegative = Field(description="The good castings, cut off and weighed as cast.")
    rejected_g: NotNegative = Field(0.0, description="Spoiled castings that can be melted again.")
    lemel_g: NotNegative = Field(0.0, description="Filings and dust of its castings, swept up.")
    pieces: List[Pieces] = Field((), description="What was in it, a line for each product.")

    @property
    def charge_g(self) -> float:
        """What went into the crucible, in grams."""
        return self.fresh_g + self.returned_g

    def senses(self) -> Iterator[Sense]:
        if self.charge_g <= 0:
            yield Sense(("fresh_g",), "no metal was weighed in", "Write fresh_g, returned_g, or both.")
        seen = [(each.sku, each.size) for each in self.pieces]
        for place, each in enumerate(seen):
            if each in seen[:place]:
                yield Sense(("pieces", place, "sku"), f'"{each[0]}" is in this flask twice', "Add the two lines up.")


class Card(StatedModel):
    """A filled card: one pour, of a flask or several."""

    day: date = Field(description="The day of the pour.")
    flasks: List[Flask] = Field((), description="The flasks, each with its metal and its castings.")
    minutes: dict[Name, Minutes] = Field({}, description="Attended minutes of a step, of all castings together.")
    note: Note = Field("", description="What else there is to say.")
    corrects: Annotated[int, Field(ge=1)] | None = Field(
        None, description="The number of the batch whose place this one takes; without flasks it is struck out."
    )

    def senses(self) -> Iterator[Sense]:
        if not self.flasks and self.corrects is None:
            yield Sense(("flasks",), "there is no flask in it", "Write at least one.")


class Metal(StatedModel):
    """What a gram of an alloy cost on the day of the pour, and what was believed to be lost of it."""

    buy_price_per_g: NotNegative | None = Field(
        None, description="A gram of fresh grain on that day, in the currency of the workshop; None: no quote."
    )
    lemel_price_per_g: NotNegative | None = Field(
        None, description="What a refiner paid for a gram of filings of it on that day; None: no quote."
    )
    melt_loss: FractionBelowOne = Field(description="Share of a charge that was expected to be lost in melting.")


class Batch(Card):
    """A card as it is kept: with its number, when it was written down, and what the metal cost on its day."""

    number: Annotated[int, Field(ge=1)]
    recorded: str = Field(description="When it was written down, as ISO 8601.")
    currency: Name = Field(description="The currency of its prices: the workshop's.")
    metal: dict[Name, Metal] = Field({}, description="By alloy.")
    drew: bool | None = Field(None, description="Whether an entry of the drawer was written with it; None: not kept.")
    form: int
    previous: str | None

    @property
    def alloys(self) -> tuple[str, ...]:
        """The alloys that were poured, each once."""
        return tuple(dict.fromkeys(flask.alloy for flask in self.flasks))
