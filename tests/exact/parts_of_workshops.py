"""Draws which pieces of the maker's own go into a product."""

from __future__ import annotations

from .chooser import Chooser

DEEPEST = 3  # parts in parts in parts


def part_findings(pick: Chooser, earlier: dict[str, dict], own_alloys: list[str], least: int) -> list[dict]:
    """Findings that are earlier products, in the variant's own alloy or another; so many at least in every alloy."""
    possible = [product for product in earlier.values() if depth(product, earlier) < DEEPEST]
    found: list[dict] = []
    for _ in range(pick.one([least, least, 1, 2])):
        if not possible:
            break
        # Every other time one that goes deepest.
        product = pick.one(possible) if pick.chance(5) else max(possible, key=lambda part: depth(part, earlier))
        finding: dict = {"product": part_sku(pick, product), "quantity": pick.one([1, 1, 2, 3])}
        limited = pick.some(own_alloys, least=1) if len(found) >= least and pick.chance(3) else own_alloys
        if not set(limited) <= set(product["alloys"]) or pick.chance(5):
            finding["alloy"] = pick.one(product["alloys"])
        if limited is not own_alloys:
            finding["alloys"] = limited
        if pick.chance(5):
            finding["spoil"] = pick.number("0", "0.2", 3)
        found.append(finding)
    return found


def part_sku(pick: Chooser, product: dict) -> str:
    """The sku of a product; of one whose sizes are each priced, that of one size."""
    sizes = product.get("sizes", {})
    if not sizes.get("each_priced", False):
        return product["sku"]
    return f"{product['sku']}-{pick.one(sizes.get('list', list(sizes.get('lengths', {}))))}"


def depth(product: dict, earlier: dict[str, dict]) -> int:
    """How deep a product's parts go: 0 where it has none."""
    below = [
        depth(part, earlier)
        for finding in product.get("findings", [])
        if "product" in finding
        for part in earlier.values()
        if finding["product"] == part["sku"] or finding["product"].startswith(part["sku"] + "-")
    ]
    return 1 + max(below) if below else 0
