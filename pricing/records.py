"""Computed figures as plain records by name: what `--json` prints, and what other faces pick from.

The names are the cost model's own; NaN becomes None, flags and codes become words.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.formulas.engine import Computed
from pricing.formulas.rerun import at_one_price
from pricing.formulas.tables import TABLES
from pricing.model.rows import VariantRow
from pricing.record_forms import AsDicts, Flat, Form, columns_of, numbers
from pricing.words import REASONS

NOTHING: Mapping[str, Sequence[Any]] = MappingProxyType({})

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


@dataclass(frozen=True)
class Sold:
    """Where some variants are sold: `places` among them, `rows` of the resolved model's list, `columns` of channels."""

    computed: Computed
    rows: np.ndarray
    places: np.ndarray
    columns: np.ndarray

    @cached_property
    def channels(self) -> list[str]:
        """The channel of each."""
        names = [channel.name for channel in self.computed.resolved.channels]
        return [names[column] for column in self.columns.tolist()]

    @cached_property
    def variants(self) -> list[VariantRow]:
        """The variants, sold or not."""
        return [self.computed.resolved.variants[row] for row in self.rows.tolist()]

    @cached_property
    def spots(self) -> list[tuple[str, str, str]]:
        """Sku, alloy and channel of each."""
        names = [(each.sku, each.alloy) for each in self.variants]
        return [(*names[place], channel) for place, channel in zip(self.places.tolist(), self.channels, strict=True)]

    def of_each(self, name: str) -> np.ndarray:
        """A quantity of prices, or of channels alone, at each of them."""
        column = self.computed[name]
        places = (self.columns,) if column.ndim == 1 else (self.rows[self.places], self.columns)
        at_each: np.ndarray = column[places]
        return at_each


def where_sold(computed: Computed, rows: Iterable[int] | None = None, channels: Iterable[str] | None = None) -> Sold:
    """Where the variants in `rows` (default: all) are sold, in all channels or in these; variant by variant."""
    resolved = computed.resolved
    chosen = np.arange(len(resolved.variants)) if rows is None else np.array(list(rows), dtype=int)
    wanted = None if channels is None else set(channels)
    fits = np.array([wanted is None or channel.name in wanted for channel in resolved.channels], dtype=bool)
    return Sold(computed, chosen, *np.nonzero(computed.sold_places[chosen] & fits))


def variant_records(
    computed: Computed, rows: Iterable[int] | None = None, in_short: bool = False
) -> list[dict[str, Any]]:
    """One record a variant, with its steps, parts and sizes and, for the channels in which it is sold, its prices.

    `in_short` leaves out steps, parts and sizes, which are most of the work.
    """
    return records_of(where_sold(computed, rows), AsDicts(), in_short)


def records_of(
    sold: Sold,
    form: Form,
    in_short: bool = False,
    further: Mapping[str, Sequence[Any]] = NOTHING,
    of_prices: Mapping[str, Sequence[Any]] = NOTHING,
    depth: int = 0,
) -> list[Any]:
    """The same in any form, with the prices where they are `sold`, and with `further` columns and `of_prices`."""
    columns = _of_variants(sold, form)
    if not in_short:
        columns["steps"] = _steps(sold, form, depth + 1)
        columns |= _nested("parts", _parts(sold), form, depth)
    prices = form.records({**_of_prices(sold, form), **of_prices}, depth + 2)
    counts = np.bincount(sold.places, minlength=len(sold.rows)).tolist()
    columns["prices"] = form.objects(form.words(sold.channels), prices, counts, depth + 1)
    if not in_short:
        columns |= _nested("sizes", _sizes(sold), form, depth)
    return form.records({**columns, **further}, depth)


def _nested(name: str, column: Sequence[Any], form: Form, depth: int) -> dict[str, Sequence[Any]]:
    """A column of what few variants have, where one has it."""
    return {name: form.nested(column, depth + 1)} if any(each is not None for each in column) else {}


def _of_variants(sold: Sold, form: Flat) -> dict[str, Sequence[Any]]:
    """What is told of variants by themselves, by name."""
    computed, rows, variants = sold.computed, sold.rows, sold.variants
    places = {alloy.name: place for place, alloy in enumerate(computed.resolved.alloys)}
    alloys = np.array([places[variant.alloy] for variant in variants], dtype=int)
    columns = {name: form.words([getattr(variant, name) for variant in variants]) for name in ("sku", "alloy")}
    columns |= columns_of([{} if each.size is None else {"size": each.size} for each in variants], form)
    for name in (*ALLOY_QUANTITIES, *known(computed, (*MASS_QUANTITIES, *COST_QUANTITIES))):
        is_of_variants = TABLES[computed.graph.table_of(name)].axes[0] == "variant"
        columns[name] = form.figures(computed[name][rows if is_of_variants else alloys])
    return columns


