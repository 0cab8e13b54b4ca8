"""What `troytag log` shows."""

from __future__ import annotations

from collections.abc import Sequence

from pricing.batches.balance import balances, missing_in_all
from pricing.batches.in_words import in_a_sentence, minutes_in_all
from pricing.batches.model import Batch
from pricing.cli.screens import screen
from pricing.drawer.model import KeptEntry
from pricing.shown import Shown, percent


def show_list(batches: Sequence[Batch], alloy: str | None, shown: Shown) -> None:
    """A line for each alloy of each batch, and what is missing in all."""
    rows = [
        (
            f"{batch.number} {each.alloy}",
            batch.day.isoformat(),
            *(shown.mass(grams, unit=False) for grams in
              (each.charge_g, each.castings_g, each.back_g, each.rejected_g, each.missing_g)),
            percent(each.missing_share, 1),
            shown.mass(each.expected_g, unit=False),
            shown.money(each.missing_money),
        )
        for batch in batches
        for each in balances(batch)
        if alloy in (None, each.alloy)
    ]  # fmt: skip
    heads = ("batch", "day", "charge", "castings", "back", "rejects", "missing", "%", "expected", shown.currency)
    console = screen.out()
    console.print(f"Batches, {shown.show.mass} as weighed", style="bold")
    console.print()
    console.print(screen.table(heads, rows, left=2))
    console.print()
    for lost in missing_in_all(batches):
        if alloy in (None, lost.alloy):
            console.print(in_a_sentence(lost, shown))


def one(batch: Batch, shown: Shown) -> None:
    """One batch whole."""
    console = screen.out()
    corrects = "" if batch.corrects is None else f", corrects batch {batch.corrects}"
    console.print(f"Batch {batch.number} of {batch.day}{corrects}", style="bold")
    if batch.note:
        console.print(batch.note)
    rows = [
        (
            str(place),
            flask.alloy,
            *(shown.mass(grams, unit=False) for grams in
              (flask.fresh_g, flask.returned_g, flask.castings_g, flask.back_g, flask.rejected_g, flask.lemel_g)),
        )
        for place, flask in enumerate(batch.flasks, 1)
    ]  # fmt: skip
    if rows:
        console.print()
        heads = ("flask", "alloy", "fresh", "returned", "castings", "back", "rejects", "lemel")
        console.print(screen.table(heads, rows, left=2))
    pieces = [
        (
            str(place),
            each.sku if each.size is None else f"{each.sku}, {each.size}",
            str(each.started),
            str(each.good),
            ", ".join(f"{number} {step}" for step, number in each.rejected.items() if number),
        )
        for place, flask in enumerate(batch.flasks, 1)
        for each in flask.pieces
    ]
    if pieces:
        console.print()
        made = screen.table(("flask", "piece", "started", "good", "spoiled at"), pieces, left=2)
        made.columns[-1].justify, made.columns[-1].no_wrap = "left", False
        console.print(made)
    minutes = minutes_in_all(batch)
    if minutes:
        console.print()
        console.print(screen.table(("step", "minutes"), [(step, f"{spent:g}") for step, spent in minutes.items()]))
    console.print()
    for balance in balances(batch):
        console.print(in_a_sentence(balance, shown))


def added(batch: Batch, entry: KeptEntry | None, shown: Shown) -> str:
    """What became of a card, and what is missing."""
    drew = "" if entry is None else f" The drawer is kept in step by entry {entry.number}."
    lines = [f"Batch {batch.number} of {batch.day} is written down.{drew}"]
    return "\n".join([*lines, *(in_a_sentence(each, shown) for each in balances(batch))])
