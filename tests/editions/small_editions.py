"""Small contents of editions, for tests of how editions are kept."""

from __future__ import annotations

from typing import Any


def content(day: str = "2026-11-20", note: str = "", rows: int = 3) -> dict[str, Any]:
    """What an edition might say: enough for the chain, as long as one wants."""
    prices = [{"sku": f"piece-{place}", "price": place / 8, "note": note} for place in range(rows)]
    return {"as_of": day, "currency": "GBP", "prices": prices, "whole": [[1.0, 2.5], [None, 0.1]]}
