"""The Tin Lane workshop's files by name, and ways of spoiling them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

AS_OF = date(2026, 11, 20)
ON = ("--as-of", AS_OF.isoformat())

WORKSHOP = "workshop.toml"
ALLOYS = "alloys.toml"
PROCESSES = "processes.toml"
CHANNELS = "channels.toml"
PRICES = "metal_prices.csv"
STUDS = "products/lantern-studs.toml"
PIN = "products/reed-pin.toml"

#: The first line of a price history.
HEADER = "date,metal,price,per,currency,source"


def replace(lane: Path, file: str, old: str, new: str) -> None:
    """Put `new` wherever `old` stands, which must be somewhere."""
    text = (lane / file).read_text(encoding="utf-8")
    assert old in text
    (lane / file).write_text(text.replace(old, new), encoding="utf-8")


def quoted(text: str) -> str:
    """A price history with every field in quotes."""
    return "\n".join(",".join(f'"{field}"' for field in line.split(",")) for line in text.splitlines())


def add_links(lane: Path, count: int, first: str) -> None:
    """So many products, each like the one before it, the first like `first`."""
    for number in range(count):
        like = first if number == 0 else f"link-{number - 1:03}"
        text = f'sku = "link-{number:03}"\nname = "Link {number}"\nlike = "{like}"\n'
        (lane / f"products/link-{number:03}.toml").write_text(text, encoding="utf-8")
