"""Batches and their balances as plain records by name: for `--json`, `--csv` and notebooks."""

from __future__ import annotations

from typing import Any

from pricing.batches.balance import Balance, balances
from pricing.batches.model import Batch


def flat(batch: Batch, alloy: str | None) -> list[dict[str, Any]]:
    """A line for each alloy of a batch, for `--csv`."""
    return [
        {"number": batch.number, "day": batch.day.isoformat(), **balance_record(each)}
        for each in balances(batch)
        if alloy in (None, each.alloy)
    ]


def balance_record(each: Balance) -> dict[str, Any]:
    """The balance of one alloy."""
    return {
        "alloy": each.alloy,
        "charge_g": each.charge_g,
        "fresh_g": each.fresh_g,
        "returned_g": each.returned_g,
        "castings_g": each.castings_g,
        "back_g": each.back_g,
        "rejected_g": each.rejected_g,
        "missing_g": each.missing_g,
        "expected_g": each.expected_g,
        "beyond_g": each.beyond_g,
        "missing_money": each.missing_money,
        "beyond_money": each.beyond_money,
    }


def record(batch: Batch) -> dict[str, Any]:
    """A batch for `--json`: as it was written down, with its balance."""
    said = batch.model_dump(mode="json", exclude={"form", "previous"})
    return {**said, "balance": [balance_record(each) for each in balances(batch)]}