def _of_prices(sold: Sold, form: Flat) -> dict[str, Sequence[Any]]:
    """What is asked and earned wherever variants are sold: codes in words, prices to their decimals."""
    columns = {}
    for name in known(sold.computed, PRICE_QUANTITIES):
        column = sold.of_each(name)
        if name == "binds":
            columns[name] = form.words([None if code is None else REASONS[int(code)] for code in numbers(column)])
        else:
            columns[name] = form.figures(decimal_prices(column) if name in ("price", "ex_tax_price") else column)
    return columns


def _steps(sold: Sold, form: Form, depth: int) -> list[Any]:
    """The steps of each variant, with what goes into those that are made from metal."""
    counts = [len(variant.steps) for variant in sold.variants]
    steps = [step for variant in sold.variants for step in variant.steps]
    computed, rows = sold.computed, np.repeat(sold.rows, counts)
    places = np.arange(len(steps)) - np.repeat(np.cumsum(counts) - counts, counts)
    columns: dict[str, Sequence[Any]] = {"name": form.words([step.name for step in steps])}
    columns |= {name: form.figures(computed[name][rows, places]) for name in STEP_QUANTITIES}
    if any(step.is_from_metal for step in steps):
        masses = form.figures(computed["mass_in"][rows, places])
        columns["mass_in"] = [
            mass if step.is_from_metal else form.absent for mass, step in zip(masses, steps, strict=True)
        ]
    return form.lists(form.records(columns, depth + 1), counts, depth)


def _parts(sold: Sold) -> list[list[dict[str, Any]] | None]:
    """What of the maker's own is joined to each variant that has such parts."""
    rows = zip(sold.rows.tolist(), sold.variants, strict=True)
    return [part_records(sold.computed, row) if variant.parts else None for row, variant in rows]


def _sizes(sold: Sold) -> list[list[dict[str, Any]] | None]:
    """The sizes of each variant that has one price for all of them."""
    has = [bool(variant.sizes) and variant.size is None for variant in sold.variants]
    margins = margins_of_sizes(sold.computed) if any(has) else None
    rows = zip(sold.rows.tolist(), has, strict=True)
    return [size_records(sold.computed, row, margins) if has_sizes else None for row, has_sizes in rows]


def variant_record(computed: Computed, row: int) -> dict[str, Any]:
    """The record of the variant in `row` of the resolved model's list."""
    return variant_records(computed, [row])[0]


def with_one_pour(computed: Computed, rows: Sequence[int]) -> list[dict[str, Any]]:
    """The same of some variants with the charge of one pour, for people who weigh it."""
    sold, form = where_sold(computed, rows), AsDicts()
    charges = {name: form.figures(computed[name][sold.rows]) for name in known(computed, ("one_pour_charge_g",))}
    return records_of(sold, form, further=charges)


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


def known(computed: Computed, names: Iterable[str]) -> list[str]:
    """Those of some quantities that there are figures of: an edition of an earlier release may lack some."""
    return [name for name in names if name in computed.values]


def number(value: Any) -> float | None:
    """A plain float; None for what is undefined."""
    value = float(value) + 0.0  # no negative zero
    return value if math.isfinite(value) else None


def cost_shares(computed: Computed, row: int) -> dict[str, float]:
    """What each line that costs something is of all that is spent on a set, in the order in which they are read.

    A line that brings money back (metal, where scrap brings more than is bought) has no share, and the others make up
    the whole.
    """
    spent = float(computed["cost_before_credits"][row])
    amounts = {name: float(computed[name][row]) for name in COST_LINES}
    return {name: amount / spent for name, amount in amounts.items() if amount > 0}


def flat_records(computed: Computed, rows: Iterable[int], channels: Iterable[str]) -> list[dict[str, Any]]:
    """One record for each variant and channel. Steps are left out."""
    form = AsDicts()
    return form.records(flat_columns(where_sold(computed, rows, channels), form), 0)


def flat_columns(sold: Sold, form: Flat) -> dict[str, Sequence[Any]]:
    """The same in columns: what `--csv` prints."""
    places = sold.places.tolist()
    columns = {name: [column[place] for place in places] for name, column in _of_variants(sold, form).items()}
    return {**columns, "channel": form.words(sold.channels), **_of_prices(sold, form)}
