"""How long a price list of many pictured rows takes, and how large it is.

`python tests/benchmarks/bench_lists.py [PRODUCTS]` writes a workshop of so many products (1,000), each with a photo of
its own, and prints medians for gathering the list (photos kept from before, and made), laying it out as HTML and as
PDF, and drawing one mesh.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

RUNS = 3


def workshop(root: Path, products: int) -> None:
    """The sample with so many products more, each with a photo of 1,200 × 900 pixels."""
    import numpy as np
    from PIL import Image

    from tests.lists.fernhollow import changed_folder

    changed_folder(root, {})
    (root / "photos").mkdir()
    chance = np.random.default_rng(4)
    for number in range(products):
        small = chance.integers(0, 255, (9, 12, 3), dtype=np.uint8)
        Image.fromarray(small).resize((1200, 900)).save(root / f"photos/{number}.jpg")
        (root / f"products/piece-{number}.toml").write_text(
            f'sku = "piece-{number}"\nname = "Piece number {number}"\nlike = "thimble"\n'
            f'alloys = ["yellow-brass"]\ncollection = "Collection {number % 20}"\nphoto = "photos/{number}.jpg"\n'
        )


def timed(what: Callable[[], object], runs: int = RUNS) -> tuple[float, object]:
    """Median seconds, and what came of it last."""
    seconds, made = [], None
    for _ in range(runs):
        start = time.perf_counter()
        made = what()
        seconds.append(time.perf_counter() - start)
    return statistics.median(seconds), made


def main(products: int) -> None:
    """Print the table."""
    from pricing.lists.pictures import EDGE, Pictures
    from pricing.lists.price_list import ListAsked, price_list
    from pricing.lists.shading import shaded
    from pricing.studies.prices_out import prices_out
    from tests.lists.fernhollow import british, costing_of, everything

    with tempfile.TemporaryDirectory() as folder:
        os.environ["TROYTAG_CACHE"] = str(Path(folder) / "cache")
        root = Path(folder) / "workshop"
        workshop(root, products)
        costing = costing_of(root)
        asked = ListAsked("shops", *everything(costing))

        def gathered():
            return price_list(prices_out(costing), asked, british(costing), Pictures(root))

        first, sheet = timed(gathered, 1)
        again, sheet = timed(gathered)
        rows = sum(len(item["variants"]) for group in sheet.document["collections"] for item in group["items"])
        print(f"{rows:,} rows, {len(sheet.pictures):,} pictures; median of {RUNS} runs")
        print(f"{'gathered, pictures made':28} {first:8.3f} s")
        print(f"{'gathered, pictures kept':28} {again:8.3f} s")
        for ending in (".html", ".pdf"):
            seconds, content = timed(lambda ending=ending: sheet.laid_out(ending))
            print(f"{'laid out as ' + ending:28} {seconds:8.3f} s {len(content) / 2**20:8.1f} MiB")
        seconds, _ = timed(lambda: shaded(root / "meshes/thimble.stl", EDGE))
        print(f"{'one mesh drawn':28} {seconds:8.3f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000)
