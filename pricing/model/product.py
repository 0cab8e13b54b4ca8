"""A product: what is sold, of which castings and findings, and its own figures (`products/*.toml`).

Everything but sku and name may be left out, because a product with `like` states only what differs;
what must stand in the end is asked once `like` is applied.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field

from pricing.model.base import (
    AtLeastOne,
    Fraction,
    FractionBelowOne,
    Item,
    List,
    Name,
    Names,
    NamesOrNone,
    NotNegative,
    Positive,
    Sense,
    StatedModel,
    Surcharge,
    own_figures,
)
from pricing.model.channel import Policy
from pricing.model.process import StepFigures
from pricing.model.sizes import Sizes

#: A figure of a product that may differ from alloy to alloy.
BY_ALLOY = "by alloy"
ByAlloy = Annotated[Item, BY_ALLOY]
VolumeKey = Literal["volume_cm3", "mesh", "model_g", "metal_g"]
#: The ways of stating a casting's volume, and the keys that each needs.
VOLUME_KEYS: tuple[tuple[VolumeKey, *tuple[str, ...]], ...] = (
    ("volume_cm3",),
    ("mesh",),
    ("model_g", "model_density"),
    ("metal_g", "in_alloy", "weighed"),
)
_OF_VOLUME = frozenset(key for keys in VOLUME_KEYS for key in keys)


class Casting(StatedModel):
    """One casting of a set, or several alike; its volume is stated in exactly one way."""

    name: Name = Field(title="Called", description="Name of the casting.")
    count: Annotated[int, Field(ge=1, le=10_000)] = Field(
        title="How many in one set", description="How many there are in one set."
    )
    volume_cm3: Positive | None = Field(None, title="Volume", description="Volume of the pattern, in cm3.")
    mesh: Name | None = Field(None, title="Mesh", description="File of the pattern's mesh, relative to the folder.")
    model_g: Positive | None = Field(
        None, title="The model weighs", description="Weight of a wax or resin model, in gram."
    )
    model_density: Positive | None = Field(
        None, title="Density of the model", description="Density of that model, in g/cm3."
    )
    metal_g: Positive | None = Field(None, title="The piece weighs", description="Weight of a piece in metal, in gram.")
    in_alloy: Name | None = Field(None, title="in", description="Alloy of the piece that was weighed.")
    weighed: Literal["as-cast", "finished"] | None = Field(
        None, title="weighed", description="State in which that piece was weighed."
    )
    area_cm2: Positive | None = Field(
        None, title="Surface, where a step needs it", description="Surface of the pattern, in cm2."
    )
    effort: NotNegative = Field(
        1.0,
        title="Its minutes against a step's, 1 if left empty",
        description="Its minutes against those of a step per piece.",
    )

    @property
    def kind(self) -> VolumeKey:
        """Which way states the volume, by its first key."""
        return next(keys[0] for keys in VOLUME_KEYS if getattr(self, keys[0]) is not None)

    def senses(self) -> Iterator[Sense]:
        known = _OF_VOLUME & self.__pydantic_fields_set__
        if len(known) == 1 and (self.volume_cm3 is not None or self.mesh is not None):  # as nearly all are
            return
        stated = [[key for key in keys if getattr(self, key) is not None] for keys in VOLUME_KEYS]
        ways = "volume_cm3, mesh, model_g with model_density, or metal_g with in_alloy and weighed"
        begun = [keys for keys in stated if keys]
        if not begun:
            yield Sense((), "its volume is missing", f"Add one of {ways}.")
        elif len(begun) > 1:
            yield Sense((begun[1][0],), f"stands beside {begun[0][0]}", f"State the volume one way: {ways}.")
        else:
            (way,) = (keys for keys, found in zip(VOLUME_KEYS, stated, strict=True) if found)
            for key in way:
                if key not in begun[0]:
                    yield Sense((begun[0][0],), f"{key} is missing beside it", f"Add {key}.")


class Finding(StatedModel):
    """Something bought ready-made that goes into a set, or a piece of the maker's own."""

    name: Name | None = Field(
        None, title="Called", description="Name of the finding; required unless it is a product of the maker's."
    )
    product: Name | None = Field(
        None,
        title="Piece of your own, by its sku",
        description="A piece of the maker's own, by its sku (sku-size if each priced).",
    )
    quantity: Positive = Field(title="How many", description="How many go into one set.")
    price: NotNegative = Field(
        0.0, title="Price of one", description="Price of one, without its metal, in the workshop's currency."
    )
    metal_g: NotNegative = Field(
        0.0, title="Metal in one", description="Metal in one that is charged by weight, in gram."
    )
    alloy: Name | None = Field(
        None,
        title="Of that metal",
        description="Alloy of that metal, required where metal_g stands; of an own piece, without it the product's.",
    )
    premium: Surcharge = Field(
        0.0,
        title="Premium over its melt value, a fraction",
        description="Of the finding over the melt value of its metal, as a fraction.",
    )
    other_g: NotNegative = Field(
        0.0, title="Stone and the like in one", description="What of one is no metal (a stone), in gram."
    )
    spoil: Fraction = Field(0.0, title="Spoiled, a fraction", description="Fraction that is spoiled when it is set.")
    alloys: Names | None = Field(None, description="Alloys of the product with which it is used; without it with all.")

    @property
    def title(self) -> str:
        """Its name, or the sku of the maker's own piece that it is."""
        return self.name or self.product or ""

    def senses(self) -> Iterator[Sense]:
        if self.product is not None:
            for key in ("price", "metal_g", "other_g", "premium"):
                if key in self.model_fields_set:
                    mend = "Leave it out, or name what is bought by name = instead of product =."
                    yield Sense((key,), "an own piece brings its cost and its metal along", mend)
            return
        if self.name is None:
            yield Sense((), "name is missing", "Add name =, or product = for a piece of your own.")
        if self.metal_g and self.alloy is None:
            yield Sense(("metal_g",), "alloy is missing beside it", "Add alloy = with the name of its alloy.")
        if self.alloy is not None and "metal_g" not in self.model_fields_set:
            yield Sense(
                ("alloy",),
                "metal_g is missing beside it",
                "Add metal_g, or write alloys = for where it is used.",
            )


