"""Computed figures as plain records by name: what `--json` prints, and what other faces pick from.

The names are the cost model's own; NaN becomes None, flags and codes become words.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.formulas.engine import Computed
from pricing.formulas.rerun import at_one_price
from pricing.formulas.tables import TABLES
from pricing.words import REASONS

ALLOY_QUANTITIES = (
    "melt_value_per_g", "scrap_value_per_g", "buy_price_per_g", "scrap_price_per_g", "lemel_price_per_g",
)  # fmt: skip
MASS_QUANTITIES = (
    "castings_per_set", "mean_effort", "as_cast_g", "finished_g", "poured_g", "flasks_per_set", "sprue_g", "charge_g",
    "melt_lost_g", "removed_g", "caught_g", "rejected_g", "reject_refined_g", "reject_lost_g", "returns_g", "reused_g",
    "surplus_g", "fresh_g",
)  # fmt: skip
COST_QUANTITIES = (
    "metal_cost", "melt_value", "labour_hours", "labour_cost", "overhead_cost", "machine_cost", "material_cost",
    "fee_cost", "own_labour_hours", "own_labour_cost", "total_g", "findings_metal_cost", "findings_cost", "unit_cost",
)  # fmt: skip
STEP_QUANTITIES = (
    "starts", "units", "times", "step_labour_hours", "step_labour_cost", "step_overhead_cost", "step_machine_cost",
    "step_material_cost", "step_fee_cost",
)  # fmt: skip
PRICE_QUANTITIES = (
    "required_price", "binds", "price", "channel_rate", "order_g", "ex_tax_price", "paid", "net_sales", "selling_fees",
    "order_labour_cost", "order_cost", "postage_income", "net_receipts", "profit", "margin", "earned_per_hour",
    "times_melt_value",
)  # fmt: skip
#: What is told of each piece of the maker's own in a set, as a part.
PART_QUANTITIES = (
    "finished_g", "total_g", "melt_value", "labour_hours", "metal_cost", "labour_cost", "overhead_cost", "machine_cost",
    "material_cost", "fee_cost", "findings_cost", "findings_metal_cost", "unit_cost",
)  # fmt: skip
#: Those that may be undefined: nothing sold, no hour spent, no value in the metal, no casting.
MAY_BE_UNDEFINED = frozenset({"margin", "earned_per_hour", "times_melt_value", "mean_effort"})
#: How far a price may be from its decimal, in units of its last binary place, and how many digits that may have.
NOISE_ULPS, MOST_DIGITS = 4, 13
#: Below this, so many steps within the noise of a price are told from each other by float arithmetic.
_WHOLE = 2.0**48
#: The lines that make up the unit cost, in the order in which people read them.
COST_LINES = MappingProxyType(
    {
        "metal_cost": "metal",
        "labour_cost": "labour",
        "overhead_cost": "overhead",
        "machine_cost": "machines",
        "material_cost": "materials",
        "fee_cost": "bought-in work",
        "findings_cost": "findings",
    }
)


class _Figures:
    """The figures of some variants as plain numbers, None for what is undefined: each quantity taken once for all."""

    def __init__(self, computed: Computed, rows: Sequence[int]):
        self.computed, self.rows = computed, list(rows)
        self._taken: dict[str, list[Any]] = {}

    def __getitem__(self, name: str) -> list[Any]:
        """By the place of a variant among these; of a quantity that goes by alloys or channels alone, by theirs."""
        taken = self._taken.get(name)
        if taken is None:
            column = self.computed[name]
            if TABLES[self.computed.graph.table_of(name)].axes[0] == "variant":
                column = column[self.rows]
            taken = self._taken[name] = numbers(column)
        return taken

    def named_prices(self, place: int) -> dict[str, dict[str, Any]]:
        """What a variant asks and earns, by the names of the channels in which it is sold."""
        prices = self.computed.resolved.variants[self.rows[place]].prices
        return {prices[column].channel: asked for column, asked in self.prices[place].items()}

    @cached_property
    def margins_of_sizes(self) -> np.ndarray:
        return margins_of_sizes(self.computed)

    @cached_property
    def steps(self) -> list[list[tuple[float | None, ...]]]:
        """Of each step of each variant, its quantities in their order."""
        taken = [self[name] for name in STEP_QUANTITIES]
        return [list(zip(*of_steps, strict=True)) for of_steps in zip(*taken, strict=True)]

    def _asked(self, name: str) -> list[Any]:
        """What prices are told of: codes in words, prices to their decimals."""
        if name == "binds":
            return [[code if code is None else REASONS[int(code)] for code in codes] for codes in self[name]]
        if name in ("price", "ex_tax_price"):
            return numbers(decimal_prices(self.computed[name][self.rows]))
        return self[name]

    @cached_property
    def prices(self) -> list[dict[int, dict[str, Any]]]:
        """What each variant asks and earns, by the places of the channels in which it is sold."""
        variants, names = self.computed.resolved.variants, known(self.computed, PRICE_QUANTITIES)
        of_channels = [self.computed[name].ndim == 1 for name in names]
        taken = list(zip(names, map(self._asked, names), of_channels, strict=True))
        return [
            {
                column: {name: of[column] if alike else of[place][column] for name, of, alike in taken}
                for column in variants[row].sold_places
            }
            for place, row in enumerate(self.rows)
        ]


def variant_records(
    computed: Computed, rows: Iterable[int] | None = None, in_short: bool = False
) -> list[dict[str, Any]]:
    """One record a variant, with its steps, parts and sizes and, for the channels in which it is sold, its prices.

    `in_short` leaves out steps, parts and sizes, which are most of the work.
    """
    resolved = computed.resolved
    rows = range(len(resolved.variants)) if rows is None else list(rows)
    alloys = {alloy.name: index for index, alloy in enumerate(resolved.alloys)}
    figures = _Figures(computed, rows)
    names = known(computed, (*MASS_QUANTITIES, *COST_QUANTITIES))
    of_names = [dict(zip(names, each, strict=True)) for each in zip(*(figures[name] for name in names), strict=True)]
    return [_variant_record(figures, place, row, alloys, of_names[place], in_short) for place, row in enumerate(rows)]


def variant_record(computed: Computed, row: int) -> dict[str, Any]:
    """The record of the variant in `row` of the resolved model's list."""
    return variant_records(computed, [row])[0]


