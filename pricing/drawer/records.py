"""The drawer and its entries as plain records by name: for `--json`, `--csv` and notebooks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from pricing.drawer.state import Move
from pricing.drawer.worth import Lying, total


def record(each: Lying) -> dict[str, Any]:
    """What lies there of one alloy and form, for `--json` and `--csv`."""
    return {
        "alloy": each.alloy,
        "form": each.form,
        "grams": each.held.grams,
        "average_cost_per_g": each.held.average,
        "cost_paid": each.held.cost_paid,
        "today_per_g": each.today_per_g,
        "worth_today": each.today,
    }


def records(found: Sequence[Lying], currency: str, on: date) -> dict[str, Any]:
    """The whole drawer for `--json`."""
    return {
        "as_of": on.isoformat(),
        "currency": currency,
        "drawer": [record(each) for each in found],
        "cost_paid": total([each.held.cost_paid for each in found]),
        "worth_today": total([each.today for each in found]),
    }


def move_record(move: Move) -> dict[str, Any]:
    """One line of an entry, for `--json` and `--csv`."""
    return {
        "number": move.entry.number,
        "day": move.entry.day.isoformat(),
        "what": move.line.what,
        "alloy": move.line.alloy,
        "form": move.line.form,
        "grams": move.line.grams,
        "moved_g": move.moved_g,
        "after_g": move.after.grams,
        "cost": move.cost_moved,
        "difference_g": move.difference,
        "money": move.line.money,
        "currency": move.entry.currency,
        "rate": move.entry.rate,
        "batch": move.entry.batch,
        "corrects": move.entry.corrects,
        "note": move.entry.note,
    }