class OwnInChannel(StatedModel):
    """A product's own figures in one channel."""

    policy: Policy | None = Field(None, description="What is asked of its price there.")
    least_price: NotNegative | None = Field(None, description="Its least list price there, in the channel's currency.")
    units_per_order: AtLeastOne | None = Field(None, description="Its sets in a usual order there.")


class Product(StatedModel):
    """One thing that is sold; None is what was not stated."""

    sku: Name = Field(title="Sku, its name in the books", description="Its name in the books, once in the workshop.")
    name: Name = Field(title="Name, as customers read it", description="Name as customers read it.")
    like: Name | None = Field(None, description="Product from which is taken whatever is not stated here.")
    scale: Positive = Field(1.0, description="Linear scale of the patterns; not taken from `like`.")
    sold_as: Literal["each", "pair", "set"] | None = Field(
        None, title="Sold as", description='How it is sold; without it "each".'
    )
    collection: Name | None = Field(None, title="Collection", description="Collection, for price lists.")
    alloys: Names | None = Field(None, description="Alloys in which it is made.")
    process: Name | None = Field(None, title="Process", description="Process by which it is made.")
    flask: ByAlloy[Name | None] = Field(
        None, title="Flask", description="Name of the flask; required where a step is per flask."
    )
    pieces_per_flask: ByAlloy[AtLeastOne | None] = Field(
        None, title="Castings in a flask", description="Castings in a flask; required where a step is per flask."
    )
    tree_mm: ByAlloy[Positive | None] = Field(
        None,
        title="Height of a full tree",
        description="Height of a full tree of it, in millimetres; a pour is planned within its flask's height.",
    )
    sprue_ratio: ByAlloy[NotNegative | None] = Field(
        None,
        title="Sprues per gram of castings",
        description="Gram of sprues and runners (or of offcut) per gram of castings; may exceed 1.",
    )
    expected_sales: ByAlloy[Positive | None] = Field(
        None,
        title="Sets sold over its life",
        description="Sets over the design's life, all alloys together; required where a step is per design.",
    )
    shrinkage: ByAlloy[FractionBelowOne | None] = Field(
        None,
        title="Shrinkage, a fraction",
        description="Linear shrinkage from pattern to casting, as a fraction; without it 0.",
    )
    castings: List[Casting] | None = Field(
        None, description="Castings of one set; none for a thing that is joined of own pieces."
    )
    findings: List[Finding] | None = Field(None, description="Findings of one set.")
    photo: Name | None = Field(None, description="File of its picture, relative to the folder.")
    sold_in: ByAlloy[NamesOrNone | None] = Field(
        None,
        title="Sold in",
        description="Channels in which it is sold; without it in all, none for what is only ever a part.",
    )
    steps: ByAlloy[dict[Name, StepFigures]] = Field(
        default_factory=dict, description="Own figures for steps of the process, by the step's name."
    )
    for_alloy: dict[Name, OwnInAlloy] = Field(
        default_factory=dict, description="Own figures in one alloy, by its name, applied last."
    )
    in_channel: ByAlloy[dict[Name, OwnInChannel]] = Field(
        default_factory=dict, description="Own figures in channels, by the channel's name."
    )
    sizes: Sizes | None = Field(None, title="Sizes", description="Sizes that it is made in: a ring and the like.")

    def senses(self) -> Iterator[Sense]:
        if self.like is not None and self.like == self.sku:
            yield Sense(("like",), "a product cannot be like itself", "Name another product, or leave it out.")


def sold_together(product: Product) -> str:
    """`pair` or `set` where the product is sold so and its name does not say it as a word of its own, else nothing."""
    word = product.sold_as or "each"
    said = re.search(rf"\b{word}s?\b", product.name, re.IGNORECASE)
    return "" if word == "each" or said else word


def _by_alloy() -> list[str]:
    return [key for key, info in Product.model_fields.items() if BY_ALLOY in info.metadata]


class OwnInAlloy(own_figures(Product, _by_alloy(), OwnInAlloy=Any)):  # type: ignore[misc]  # a base made here
    """A product's own figures in one alloy, applied last."""


Product.model_rebuild()