def _variant_record(
    figures: _Figures, place: int, row: int, alloys: Mapping[str, int], of_names: Mapping[str, Any], in_short: bool
) -> dict[str, Any]:
    computed = figures.computed
    variant = computed.resolved.variants[row]
    alloy = alloys[variant.alloy]
    record: dict[str, Any] = {"sku": variant.sku, "alloy": variant.alloy}
    if variant.size is not None:
        record["size"] = variant.size
    for name in ALLOY_QUANTITIES:
        record[name] = figures[name][place if name == "buy_price_per_g" else alloy]
    record.update(of_names)
    if in_short:
        record["prices"] = figures.named_prices(place)
        return record
    record["steps"] = []
    for number_of, step in enumerate(variant.steps):
        told = dict(zip(("name", *STEP_QUANTITIES), (step.name, *figures.steps[place][number_of]), strict=True))
        if step.is_from_metal:
            told["mass_in"] = figures["mass_in"][place][number_of]
        record["steps"].append(told)
    if variant.parts:
        record["parts"] = part_records(computed, row)
    record["prices"] = figures.named_prices(place)
    if variant.sizes and variant.size is None:
        record["sizes"] = size_records(computed, row, figures.margins_of_sizes)
    return record


def with_one_pour(computed: Computed, rows: Sequence[int], in_short: bool = False) -> list[dict[str, Any]]:
    """The same of some variants with the charge of one pour, for people who weigh it."""
    records = variant_records(computed, rows, in_short)
    return [record | _numbers(computed, row, ("one_pour_charge_g",)) for record, row in zip(records, rows, strict=True)]


def part_records(computed: Computed, row: int) -> list[dict[str, Any]]:
    """What of the maker's own is joined to a variant: each piece as it is a part of it, parts of parts left out."""
    resolved = computed.resolved
    places = computed.hidden_places
    found = []
    for part in resolved.variants[row].parts:
        if part.depth == 1:
            piece = resolved.hidden[places[part.piece] - len(resolved.variants)]
            link = piece.links[-1]
            figures = {name: number(computed.values[name][places[part.piece]]) for name in PART_QUANTITIES}
            record = {"sku": piece.sku, "alloy": piece.alloy, "quantity": link.link_quantity, "spoil": link.link_spoil}
            found.append(record | figures)
    return found


