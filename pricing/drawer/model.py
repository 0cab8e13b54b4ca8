"""An entry of the drawer: what was weighed in or out on one occasion, line by line. Masses are in grams."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from pricing.model.base import List, Name, Note, NotNegative, Positive, Sense, StatedModel

Form = Literal["fresh", "returned", "lemel"]
What = Literal["bought", "used", "returned", "swept", "sold", "counted"]

#: The forms, in the order in which they are shown, with what each is.
FORMS: Mapping[Form, str] = MappingProxyType(
    {
        "fresh": "grain as bought",
        "returned": "clean sprues and buttons, to be melted again",
        "lemel": "filings and dust, for the refiner",
    }
)
#: What may happen to metal: in a sentence, and in which forms; the first form is meant where none is said.
WHATS: Mapping[What, tuple[str, tuple[Form, ...]]] = MappingProxyType(
    {
        "bought": ("weighed in from a supplier", ("fresh", "returned")),
        "used": ("weighed out for a pour", ("fresh", "returned")),
        "returned": ("sprue and button back from a pour", ("returned",)),
        "swept": ("filings and dust swept up", ("lemel",)),
        "sold": ("sent to the refiner", ("lemel", "returned", "fresh")),
        "counted": ("weighed in a stocktake", ("fresh", "returned", "lemel")),
    }
)
#: What money is at each; where it is not named there is none.
MONEY: Mapping[What, str] = MappingProxyType(
    {
        "bought": "paid in total",
        "swept": "what a refiner would pay for it",
        "sold": "what the refiner paid in total",
        "counted": "what had been paid for all of it, where that is not known from purchases",
    }
)


class Line(StatedModel):
    """Some metal of one alloy and form."""

    what: What = Field(description="What happened to it.")
    alloy: Name = Field(description="The alloy.")
    form: Form = Field(description="fresh, returned or lemel.")
    grams: NotNegative = Field(description="How much; in a stocktake what lies there now.")
    money: NotNegative | None = Field(
        None, description="In the currency of the entry: paid for what was bought, got for what was sold."
    )

    def senses(self) -> Iterator[Sense]:
        forms = WHATS[self.what][1]
        if self.form not in forms:
            yield Sense(("form",), f"{self.form} metal is not {self.what}", f"Say {' or '.join(forms)}.")
        if self.what == "bought" and self.money is None:
            yield Sense(("money",), "what was paid is missing", "Say what was paid in total; 0 for a gift.")
        if self.money is not None and self.what not in MONEY:
            yield Sense(("money",), f"no money changes hands where metal is {self.what}", "Leave it out.")
        if self.what != "counted" and self.grams <= 0:
            yield Sense(("grams",), "nothing was weighed", "Say how many grams.")


class Entry(StatedModel):
    """What happened on one occasion. One that corrects another takes its place; without lines it strikes it out."""

    day: date = Field(description="The day.")
    lines: List[Line] = Field((), description="What was weighed, by alloy and form.")
    currency: Name = Field(description="Of its money.")
    rate: Positive = Field(1.0, description="What one of that currency was in the workshop's on that day.")
    note: Note = Field("", description="From whom, for whom, why.")
    batch: Annotated[int, Field(ge=1)] | None = Field(None, description="The number of the batch it belongs to.")
    corrects: Annotated[int, Field(ge=1)] | None = Field(
        None, description="The number of the entry whose place this one takes."
    )

    def senses(self) -> Iterator[Sense]:
        if not self.lines and self.corrects is None:
            yield Sense(("lines",), "there is nothing in it", "Say what was weighed.")


class KeptEntry(Entry):
    """An entry as it is kept: with its number, and when it was written down."""

    number: Annotated[int, Field(ge=1)]
    recorded: str = Field(description="When it was written down, as ISO 8601.")
    form: int
    previous: str | None
