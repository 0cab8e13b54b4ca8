"""What `troytag log FOLDER learn` prints: what the log says against the files, figure by figure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from rich.text import Text

from pricing.cli.screens import screen
from pricing.learning import in_words
from pricing.learning.learned import together
from pricing.learning.rows import Learned, Learning
from pricing.shown import Shown

#: What is told of a figure is set in so far.
INDENT = "  "


def show(learning: Learning, each: bool) -> None:
    """Figures that would be others, those that hold, those of which too little is known; each product's where asked."""
    console = screen.out()
    console.print(f"{learning.costing.folder.stated.workshop.name}: {in_words.heading(learning)}")
    console.print(in_words.fading(learning))
    parts = (
        ("Other than stated", learning.others),
        ("As stated; only surer", learning.surer),
        ("Too little to say anything yet", learning.too_little),
    )
    for title, rows in parts:
        if rows:
            console.print(f"\n{title}", style="bold")
        for row in rows:
            console.print(Text(row.words, style="bold" if row.changes else ""), soft_wrap=True)
            console.print(Text(f"{INDENT}{row.name}", style="dim"), soft_wrap=True)
            for line in _lines(learning, row, each):
                for part in textwrap.wrap(line, console.width, initial_indent=INDENT, subsequent_indent=INDENT * 2):
                    console.print(part)
    if told := in_words.nothing_new(learning):
        console.print(f"\n{told}")


def _lines(learning: Learning, row: Learned, each: bool) -> Iterator[str]:
    if row.is_too_little:
        yield in_words.seen(row)
        return
    yield f"{in_words.seen(row)}; {in_words.now(row)}"
    yield from in_words.remarks(row, Shown(learning.costing.computed.resolved.currency))
    if each:
        yield from (in_words.own_words(row, own) for own in row.own)


def show_together(learning: Learning, rows: Sequence[Learned]) -> None:
    """What all accepted figures together would do to costs and prices."""
    effect = together(learning, rows)
    if effect.cost is None:
        return
    resolved = learning.costing.computed.resolved
    lines = [f"All together: {in_words.effect_words(effect, Shown(resolved.currency))}."]
    if effect.price is not None:
        price = effect.price
        shown = Shown(next(each.currency for each in resolved.channels if each.name == price.channel))
        moved = f"{in_words.named(price)}, {price.channel}, {in_words.from_to(price, shown)}"
        lines.append(f"The price that moves most: {moved}.")
    screen.out().print()
    for line in lines:
        screen.out().print(line)


def tell_next(folder: Path) -> None:
    """What to type next, to stderr."""
    screen.err().print(f"What prices do now: troytag reprice {folder}")


def records(learning: Learning) -> list[dict[str, Any]]:
    """One plain record a figure: what `--json` and `--csv` print."""
    return [
        {
            "figure": row.name,
            "words": row.words,
            "file": row.file,
            "step": row.figure.step or None,
            "key": row.figure.key,
            "stated": row.stated,
            "batches": row.batches,
            "count": row.count,
            "seen": row.seen,
            "mean": row.mean,
            "low": row.low,
            "high": row.high,
            "proposed": row.to,
            "changes": row.changes,
            "shared_so_far": row.shared_by or None,
            "learning_rate": row.curve.rate if row.curve and row.curve.is_told else None,
            "prices_moved": row.effect.prices if row.effect else 0,
            "products": [{"sku": each.sku, "alloy": each.alloy} for each in row.takers],
            "own": [
                {"sku": own.sku, "alloy": own.alloy, "count": own.count, "seen": own.seen,
                 "mean": own.mean, "low": own.low, "high": own.high}
                for own in row.own
            ],
        }
        for row in learning.rows
    ]  # fmt: skip