def margins_of_sizes(computed: Computed) -> np.ndarray:
    """Margins of all variants, each size of what has one price for all at that price (hidden variants too)."""
    return at_one_price(computed, ["margin"])["margin"]


def size_records(computed: Computed, row: int, margins: np.ndarray | None = None) -> list[dict[str, Any]]:
    """Each size of what has one price for all of them, as if every set were of it: what it costs, weighs and leaves.

    `margins` of all variants at that price, where they are at hand.
    """
    resolved = computed.resolved
    variant = resolved.variants[row]
    margins = margins_of_sizes(computed) if margins is None else margins
    found = []
    values = computed.values
    for place in computed.places_of_sizes.get(variant.called, ()):
        found.append(
            {
                "size": resolved.hidden[place - len(resolved.variants)].size,
                "length_mm": number(values["size_length_mm"][place, 0]),
                **{name: number(values[name][place]) for name in ("finished_g", "total_g", "unit_cost")},
                "margin": {
                    variant.prices[column].channel: number(margins[place, column]) for column in variant.sold_places
                },
            }
        )
    return found


def decimal_price(price: float | None) -> float | None:
    """The float nearest to the decimal that a price is: 5458.44 for 545,844 steps of 0.01, computed 5458.4400000000005.

    It is the one with the fewest digits within the noise of a product and a sum: the step's own error, the product's
    and the sum's are half a unit in the last place each, and at most doubled where an ending below 0 is added.
    """
    if price is None:
        return None
    noise = NOISE_ULPS * math.ulp(price)
    rounded = (round(price, digits) for digits in range(MOST_DIGITS))
    return next((each for each in rounded if abs(each - price) <= noise), price)


def decimal_prices(prices: np.ndarray) -> np.ndarray:
    """The same for many prices at once; what is undefined stays so."""
    made = np.array(prices, dtype=float, order="C")
    held = made.reshape(-1)
    at = np.flatnonzero(np.isfinite(held))
    left = held[at]
    noise = NOISE_ULPS * np.spacing(np.abs(left))
    for digits in range(MOST_DIGITS):
        scaled = left * 10.0**digits
        rounded = np.rint(scaled) / 10.0**digits
        near = (np.abs(rounded - left) <= noise) & (np.abs(scaled) < _WHOLE)
        held[at[near]] = rounded[near]
        far = ~near
        at, left, noise = at[far], left[far], noise[far]
        if not len(at):
            return made
    tried = np.abs(left) * 10.0 ** (MOST_DIGITS - 1) < _WHOLE  # with all digits, and it is none of these decimals
    for place in at[~tried]:
        held[place] = decimal_price(float(held[place]))
    return made


def _numbers(computed: Computed, row: int, names: Iterable[str]) -> dict[str, float | None]:
    return {name: number(computed[name][row]) for name in known(computed, names)}


def known(computed: Computed, names: Iterable[str]) -> list[str]:
    """Those of some quantities that there are figures of: an edition of an earlier release may lack some."""
    return [name for name in names if name in computed.values]


def number(value: Any) -> float | None:
    """A plain float; None for what is undefined."""
    value = float(value) + 0.0  # no negative zero
    return value if math.isfinite(value) else None


def numbers(column: np.ndarray) -> list[Any]:
    """Many of them, nested as the column is."""
    plain = column + 0.0
    finite = np.isfinite(plain)
    if not finite.all():
        plain = plain.astype(object)
        plain[~finite] = None
    taken: list[Any] = plain.tolist()
    return taken


def cost_shares(computed: Computed, row: int) -> dict[str, float]:
    """What each line that costs something is of all that is spent on a set, in the order in which they are read.

    A line that brings money back (metal, where scrap brings more than is bought) has no share, and the others make up
    the whole.
    """
    spent = float(computed["cost_before_credits"][row])
    amounts = {name: float(computed[name][row]) for name in COST_LINES}
    return {name: amount / spent for name, amount in amounts.items() if amount > 0}


def flat_records(computed: Computed, rows: Iterable[int], channels: Iterable[str]) -> list[dict[str, Any]]:
    """One record for each variant and channel: what `--csv` prints. Steps are left out."""
    channels = set(channels)
    flat: list[dict[str, Any]] = []
    for record in variant_records(computed, rows, in_short=True):
        prices = record.pop("prices")
        flat.extend({**record, "channel": name, **found} for name, found in prices.items() if name in channels)
    return flat
