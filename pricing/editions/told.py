"""An edition in a line, in sentences and as records, as terminal and page tell it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from pricing.editions.chain import Edition
from pricing.shown import metal_at


def head(edition: Edition) -> dict[str, Any]:
    """What a list tells of an edition."""
    content = edition.content
    count = Counter(price["verdict"] for price in content["prices"])
    return {
        "number": edition.number,
        "as_of": content["as_of"],
        "published": content["published"],
        "prices": len(content["prices"]),
        "new": count["new"],
        "raised": count["raise"],
        "lowered": count["lower"],
        "held": count["hold"],
        "restores": content.get("restores"),
        "sha256": edition.sha256,
        "quotes": content["quotes"],
    }


def since(edition: Edition) -> list[str]:
    """From when it is in force, and what it puts in force again."""
    content = edition.content
    published = content["published"][:16].replace("T", " ")
    said = [f"Edition {edition.number}, in force from {content['as_of']}, published {published}"]
    if "restores" in content:
        said.append(f"It puts the prices of edition {content['restores']} in force again.")
    return said


def quotes(edition: Edition) -> list[str]:
    """The prices of metal and the exchange rates that it stands on: `Silver (Ag) 38.40 USD per ozt (2026-11-20)`."""
    return [
        f"{metal_at(quote['metal'], quote['price'], quote['currency'], quote['per'])} ({quote['date']})"
        for quote in edition.content["quotes"]
    ]


def flat(edition: Edition, rows: Sequence[int]) -> list[dict[str, Any]]:
    """One record a price, with the figures of its variant."""
    chosen = [edition.content["variants"][row] for row in rows]
    records = {(record["sku"], record["alloy"]): record for record in chosen}
    lines = []
    for price in edition.content["prices"]:
        record = records.get((price["sku"], price["alloy"]))
        if record:
            figures = {name: value for name, value in record.items() if not isinstance(value, (dict, list))}
            lines.append({**price, **figures, **record["prices"][price["channel"]]})
    return lines
