"""What `troytag log variance` and `troytag stock margins` show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pricing.batches.model import Batch
from pricing.cli.screens import screen
from pricing.formulas.engine import Computed
from pricing.shown import Shown, percent
from pricing.studies.actual.earned import margin_records, really_earned
from pricing.studies.actual.variance import COLUMNS, Variances, flat, in_words


def show(found: Variances, computed: Computed, batches: Sequence[Batch], shown: Shown) -> None:
    """What the batches cost beside the standard, by batch, then the margins."""
    console = screen.out()
    days = sorted({batch.day for batch in batches})
    span = f"{days[0]}" if len(days) == 1 else f"{days[0]} to {days[-1]}"
    number = f"{len(batches)} {'batch' if len(batches) == 1 else 'batches'}"
    console.print(f"Standard against actual, {span}, {number}, amounts in {shown.currency}", style="bold")
    console.print()
    rows = [(name, *amounts) for name, amounts in in_words(found, shown)]
    heads = ("batch", *COLUMNS)
    console.print(screen.table(heads, rows, strong=[len(rows) - 1]))
    records = _margins(found, computed)
    if records:
        console.print()
        _show_margins(records, shown, "really")
    screen.advise([f"left out: {each}" for each in found.left_out])


def _margins(found: Variances, computed: Computed) -> list[dict[str, Any]]:
    """The margins of what was made and is sold by itself, as they should be and as they were."""
    rows = sorted({each.row for each in found.made if each.row < len(computed.resolved.variants)})
    return margin_records(computed, really_earned(computed, found.made), rows)


def _show_margins(records: Sequence[Mapping[str, Any]], shown: Shown, other: str) -> None:
    rows = [
        (
            each["sku"],
            each["alloy"],
            shown.channel(each["channel"]),
            shown.price(each["channel"], each["price"]),
            shown.money(each["unit_cost"]),
            shown.money(each["other_cost"]),
            percent(each["margin"], 1),
            percent(each["other_margin"], 1),
        )
        for each in records
    ]
    heads = ("piece", "alloy", "channel", "price", "cost", other, "margin", other)
    screen.out().print(screen.table(heads, rows, left=3))


def margins(records: Sequence[Mapping[str, Any]], shown: Shown) -> None:
    """Margins by what metal costs today, and by what was paid for it."""
    _show_margins(records, shown, "paid")


def record(found: Variances, computed: Computed, batches: Sequence[Batch]) -> dict[str, Any]:
    """All of it for `--json`."""
    return {
        "batches": [batch.number for batch in batches],
        "standard": found.standard,
        "actual": found.actual,
        "causes": dict(found.causes),
        "lines": flat(found),
        "margins": _margins(found, computed),
        "left_out": list(found.left_out),
    }
