"""The workshop: whose hours, whose machines, what overhead, materials and flasks (`workshop.toml`)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticKnownError

from pricing.model.base import (
    Fraction,
    FractionAboveZero,
    List,
    Name,
    NotNegative,
    Positive,
    Sense,
    StatedModel,
    Surcharge,
)
from pricing.model.currency import Currency, minor_unit_digits
from pricing.model.source import Source

__all__ = [
    "Contact", "Currency", "Energy", "Flask", "Machine", "Material", "Overhead", "Role", "Show", "Week", "Workshop",
    "minor_unit_digits",
]  # fmt: skip

MONTHS_IN_A_YEAR = 12
#: Most weeks that a year has (ISO 8601).
MOST_WEEKS = 53


class Show(StatedModel):
    """How people see figures; files and JSON stay in gram, millimetre and degrees Celsius."""

    mass: Literal["g", "dwt", "ozt"] = Field("g", description="Unit in which masses are shown.")
    length: Literal["mm", "in"] = Field("mm", description="Unit in which lengths are shown.")
    temperature: Literal["C", "F"] = Field("C", description="Degrees in which temperatures are shown.")


#: What a logo's file may end in.
LOGO_ENDINGS = (".svg", ".png", ".jpg", ".jpeg")


class Contact(StatedModel):
    """Who sends price lists and quotations, as it stands at their head."""

    name: Name | None = Field(None, description="Name at the head of papers; without it the workshop's.")
    lines: List[Name] = Field((), description="Lines of the address.")
    email: Name | None = Field(None, description="Address for e-mail.")
    telephone: Name | None = Field(None, description="Telephone number.")
    web: Name | None = Field(None, description="Address of the web site.")
    logo: Name | None = Field(None, description="File of the logo (svg, png or jpeg), relative to the folder.")
    tax_number: Name | None = Field(None, description="Tax number, where one must stand on papers.")


class Role(StatedModel):
    """Someone's hour."""

    rate: NotNegative = Field(description="Pay for one attended hour, in the workshop's currency.")
    on_cost: Surcharge = Field(0.0, description="On top of the rate (insurance, pension), as a fraction.")
    own: bool = Field(
        True, description="Whether it is the maker's own hour; false is hired help, whose hours are no earnings."
    )


class Overhead(StatedModel):
    """What the workshop costs whether or not anything is made."""

    per_month: NotNegative = Field(description="Rent, insurance and the like for a month, in the currency.")
    productive_hours: Positive = Field(description="Attended hours in a month over which the overhead is spread.")


class Week(StatedModel):
    """A normal week as it really goes, against which the other figures may be held; no cost is made of it.

    The hours of such a week stand in [overhead]: `Workshop.hours_a_week`.
    """

    weeks_a_year: Annotated[float, Field(gt=0, le=MOST_WEEKS)] = Field(
        46.0, description="Weeks of a year that are worked; a month's productive_hours are spread over them."
    )
    flasks: NotNegative | None = Field(None, description="Flasks poured in such a week.")
    pieces: NotNegative | None = Field(None, description="Pieces (castings, not sets) begun in such a week.")
    pieces_good: FractionAboveZero | None = Field(
        None, description="Fraction of them that can be sold in the end, all failures on the way counted."
    )


class Energy(StatedModel):
    """What energy costs."""

    price_per_kwh: NotNegative = Field(description="Price of one kilowatt-hour, in the workshop's currency.")


class Machine(StatedModel):
    """A machine whose hours are charged."""

    purchase: NotNegative = Field(description="What it cost to buy, in the workshop's currency.")
    residual: NotNegative = Field(0.0, description="What it will still fetch at the end of its life, in the currency.")
    life_hours: Positive = Field(description="Running hours in its life, in hours.")
    maintenance_per_hour: NotNegative = Field(0.0, description="Upkeep for one running hour, in the currency.")
    power_kw: NotNegative = Field(0.0, description="Rated power, in kilowatts.")
    duty: Fraction = Field(1.0, description="Mean share of the rated power that is drawn, as a fraction.")
    crucible_cm3: Positive | None = Field(
        None, description="Molten metal that its crucible safely takes, in cm3 (millilitres of water to its mark)."
    )

    def senses(self) -> Iterator[Sense]:
        if self.residual > self.purchase:
            yield Sense(
                ("residual",),
                f"{self.residual:g} is more than the machine cost ({self.purchase:g})",
                "State what it will fetch at the end of its life, at most its purchase.",
            )


