"""The list of all variants: mass, unit cost and prices of each on one line, in the channels that fit the screen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from rich.table import Table

from pricing.cli.screens import screen
from pricing.cli.screens.view import View
from pricing.made_of import own_grams
from pricing.record_forms import numbers
from pricing.records import Sold, decimal_prices, where_sold
from pricing.studies.repricing.deciding import PRICE_NOISE


def overview(view: View) -> None:
    """One line a variant: mass, unit cost, prices, in as many channels as there is room for."""
    console = screen.out()
    listed, channels = _Listed(view), view.channels
    made = listed.table(channels)
    while len(channels) > 1 and not screen.fits(made):
        channels = channels[:-1]
        made = listed.table(channels)
    console.print(view.basis())
    console.print()
    console.print(made, crop=not screen.fits(made))
    if left_out := view.channels[len(channels) :]:
        console.print(f"\nNo room here for {', '.join(left_out)}: ask with --channel.")
    if listed.has_published:
        console.print("\nThese are the prices in force. *: the policy asks another now; see it with --asked.")
    variants = listed.sold.variants
    console.print(f"\n{len(variants)} variants. More of one: --sku {variants[0].sku}")


@dataclass(frozen=True)
class _Listed:
    """The list, each column written at once."""

    view: View

    @cached_property
    def sold(self) -> Sold:
        return where_sold(self.view.costing.computed, self.view.rows, self.view.channels)

    def table(self, channels: list[str]) -> Table:
        """The lines in these channels, the first of all."""
        view = self.view
        heads = ["product, alloy", view.shown.show.mass, "cost", *view.sure_heads]
        for name in channels:
            heads += [view.shown.channel(name), *view.sure_heads]
        lines, strong = self._lines
        return screen.table(heads, [line[: len(heads)] for line in lines], strong=strong)

    @cached_property
    def _lines(self) -> tuple[list[tuple[str, ...]], list[int]]:
        """A line a variant in all channels, one for each product above them, and where those stand."""
        columns = list(self._columns())
        blank = [""] * (len(columns) - 1)
        lines: list[tuple[str, ...]] = []
        strong = []
        before = None
        for variant, line in zip(self.sold.variants, zip(*columns, strict=True), strict=True):
            if variant.sku != before:
                strong.append(len(lines))
                lines.append((variant.sku, *blank))
            before = variant.sku
            lines.append(line)
        return lines, strong

    def _columns(self) -> Iterator[list[str]]:
        """The cells of each column, a variant each."""
        view, variants = self.view, self.sold.variants
        yield [f"  {variant.alloy}" for variant in variants]
        yield [view.shown.mass(own_grams(view.costing.computed, row), unit=False) for row in view.rows]
        yield [view.shown.money(cost) for cost in numbers(view.costing.computed["unit_cost"][self.sold.rows])]
        yield from _further(view.sure_cost(each.sku, each.alloy) for each in variants)
        for name in view.channels:
            yield [self._prices.get((place, name), "") for place in range(len(variants))]
            yield from _further(view.sure_price(each.sku, each.alloy, name) for each in variants)

    @cached_property
    def _prices(self) -> dict[tuple[int, str], str]:
        """The price in force of each variant in each channel, marked where another is asked; or what is asked."""
        asked, shown = _prices(self.sold), self.view.shown
        if self.view.out.edition is None:
            return {spot: shown.price(spot[1], price) for spot, price in asked.items()}
        cells = {}
        for spot, price in asked.items():
            held = self._held.get(spot)
            is_other = held is not None and abs(held - price) > PRICE_NOISE
            cells[spot] = f"{shown.price(spot[1], held)}{'*' if is_other else ' '}"
        return cells

    @cached_property
    def _held(self) -> dict[tuple[int, str], float]:
        return _prices(where_sold(self.view.out.computed, self.view.rows, self.view.channels))

    @property
    def has_published(self) -> bool:
        """Whether any price that is shown is in force."""
        return self.view.out.edition is not None and bool(self._held)


def _prices(sold: Sold) -> dict[tuple[int, str], float]:
    """Prices by the place of a variant and by channel."""
    spots = zip(sold.places.tolist(), sold.channels, strict=True)
    return dict(zip(spots, decimal_prices(sold.of_each("price")).tolist(), strict=True))


def _further(cells: Iterator[list[str]]) -> Iterator[list[str]]:
    """Columns of lines that have some more cells, or none."""
    return map(list, zip(*cells, strict=True))
