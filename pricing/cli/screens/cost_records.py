"""What `troytag cost --json` and `--csv` print: the figures, the prices in force, and how sure both are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pricing.json_texts import Written
from pricing.record_forms import AsCells, AsJson, Flat, columns_of
from pricing.records import Sold, flat_columns, records_of
from pricing.studies.prices_out import PricesOut

if TYPE_CHECKING:
    from pricing.studies.doubt.in_doubt import InDoubt


def variants(out: PricesOut, sold: Sold, doubt: InDoubt | None) -> Written:
    """All records as JSON."""
    form = AsJson()
    of_prices = {**_in_force(out, sold, form), **_sure_of_prices(doubt, sold, form)}
    return Written(records_of(sold, form, further=_sure_of_costs(doubt, sold, form), of_prices=of_prices, depth=2))


def columns(out: PricesOut, sold: Sold, doubt: InDoubt | None) -> dict[str, Sequence[str]]:
    """The fields of a CSV, by the names of its columns."""
    form, places = AsCells(), sold.places.tolist()
    sure = {name: [column[place] for place in places] for name, column in _sure_of_costs(doubt, sold, form).items()}
    return {**flat_columns(sold, form), **_in_force(out, sold, form), **sure, **_sure_of_prices(doubt, sold, form)}


def _in_force(out: PricesOut, sold: Sold, form: Flat) -> dict[str, Sequence[Any]]:
    return {name: form.words(column) for name, column in out.in_force(sold.spots).items()}


def _sure_of_costs(doubt: InDoubt | None, sold: Sold, form: Flat) -> dict[str, Sequence[Any]]:
    """The range of each variant's cost; nothing where nobody asked."""
    if doubt is None:
        return {}
    from pricing.studies.doubt.records import cost_record

    return columns_of([cost_record(doubt, each.sku, each.alloy) for each in sold.variants], form)


def _sure_of_prices(doubt: InDoubt | None, sold: Sold, form: Flat) -> dict[str, Sequence[Any]]:
    """The ranges of each price; nothing where nobody asked."""
    if doubt is None:
        return {}
    from pricing.studies.doubt.records import price_record

    return columns_of([price_record(doubt, *spot) for spot in sold.spots], form)
