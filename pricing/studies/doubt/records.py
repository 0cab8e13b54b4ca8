"""How sure costs, prices and margins are, as flat records: for JSON, CSV, the workbook and the page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pricing.records import decimal_price
from pricing.studies.doubt.in_doubt import InDoubt, Range, Sure, SurePrice
from pricing.studies.doubt.what_to_measure import Matters


def sure_of_cost(row: Sure) -> dict[str, float]:
    """The range of a unit cost, by the names that records give it."""
    return _range("unit_cost", row.cost)


def sure_of_price(price: SurePrice) -> dict[str, Any]:
    """The ranges of a price: what is asked, what it earns, and the chances."""
    return {
        **_asked(price),
        **_range("margin", price.margin),
        "chance_of_loss": price.loss,
        "chance_under_least_margin": price.under_least,
    }


def cost_record(found: InDoubt, sku: str, alloy: str) -> dict[str, float]:
    """The range of the unit cost of a variant."""
    return sure_of_cost(found.by_variant[sku, alloy])


def price_record(found: InDoubt, sku: str, alloy: str, channel: str) -> dict[str, Any]:
    """The ranges of one price; empty where the variant has none there."""
    prices = found.by_variant[sku, alloy].prices
    return next((sure_of_price(each) for each in prices if each.channel == channel), {})


def price_records(found: InDoubt) -> Iterator[dict[str, Any]]:
    """A record for each price, with the cost of its variant."""
    for row in found.rows:
        for price in row.prices:
            yield {
                "sku": row.sku,
                "alloy": row.alloy,
                "channel": price.channel,
                "unit_cost": row.unit_cost,
                **sure_of_cost(row),
                "price": decimal_price(price.price),
                "margin": price.margin_as_stated,
                "least_margin": price.least_margin,
                **sure_of_price(price),
            }


def figure_records(found: InDoubt) -> Iterator[dict[str, Any]]:
    """A record for each figure in doubt: as it stands, its two points, how it lies and who says so."""
    for figure in found.doubted.figures:
        yield {
            "figure": figure.path,
            "stated": figure.stated,
            "low": figure.low,
            "high": figure.high,
            "shape": figure.shape.kind,
            "from": "log" if figure.from_log else "doubts.toml",
        }


def share_records(found: InDoubt) -> Iterator[dict[str, Any]]:
    """A record for what each input contributes to the spread of a cost (no channel) or of a margin."""
    for row in found.rows:
        yield from _shares(row, "", row.shares)
        for price in row.prices:
            yield from _shares(row, price.channel, price.shares)


def _shares(row: Sure, channel: str, shares: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for name, share in shares.items():
        if share.in_all:
            yield {
                "sku": row.sku,
                "alloy": row.alloy,
                "channel": channel or None,
                "figure": name,
                "first_order": share.alone,
                "total": share.in_all,
            }


def matter_records(matters: Iterable[Matters]) -> Iterator[dict[str, Any]]:
    """A record for what each doubt does to the prices, and how to measure the figure."""
    for each in matters:
        yield {
            "figure": each.path,
            "moves_prices_by": each.moves,
            "at_low": each.at_low,
            "at_high": each.at_high,
            "most": each.most,
            "sku": each.sku,
            "alloy": each.alloy,
            "channel": each.channel,
            "measure": each.measure or None,
        }


def _asked(price: SurePrice) -> dict[str, Any]:
    return {name: decimal_price(each) for name, each in _range("price", price.asked).items()}


def _range(name: str, found: Range | None) -> dict[str, Any]:
    low, middle, high = found or (None, None, None)
    return {f"{name}_p10": low, f"{name}_p50": middle, f"{name}_p90": high}
