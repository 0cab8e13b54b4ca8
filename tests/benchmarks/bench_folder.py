"""How fast a folder is read and costed, beside what parsing its TOML alone takes.

    python tests/benchmarks/bench_folder.py

200 products, made by copying the sample's under other names; medians of seven runs.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import tomllib
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import tomlkit  # noqa: E402

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.folder.read import read_folder  # noqa: E402
from pricing.resources import sample_catalog  # noqa: E402
from tests.benchmarks.timing import median_of  # noqa: E402

PRODUCTS = 200


def many_products(root: Path, products: int = PRODUCTS) -> Path:
    """The sample with so many products."""
    shutil.copytree(sample_catalog(), root)
    files = sorted((root / "products").glob("*.toml"))
    for number in range(products - len(files)):
        original = files[number % len(files)]
        text = original.read_text(encoding="utf-8")
        sku = tomllib.loads(text)["sku"]
        copy = text.replace(f'sku = "{sku}"', f'sku = "{sku}-{number}"', 1)
        (root / "products" / f"{sku}-{number}.toml").write_text(copy, encoding="utf-8")
    return root


def main() -> None:
    with tempfile.TemporaryDirectory() as directory:
        root = many_products(Path(directory) / "many")
        texts = [path.read_text(encoding="utf-8") for path in root.rglob("*.toml")]
        asked = asked_for(date(2026, 11, 20))
        print(f"{len(texts)} TOML files")
        for name, work in (
            ("tomllib alone", lambda: [tomllib.loads(text) for text in texts]),
            ("tomlkit alone", lambda: [tomlkit.parse(text) for text in texts]),
            ("read_folder: models, sense, prices", lambda: read_folder(root)),
            ("cost: read, resolve, compute, check", lambda: cost(root, asked)),
        ):
            print(f"{name:38}{median_of(work):8.3f} s")


if __name__ == "__main__":
    main()
