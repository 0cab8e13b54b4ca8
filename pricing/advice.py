"""What is computed and still deserves a word: prices below cost, margins that never bind, too much scrap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pricing.formulas.engine import Computed
from pricing.shown import Shown, percent
from pricing.words import REASONS

#: Float noise in a mass is no scrap.
NO_MASS = 1e-9


@dataclass(frozen=True)
class Hint:
    """Something that the maker should know; `row` is the variant that it is about, None for the whole folder."""

    row: int | None

    def words(self, shown: Shown) -> str:
        """The hint as a sentence without its full stop, in the units that the workshop chose."""
        raise NotImplementedError


@dataclass(frozen=True)
class BelowCost(Hint):
    """A price (in the workshop's currency) that is `short` of what the piece costs."""

    sku: str
    alloy: str
    channel: str
    price: float
    short: float

    def words(self, shown: Shown) -> str:
        where = f"{self.sku} in {self.alloy}: the price in {self.channel}, {shown.money(self.price)},"
        return f"{where} is {shown.money(self.short)} short of what it costs"


@dataclass(frozen=True)
class Decoration(Hint):
    """A channel in which the ladder decides every price."""

    channel: str

    def words(self, shown: Shown) -> str:
        return f"in {self.channel} the ladder decides every price: what its policy asks is decoration"


@dataclass(frozen=True)
class TooManyReturns(Hint):
    """Of a charge the fraction `share` comes back, `limit` may go in again; `surplus_g` a set goes to the refiner."""

    sku: str
    alloy: str
    share: float
    limit: float
    surplus_g: float

    def words(self, shown: Shown) -> str:
        return (
            f"{self.sku} in {self.alloy}: {percent(self.share)} of a charge comes back and only {percent(self.limit)} "
            f"may go in again; {shown.mass(self.surplus_g)} a set goes to the refiner"
        )


def advice(computed: Computed, rows: Iterable[int] | None = None) -> list[Hint]:
    """What the maker should know of the variants in `rows` (default: all), the dearest first."""
    rows = list(range(len(computed.resolved.variants)) if rows is None else rows)
    return [*_below_cost(computed, rows), *_decoration(computed), *_too_many_returns(computed, rows)]


def _below_cost(computed: Computed, rows: list[int]) -> Iterator[Hint]:
    prices, profits = computed["price"], computed["profit"]
    for row in rows:
        variant = computed.resolved.variants[row]
        for column, price in enumerate(variant.prices):
            if price.sold and profits[row, column] < 0:
                figures = float(prices[row, column]), -float(profits[row, column])
                yield BelowCost(row, variant.sku, variant.alloy, price.channel, *figures)


def _decoration(computed: Computed) -> Iterator[Hint]:
    variants, decided = computed.resolved.variants, computed["binds"]
    for column, channel in enumerate(computed.resolved.channels):
        reasons = [
            REASONS[int(decided[row, column])] for row, variant in enumerate(variants) if variant.prices[column].sold
        ]
        if len(reasons) > 1 and all(reason in ("keystone", "one_retail_price") for reason in reasons):
            yield Decoration(None, channel.name)


def _too_many_returns(computed: Computed, rows: list[int]) -> Iterator[Hint]:
    returns, reused, charge = computed["returns_g"], computed["reused_g"], computed["charge_g"]
    for row in rows:
        variant = computed.resolved.variants[row]
        if not (variant.is_cut or variant.is_bought) and returns[row] - reused[row] > NO_MASS:
            figures = returns[row] / charge[row], computed["return_limit"][row], computed["surplus_g"][row]
            yield TooManyReturns(row, variant.sku, variant.alloy, *map(float, figures))