class Material(StatedModel):
    """Something bought by the pack and used up."""

    pack_price: NotNegative = Field(description="Price of one pack, in the workshop's currency.")
    pack_size: Positive = Field(description="What is in one pack, in `unit`.")
    unit: Name = Field(description="What the pack is counted in, such as g, ml or piece.")
    waste: Surcharge = Field(0.0, description="What is bought but never used, as a fraction of what is used.")


class Flask(StatedModel):
    """A flask that is filled with investment."""

    diameter_mm: Positive = Field(description="Inner diameter, in millimetres.")
    height_mm: Positive = Field(description="Height of the investment, in millimetres.")
    material: Name = Field(description="Name of the material that is the investment powder.")
    water_per_100: NotNegative | None = Field(
        None, description="Water by weight for 100 of powder. Required where powder_g is not stated."
    )
    slurry_density: Positive | None = Field(
        None, description="Density of the mixed investment, in g/cm3. Required where powder_g is not stated."
    )
    button_cm3: NotNegative = Field(0.0, description="Volume of the button that is cast with every flask, in cm3.")
    powder_g: Positive | None = Field(
        None, description="Weighed powder for one flask, in gram; it replaces the computed figure."
    )

    def senses(self) -> Iterator[Sense]:
        if self.powder_g is None:
            for key in ("water_per_100", "slurry_density"):
                if getattr(self, key) is None:
                    yield Sense(
                        (), f"{key} is missing, and no weighed powder_g takes its place", f"Add {key} or powder_g."
                    )


def _not_true(value: Any) -> Any:
    """To Python, true equals 1; to a maker it does not."""
    if isinstance(value, bool):
        raise PydanticKnownError("literal_error", {"expected": "1"})
    return value


class Workshop(StatedModel):
    """The whole of `workshop.toml`."""

    model_config = ConfigDict(validate_by_name=True, validate_by_alias=True)

    schema_version: Annotated[Literal[1], BeforeValidator(_not_true)] = Field(
        1, alias="schema", description="Version of the folder's form; there is only 1."
    )
    name: Name = Field(description="Name of the workshop.")
    currency: Currency = Field(description="ISO 4217 code of the currency in which the workshop counts.")
    stale_after_days: NotNegative = Field(7.0, description="Days after which a metal quote is called old.")
    max_return_share: Fraction = Field(
        0.5, description="Most of a charge that may be returned metal, as a fraction, for alloys that state none."
    )
    unreclaimed_tax: Surcharge = Field(0.0, description="Purchase tax that cannot be claimed back, a fraction.")
    show: Show = Field(Show(), description="How people see figures.")
    contact: Contact = Field(Contact(), description="Who sends price lists and quotations.")
    labour: dict[Name, Role] = Field({}, description="Whose hours there are, by the name of the role.")
    overhead: Overhead = Field(description="What the workshop costs in a month.")
    week: Week | None = Field(None, description="A normal week, to hold the other figures against.")
    energy: Energy | None = Field(None, description="What energy costs. Required where there are machines.")
    machines: dict[Name, Machine] = Field({}, description="Machines by name.")
    materials: dict[Name, Material] = Field({}, description="Materials by name.")
    flasks: dict[Name, Flask] = Field({}, description="Flasks by name.")
    sources: dict[Name, Source] = Field({}, description="Where metal prices may be pulled from, by name.")

    @property
    def hours_a_week(self) -> float:
        """Attended hours of a week that is worked: a year's productive hours over its worked weeks."""
        return self.overhead.productive_hours * MONTHS_IN_A_YEAR / (self.week or Week()).weeks_a_year

    def senses(self) -> Iterator[Sense]:
        if self.machines and self.energy is None:
            yield Sense((), "energy is missing, and there are machines", "Add [energy] with price_per_kwh.")
        for name, source in self.sources.items():
            if source.per == "unit" and source.currency != self.currency:
                yield Sense(
                    ("sources", name, "currency"),
                    f"an exchange rate is told in {source.currency}, the workshop counts in {self.currency}",
                    f"Say what one {source.metal} costs in {self.currency}.",
                )
