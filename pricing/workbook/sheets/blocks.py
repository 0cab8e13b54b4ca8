"""Which blocks there are, in which order, and which of their columns people look for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pricing.records import COST_LINES, STEP_QUANTITIES


@dataclass(frozen=True)
class Spec:
    """A block to be: its sheet, table and title, and which kinds of columns it takes, in order."""

    sheet: str
    table: str
    title: str
    kinds: tuple[str, ...] = ("label", "input", "result", "spelled", "was", "after", "working")


#: Blocks in the order in which they stand on their sheets.
SPECS: tuple[Spec, ...] = (
    Spec("Inputs", "metal", "Metal prices"),
    Spec("Inputs", "currency", "Exchange rates"),
    Spec("Inputs", "role", "Hours"),
    Spec("Inputs", "workshop", "The workshop"),
    Spec("Inputs", "alloy", "Alloys: what is paid on top, what scrap brings", ("label", "input")),
    Spec("Inputs", "alloy", "Alloys: what a gram costs and brings", ("label", "result")),
    Spec("Inputs", "alloy", "Alloys: where their figures come from", ("label", "after")),
    Spec("Inputs", "content", "Alloys: what they are worth by"),
    Spec("Inputs", "machine", "Machines"),
    Spec("Inputs", "material", "Materials"),
    Spec("Inputs", "flask", "Flasks"),
    Spec("Parts", "variant", "Each product in each alloy"),
    Spec("Parts", "link", "Pieces of your own in others: how many go into one"),
    Spec("Parts", "size", "Sizes"),
    Spec("Parts", "casting", "Castings"),
    Spec("Parts", "finding", "Findings"),
    Spec("Parts", "use", "Materials that steps use up"),
    Spec("Steps", "step", "Every step of every product in each alloy"),
    Spec("Costs", "variant", "What a set costs"),
    Spec("Costs", "part", "What of a set its pieces of your own come to", ("label", "result", "working")),
    Spec("Channels", "channel", "Channels"),
    Spec("Channels", "fee", "Selling fees, per set"),
    Spec("Channels", "price_step", "Rounding: prices go up in steps"),
    Spec("Channels", "postage_tier", "Postage by the mass of the order"),
    Spec(
        "Prices", "price", "What to ask in each channel, and what it brings",
        ("label", "sure", "result", "spelled", "input", "working"),
    ),
    Spec("Prices", "price_fee", "What each selling fee is for each price, per set"),
)  # fmt: skip
#: Tables that most workshops have nothing of: where there are no rows they are not in the workbook at all.
WHERE_ANY = frozenset({"link", "part", "size", "postage_tier"})
#: Tables of workings alone: they lie below what is looked for on their sheet, and are not printed.
WORKINGS = frozenset({"price_fee"})
#: Quantities that people look for, by table; the others are workings.
RESULTS: Mapping[tuple[str, str], tuple[str, ...]] = MappingProxyType(
    {
        ("Steps", "step"): ("mass_in", *STEP_QUANTITIES),
        ("Costs", "variant"): ("unit_cost", *COST_LINES, "labour_hours", "melt_value", "fresh_g", "charge_g",
                               "one_pour_charge_g"),
        ("Prices", "price"): (
            "price", "profit", "margin", "earned_per_hour", "ex_tax_price", "net_sales", "selling_fees", "net_receipts",
            "times_melt_value", "required_price",
        ),
        ("Parts", "variant"): ("castings_per_set", "as_cast_g", "finished_g"),
        ("Channels", "fee"): ("fee_slope",),
        ("Channels", "channel"): ("list_tax",),
    }
)  # fmt: skip
#: Inputs beside which stands what they were when exported.
EXPORTED: Mapping[str, tuple[str, ...]] = MappingProxyType({"metal": ("quote_price",), "currency": ("exchange_rate",)})
