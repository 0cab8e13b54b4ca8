"""A piece in an alloy: its castings, what is joined to it, its sizes."""

from __future__ import annotations

from typing import ClassVar

from pricing.model.given import Row, given, leads_to, word
from pricing.model.rows.selling import PriceRow
from pricing.model.rows.steps import StepRow


class CastingRow(Row, at="products.*.castings.*", group="design"):
    table: ClassVar[str] = "casting"
    name: str = word("name")
    in_alloy: str | None = leads_to("alloy")
    casting_count: float = given("1", "How many of it are in a set.", at="count")
    volume_cm3: float | None = given(
        "cm3",
        "Volume as drawn or measured from a mesh.",
        measure="Weigh a raw casting before it is worked: its grams by the density of the alloy.",
    )
    model_g: float | None = given(
        "g", "Mass of a weighed wax or resin model.", measure="Weigh ten models together, by ten."
    )
    model_density: float = given(
        "g/cm3",
        "Density of that model.",
        1.0,
        measure="Weigh a model that is measured, or hang one in water with a weight: grams by what it loses.",
    )
    metal_g: float | None = given(
        "g", "Mass of a weighed piece of metal.", measure="Weigh five pieces together, by five."
    )
    weighed_finished: bool = given(
        "switch", "Whether the piece was weighed when finished.", at="weighed", says="finished"
    )
    area_cm2: float = given(
        "cm2",
        "Surface as drawn or measured from a mesh.",
        measure="Wrap one in foil without folds, weigh the foil, and weigh 100 cm2 of the same foil.",
    )
    effort: float = given(
        "1",
        "Its minutes against those of a step per piece.",
        1.0,
        measure="Time this casting and the usual one at the step that takes longest.",
    )


class FindingRow(Row, at="products.*.findings.*", group="findings"):
    table: ClassVar[str] = "finding"
    name: str = word("name")
    finding_alloy: str | None = leads_to("alloy", at="alloy")
    finding_quantity: float = given("1", "How many of it go on a set.", at="quantity")
    finding_price: float = given(
        "cur",
        "Price of one, without its metal where that is stated.",
        at="price",
        measure="Read it off the last invoice.",
    )
    finding_metal_g: float = given(
        "g",
        "Metal in one that is paid by weight.",
        at="metal_g",
        needs="finding_alloy",
        measure="Weigh ten together, by ten.",
    )
    finding_premium: float = given(
        "1",
        "Premium of the finding over the melt value of its metal.",
        at="premium",
        needs="finding_alloy",
        measure="Take the last invoice: what was paid by the melt value of its metal on that day, less 1.",
    )
    finding_other_g: float = given("g", "What of one is no metal.", at="other_g", measure="Weigh ten together, by ten.")
    spoil: float = given(
        "1",
        "Spoiled or lost, as a fraction on top.",
        measure="Count them out before the next twenty pieces, and count what is left.",
    )


class LinkRow(Row, at="products.*.findings.*", group="findings"):
    """One finding on the way from a whole down to the part that a variant is."""

    table: ClassVar[str] = "link"
    name: str
    link_quantity: float = given("1", "How many of the part go into one of what it is joined to.", 1.0, at="quantity")
    link_spoil: float = given(
        "1",
        "Spoiled when they are joined, as a fraction on top.",
        at="spoil",
        measure="Count them out before the next twenty pieces, and count what is left.",
    )


class PartRow(Row, at=None, group="findings"):
    """A piece of the maker's own in a set, or in a piece that is in it, at any depth."""

    table: ClassVar[str] = "part"
    name: str
    piece: str = leads_to("variant", at=None)
    is_joined: bool = given("switch", "Whether the piece is there.", at=None)
    depth: int


class SizeRow(Row, at=None, group="design"):
    table: ClassVar[str] = "size"
    name: str
    inner_mm: float = given("mm", "Inner circumference of the size, or its stated length.", at=None)
    size_sales: float = given(
        "1",
        "How much of it is sold, relative to the other sizes.",
        at=None,
        typed=True,
        bounds=(0, None),
        measure="Count the sizes in the last thirty orders.",
    )


class VariantRow(Row, at="products.*", group="design"):
    table: ClassVar[str] = "variant"
    sku: str = word("sku")
    alloy: str = leads_to("alloy", at=None)
    size: str | None = None
    of: str = ""
    path: tuple[str, ...] = ()
    flask: str | None = leads_to("flask")
    is_cut: bool = given("switch", "Whether the piece is cut from sheet, wire or rod.", at=None)
    is_bought: bool = given("switch", "Whether the castings are bought from a casting house.", at=None)
    sprue_ratio: float = given(
        "1",
        "Sprues and runners per gram of castings (offcut per gram of a cut piece).",
        required="Add gram of sprues and runners per gram of castings.",
        measure="Weigh what is left of one cut tree by its castings; of sheet or wire, the offcut by the pieces.",
    )
    pieces_per_flask: float = given(
        "1", "Castings on one tree.", 1.0, needs="flask", measure="Count the castings of the next full tree."
    )
    expected_sales: float = given(
        "1",
        "Sets over the design's life, all alloys together.",
        1.0,
        needs="steps.is_design",
        measure="Count what sold in the last year, times the years that it will still be made.",
    )
    shrinkage: float = given(
        "1",
        "Linear shrinkage from pattern to metal.",
        measure="Measure one length of a model and of its casting: the difference by the model's.",
    )
    scale: float = given("1", "Linear scale of the pattern.", 1.0)
    band_mm: float = given(
        "mm",
        "Thickness of the band of what is made in sizes.",
        at="sizes.band_mm",
        needs="master_inner_mm",
        measure="Measure it with a caliper.",
    )
    band_share: float = given(
        "1",
        "Share of volume and surface that grows with the size.",
        1.0,
        at="sizes.band_share",
        needs="master_inner_mm",
        measure="Weigh the smallest and the largest size, and see how far the mass goes with the length.",
    )
    master_inner_mm: float = given("mm", "Inner circumference at which the pattern is drawn; 0 without sizes.", at=None)
    sizes: tuple[SizeRow, ...]
    links: tuple[LinkRow, ...]
    parts: tuple[PartRow, ...]
    castings: tuple[CastingRow, ...]
    findings: tuple[FindingRow, ...]
    steps: tuple[StepRow, ...]
    prices: tuple[PriceRow, ...]

    @property
    def product(self) -> str:
        """The sku of the product that states it; one of several sizes that are each priced has a sku of its own."""
        sized = self.size is not None and (not self.of or bool(self.links))
        return self.sku.removesuffix(f"-{self.size}") if sized else self.sku

    @property
    def takes(self) -> str:
        """How its own metal comes in: `cast`, `cut` from sheet, wire or rod, or `bought` from a casting house."""
        return "cut" if self.is_cut else "bought" if self.is_bought else "cast"

    @property
    def sold_places(self) -> tuple[int, ...]:
        """Places of the channels in which it is sold."""
        return tuple(place for place, price in enumerate(self.prices) if price.sold)

    @property
    def sold_in(self) -> tuple[str, ...]:
        """Names of the channels in which it is sold."""
        return tuple(self.prices[place].channel for place in self.sold_places)

    @property
    def called(self) -> str:
        """What other rows know it by: no two variants have the same."""
        return "\n".join((self.sku, self.alloy, *self.path))
