"""Small contents of editions, for tests of how editions are kept."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pricing.editions.chain import chain_faults


def content(day: str = "2026-11-20", note: str = "", rows: int = 3) -> dict[str, Any]:
    """What an edition might say: the form of one, as long as one wants, and with figures of nothing."""
    kept = {"alloy": "tin", "channel": "shop", "asked": None, "set_on": day, "set_in": 1}
    prices = [
        {"sku": f"piece-{place}", "price": place / 8, "verdict": "new", "reason": note, **kept} for place in range(rows)
    ]
    return {
        "as_of": day,
        "currency": "GBP",
        "figures": {},
        "formulas": [],
        "formulas_version": "",
        "inputs": {},
        "prices": prices,
        "published": f"{day}T09:00:00+00:00",
        "quotes": [],
        "variants": [],
        "whole": [[1.0, 2.5], [None, 0.1]],
        "workshop": "Fernhollow Castings",
    }


def path_of(root: Path, number: int) -> Path:
    """The file of an edition."""
    return root / "editions" / f"{number:06d}.json"


def told(root: Path) -> list[str]:
    """The faults of a chain, each with its place."""
    return [f"{fault.place}: {fault.problem}" for fault in chain_faults(root)]
