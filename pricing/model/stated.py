"""The whole of what the maker states, and the form of each file that holds more than one thing."""

from __future__ import annotations

from pydantic import Field, RootModel

from pricing.model.alloy import Alloy
from pricing.model.base import List, Name, StatedModel
from pricing.model.channel import Channel, Ladder
from pricing.model.doubt import Doubt
from pricing.model.process import Step
from pricing.model.product import Product
from pricing.model.quote import Quote
from pricing.model.refiner import Refiner
from pricing.model.workshop import Workshop


class AlloysFile(StatedModel):
    """The whole of `alloys.toml`."""

    alloys: dict[Name, Alloy] = Field({}, description="Alloys by name.")


class ProcessesFile(StatedModel):
    """The whole of `processes.toml`."""

    processes: dict[Name, List[Step]] = Field({}, description="The steps of every process in order, by its name.")


class ChannelsFile(StatedModel):
    """The whole of `channels.toml`."""

    channels: dict[Name, Channel] = Field({}, description="Channels by name.")
    ladder: Ladder | None = Field(None, description="How prices in several channels stand to each other.")


class RefinersFile(StatedModel):
    """The whole of `refiners.toml`."""

    refiners: dict[Name, Refiner] = Field({}, description="Refiners by name.")


class DoubtsFile(RootModel[dict[Name, Doubt]]):
    """The whole of `doubts.toml`: doubts by the path of the figure."""


class Stated(StatedModel):
    """A workshop folder as its maker wrote it: nothing inherited, nothing converted."""

    workshop: Workshop = Field(description="The workshop.")
    alloys: dict[Name, Alloy] = Field({}, description="Alloys by name.")
    processes: dict[Name, tuple[Step, ...]] = Field({}, description="The steps of every process in order, by its name.")
    channels: dict[Name, Channel] = Field({}, description="Channels by name.")
    ladder: Ladder | None = Field(None, description="How prices in several channels stand to each other.")
    products: dict[Name, Product] = Field({}, description="Products by sku.")
    refiners: dict[Name, Refiner] = Field({}, description="Refiners by name.")
    quotes: tuple[Quote, ...] = Field((), description="Every quote, in the order of the file.")
    doubts: dict[Name, Doubt] = Field({}, description="How sure figures are, by their path.")
