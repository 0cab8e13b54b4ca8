"""A month's mix and a seller's year of very many products: processor time, and what is left of the gap.

python tests/benchmarks/bench_month.py --products 600
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from datetime import date
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.studies.metal_history.moves import kept_history  # noqa: E402
from pricing.studies.mix.best_mix import mix  # noqa: E402
from pricing.studies.month.there_is import Month  # noqa: E402
from pricing.studies.prices_out import prices_out  # noqa: E402
from pricing.studies.year.seller_year import seller_year  # noqa: E402
from tests.benchmarks.bench_folder import many_products  # noqa: E402

MONTH = Month(hours=90.0, each_most=2.0, flasks={"": 12.0}, cash=300.0)


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--products", type=int, default=600)
    with tempfile.TemporaryDirectory() as directory:
        root = many_products(Path(directory) / "many", reader.parse_args().products)
        costing = cost(root, asked_for(date(2026, 11, 20)))
    out, resolved = prices_out(costing), costing.computed.resolved
    print(f"{len(resolved.variants):,} variants")
    for whole in (False, True):
        began = process_time()
        found = mix(out, MONTH, whole)
        words = "whole" if whole else "shares"
        print(f"mix, {words}: {process_time() - began:.1f} s, {found.brings:,.2f}, gap {100 * found.gap:.2f} %")
    began = process_time()
    seller_year(costing, kept_history(costing.folder.stated.quotes, resolved))
    print(f"year: {process_time() - began:.1f} s")


if __name__ == "__main__":
    main()
