"""What `troytag reprice --json` and `--csv` print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from pricing.editions.chain import Edition
from pricing.studies.causes.of_repricing import Changes, CostChange
from pricing.studies.repricing.reprice import RepricedRow, Repricing


def document(
    repricing: Repricing, rows: Sequence[RepricedRow], found: Changes, published: Edition | None
) -> dict[str, Any]:
    """The repricing as one JSON object."""
    before = repricing.edition
    resolved = repricing.costing.computed.resolved
    return {
        "as_of": resolved.as_of.isoformat(),
        "currency": resolved.currency,
        "edition_in_force": {"number": before.number, "as_of": before.as_of.isoformat()} if before else None,
        "published": published.number if published else None,
        "rows": [
            {**_plain(row), "unit_cost": _change(found.of_cost(row)), "asked_since": _change(found.of_price(row))}
            for row in rows
        ],
    }


def flat(rows: Iterable[RepricedRow], found: Changes) -> list[dict[str, Any]]:
    """One record a row; the shares of the change of cost in columns of their own."""
    records = []
    for row in rows:
        record, change = _plain(row), found.of_cost(row)
        if change:
            record |= {"unit_cost_then": change.before, "unit_cost": change.after}
            record |= {f"cost of {group.label}": part for group, part in change.parts}
        records.append(record)
    return records


def _plain(row: RepricedRow) -> dict[str, Any]:
    return {
        "sku": row.sku,
        "alloy": row.alloy,
        "channel": row.channel,
        "verdict": row.verdict,
        "reason": row.reason,
        "decided_by": row.by or None,
        "in_force": row.held,
        "set_on": row.in_force.set_on.isoformat() if row.in_force else None,
        "set_in": row.in_force.set_in if row.in_force else None,
        "margin_now": row.earns,
        "asked": row.asked,
        "margin_asked": row.would_earn,
        "price": row.to,
        "margin": row.earns_then,
        "owing": row.owing,
    }


def _change(change: CostChange | None) -> dict[str, Any] | None:
    if change is None:
        return None
    return {
        "since": change.since.isoformat(),
        "edition": change.edition,
        "before": change.before,
        "after": change.after,
        "because": [
            {"group": group.kind, "name": group.name or None, "label": group.label, "amount": part}
            for group, part in change.parts
        ],
    }
