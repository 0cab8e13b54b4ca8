"""What is computed and still deserves a word: prices below cost, margins that never bind, too much scrap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pricing.formulas.engine import Computed
from pricing.model.workshop import Show
from pricing.shown import Shown, percent
from pricing.words import REASONS

#: Float noise in a mass is no scrap.
NO_MASS = 1e-9


def advice(computed: Computed, rows: Iterable[int] | None = None, show: Show = Show()) -> list[str]:  # noqa: B008
    """A sentence for each thing the maker should know of the variants in `rows` (default: all), the dearest first.

    Masses are told in the unit of `show`.
    """
    rows = list(range(len(computed.resolved.variants)) if rows is None else rows)
    return [*_below_cost(computed, rows), *_decoration(computed), *_too_many_returns(computed, rows, show)]


def _below_cost(computed: Computed, rows: list[int]) -> Iterator[str]:
    prices, profits, shown = computed["price"], computed["profit"], Shown(computed.resolved.currency)
    for row in rows:
        variant = computed.resolved.variants[row]
        for column, price in enumerate(variant.prices):
            if price.sold and profits[row, column] < 0:
                asked, short = shown.money(prices[row, column]), shown.money(-profits[row, column])
                where = f"{variant.sku} in {variant.alloy}: the price in {price.channel}, {asked},"
                yield f"{where} is {short} short of what it costs"


def _decoration(computed: Computed) -> Iterator[str]:
    """A channel in which the ladder decides every price."""
    variants, decided = computed.resolved.variants, computed["binds"]
    for column, channel in enumerate(computed.resolved.channels):
        reasons = [
            REASONS[int(decided[row, column])] for row, variant in enumerate(variants) if variant.prices[column].sold
        ]
        if len(reasons) > 1 and all(reason in ("keystone", "one_retail_price") for reason in reasons):
            yield f"in {channel.name} the ladder decides every price: what its policy asks is decoration"


def _too_many_returns(computed: Computed, rows: list[int], show: Show) -> Iterator[str]:
    returns, reused, charge = computed["returns_g"], computed["reused_g"], computed["charge_g"]
    limits, shown = computed["return_limit"], Shown(computed.resolved.currency, show)
    for row in rows:
        variant = computed.resolved.variants[row]
        if not variant.is_cut and returns[row] - reused[row] > NO_MASS:
            share, limit = percent(returns[row] / charge[row]), percent(limits[row])
            yield (
                f"{variant.sku} in {variant.alloy}: {share} of a charge comes back and only {limit} may go in again; "
                f"{shown.mass(computed['surplus_g'][row])} a set goes to the refiner"
            )
