"""What `troytag reprice --json` and `--csv` print."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from operator import attrgetter
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.editions.chain import Edition
from pricing.json_texts import Written
from pricing.record_forms import AsJson
from pricing.studies.causes.of_change import Causes
from pricing.studies.causes.of_repricing import Changes, Place
from pricing.studies.repricing.reprice import RepricedRow, Repricing

#: What is told of a row, by the names of the records.
TOLD: Mapping[str, Callable[[RepricedRow], Any]] = MappingProxyType(
    {
        "sku": attrgetter("sku"),
        "alloy": attrgetter("alloy"),
        "channel": attrgetter("channel"),
        "verdict": attrgetter("verdict"),
        "reason": attrgetter("reason"),
        "decided_by": lambda row: row.by or None,
        "in_force": attrgetter("held"),
        "set_on": lambda row: row.in_force.set_on.isoformat() if row.in_force else None,
        "set_in": lambda row: row.in_force.set_in if row.in_force else None,
        "margin_now": attrgetter("earns"),
        "asked": attrgetter("asked"),
        "margin_asked": attrgetter("would_earn"),
        "price": attrgetter("to"),
        "margin": attrgetter("earns_then"),
        "owing": attrgetter("owing"),
    }
)


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
        "rows": Written(_rows(rows, found, depth=2)),
    }


def flat(rows: Iterable[RepricedRow], found: Changes) -> list[dict[str, Any]]:
    """One record a row; the shares of the change of cost in columns of their own."""
    records = []
    for row in rows:
        record, change = {name: told(row) for name, told in TOLD.items()}, found.of_cost(row)
        if change:
            record |= {"unit_cost_then": change.before, "unit_cost": change.after}
            record |= {f"cost of {group.label}": part for group, part in change.parts}
        records.append(record)
    return records


def _rows(rows: Sequence[RepricedRow], found: Changes, depth: int) -> list[str]:
    """Each row as JSON, with the changes of the cost and of the asked price behind it."""
    form = AsJson()
    columns = {name: form.words(list(map(told, rows))) for name, told in TOLD.items()}
    columns["unit_cost"] = _changes(rows, found.place_of_cost, form, depth + 1)
    columns["asked_since"] = _changes(rows, found.place_of_price, form, depth + 1)
    return form.records(columns, depth)


def _changes(
    rows: Sequence[RepricedRow], place_of: Callable[[RepricedRow], Place | None], form: AsJson, depth: int
) -> list[str]:
    """What is told of the change behind each row, `null` where there is none; the rows of one edition at once."""
    told = form.words([None] * len(rows))
    by_edition: dict[int, list[tuple[int, Place]]] = {}
    for number, row in enumerate(rows):
        if row.in_force and (place := place_of(row)):
            by_edition.setdefault(row.in_force.set_in, []).append((number, place))
    for edition, places in by_edition.items():
        numbers = [number for number, _ in places]
        causes, at = places[0][1].causes, tuple(np.array([place.at for _, place in places]).T)
        columns = {
            "since": form.words([held.set_on.isoformat() for number in numbers if (held := rows[number].in_force)]),
            "edition": form.words([edition] * len(numbers)),
            "before": form.figures(causes.before[at]),
            "after": form.figures(causes.after[at]),
            "because": _parts(causes, at, form, depth + 1),
        }
        for number, record in zip(numbers, form.records(columns, depth), strict=True):
            told[number] = record
    return told


def _parts(causes: Causes, at: tuple[np.ndarray, ...], form: AsJson, depth: int) -> list[str]:
    """What each change comes of; groups that changed nothing are left out."""
    shares = np.array([share[at] for share in causes.shares.values()]).reshape(-1, len(at[0])).T
    lines, places = np.nonzero(shares)
    groups = list(causes.shares)
    named = [groups[place] for place in places.tolist()]
    columns = {
        "group": form.words([group.kind for group in named]),
        "name": form.words([group.name or None for group in named]),
        "label": form.words([group.label for group in named]),
        "amount": form.figures(shares[lines, places]),
    }
    counts = np.bincount(lines, minlength=len(at[0])).tolist()
    return form.lists(form.records(columns, depth + 1), counts, depth)
