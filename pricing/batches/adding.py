"""Writing a card down in the log."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from pricing.batches.model import Batch, Card, Metal
from pricing.batches.read import LOG
from pricing.kept.shape import from_json
from pricing.kept.writing import append


def content_of(card: Card, currency: str, metal: Mapping[str, Metal]) -> dict[str, Any]:
    """What an entry of the log says: the card, when it is written down, and what the metal cost on its day."""
    return {
        **card.model_dump(mode="json"),
        "recorded": datetime.now().astimezone().isoformat(timespec="seconds"),
        "currency": currency,
        "metal": {name: each.model_dump(mode="json") for name, each in metal.items()},
    }


def write_card(
    root: Path, card: Card, currency: str, metal: Mapping[str, Metal] | None = None, over_gap: bool = False
) -> Batch:
    """Write a card down and return the batch once it is on the disk; the drawer is not touched.

    Raises TroytagError where something is wrong with the log (unless it shall go `over_gap`), and where the disk
    refuses; then nothing is written.
    """
    content = content_of(card, currency, metal or {})
    (entry,) = append(root, lambda _: [(LOG, content)], "a batch", over_gap)
    return from_json(Batch, entry.content)
