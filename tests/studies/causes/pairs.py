"""A generated workshop, and the same with one thing changed."""

from __future__ import annotations

import copy
from decimal import Decimal

from tests.exact.workshop_writer import Workshop

#: What can be changed, and the groups (kinds) that then have changed.
CHANGES = ("metal", "exchange", "labour", "overhead", "machines", "materials", "services", "good", "findings", "design",
           "alloys", "tax")  # fmt: skip


def changed(workshop: Workshop, kind: str, times: Decimal) -> Workshop | None:
    """The workshop with everything of one kind `times` what it was (the rest of a fraction good: 1 - good); None where
    it has nothing of the kind.
    """
    files = copy.deepcopy(workshop.files)
    return Workshop(files, workshop.as_of) if _change(files, kind, times) else None


def _change(files: dict, kind: str, times: Decimal) -> int:
    steps = [step for process in files["processes.toml"]["processes"].values() for step in process]
    products = [tables for name, tables in files.items() if name.startswith("products/")]
    figures = [own for product in products for own in _step_figures(product)]
    shop = files["workshop.toml"]
    if kind == "metal":
        first = next((line["metal"] for line in files["metal_prices.csv"] if line["per"] != "unit"), None)
        return _lines(files, times, lambda line: line["metal"] == first and line["per"] != "unit")
    if kind == "exchange":
        return _lines(files, times, lambda line: line["per"] == "unit")
    if kind == "labour":
        return _times(times, shop["labour"].values(), "rate") + _times(times, [*steps, *figures], "minutes")
    if kind == "overhead":
        return _times(times, [shop["overhead"]], "per_month")
    if kind == "machines":
        return _times(times, [*shop.get("machines", {}).values()], "purchase")
    if kind == "materials":
        return _times(times, shop["materials"].values(), "pack_price")
    if kind == "services":
        return _times(times, [*steps, *figures], "fee")
    if kind == "findings":
        return _times(times, [finding for product in products for finding in product.get("findings", [])], "price")
    if kind == "alloys":
        return _times(times, files["alloys.toml"]["alloys"].values(), "density")
    if kind == "design":
        return _times(times, products, "sprue_ratio")
    if kind == "tax":
        return _times(times, [shop], "unreclaimed_tax")
    good = [each for each in [*steps, *figures] if "good" in each]
    for each in good:
        each["good"] = 1 - (1 - each["good"]) * times / 2
    return len(good)


def _step_figures(product: dict):
    yield from product.get("steps", {}).values()
    for own in product.get("for_alloy", {}).values():
        yield from own.get("steps", {}).values()


def _times(times: Decimal, tables, key: str) -> int:
    chosen = [table for table in tables if key in table]
    for table in chosen:
        table[key] *= times
    return len(chosen)


def _lines(files: dict, times: Decimal, chosen) -> int:
    lines = [line for line in files["metal_prices.csv"] if chosen(line)]
    for line in lines:
        line["price"] = format(Decimal(line["price"]) * times, "f")
    return len(lines)
