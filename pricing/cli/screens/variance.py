"""What `troytag log variance` and `troytag stock margins` show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pricing.batches.model import Batch
from pricing.cli.screens import screen
from pricing.formulas.engine import Computed
from pricing.shown import Shown, percent
from pricing.studies.earned import margin_records, really_earned
from pricing.studies.variance import Variances


def show(found: Variances, computed: Computed, batches: Sequence[Batch], shown: Shown) -> None:
    """What the batches cost beside the standard, by batch, then the margins."""
    console = screen.out()
    days = sorted({batch.day for batch in batches})
    span = f"{days[0]}" if len(days) == 1 else f"{days[0]} to {days[-1]}"
    number = f"{len(batches)} {'batch' if len(batches) == 1 else 'batches'}"
    console.print(f"Standard against actual, {span}, {number}, amounts in {shown.currency}", style="bold")
    console.print()
    rows = [
        (each["batch"], each["of"], *(shown.money(each[name], signed=name in SIGNED) if each[name] is not None else ""
                                      for name in COLUMNS))
        for each in [*flat(found), _sum(found)]
    ]  # fmt: skip
    heads = ("batch", "of", *COLUMNS)
    console.print(screen.table(heads, rows, left=2, strong=[len(rows) - 1]))
    records = _margins(found, computed)
    if records:
        console.print()
        _show_margins(records, shown, "really")
    screen.advise([f"left out: {each}" for each in found.left_out])


#: The columns of money, and those that are differences.
COLUMNS = ("standard", "price", "usage", "loss", "time", "actual")
SIGNED = frozenset({"price", "usage", "loss", "time"})


def flat(found: Variances) -> list[dict[str, Any]]:
    """A line for each alloy and each step of every batch."""
    metal = [
        {"batch": str(each.number), "of": each.alloy, "standard": each.standard, "price": each.by_price,
         "usage": each.by_usage, "loss": each.by_loss, "time": None, "actual": each.actual}
        for each in found.metal
    ]  # fmt: skip
    time = [
        {"batch": str(each.number), "of": each.step, "standard": each.standard, "price": None, "usage": None,
         "loss": None, "time": each.by_time, "actual": each.actual}
        for each in found.time
    ]  # fmt: skip
    return sorted([*metal, *time], key=lambda each: int(each["batch"]))


def _sum(found: Variances) -> dict[str, Any]:
    return {"batch": "in all", "of": "", "standard": found.standard, **found.causes, "actual": found.actual}


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
