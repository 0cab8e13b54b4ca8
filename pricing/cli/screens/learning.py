"""What `troytag log FOLDER learn` prints: what the log says against the files, figure by figure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from rich.text import Text

from pricing.cli.screens import screen
from pricing.learning.learned import together
from pricing.learning.rows import Effect, Learned, Learning, Moved
from pricing.shown import Shown

#: What is told of a figure is set in so far.
INDENT = "  "


def show(learning: Learning, each: bool) -> None:
    """Figures that would be others, those that hold, those of which too little is known; each product's where asked."""
    console = screen.out()
    name = learning.costing.folder.stated.workshop.name
    count = f"{learning.batches} {'batch' if learning.batches == 1 else 'batches'}"
    console.print(f"{name}: {count} of the log against the files, as of {learning.as_of}.")
    faded = f"A batch of {learning.half_life:g} days ago counts half. In brackets: where it lies nine times in ten."
    console.print(faded)
    parts = (
        ("Other than stated", [row for row in learning.rows if row.changes]),
        ("As stated; only surer", [row for row in learning.rows if not row.changes and not row.is_too_little]),
        ("Too little to say anything yet", [row for row in learning.rows if row.is_too_little]),
    )
    for title, rows in parts:
        if rows:
            console.print(f"\n{title}", style="bold")
        for row in rows:
            _block(learning, row, each)
    if learning.known_already:
        figures = f"{learning.known_already} {'figure' if learning.known_already == 1 else 'figures'}"
        console.print(f"\nOf {figures} it says nothing that was not learned before.")
    elif not learning.rows:
        console.print("\nNothing in it speaks of a figure of this folder.")


def _block(learning: Learning, row: Learned, each: bool) -> None:
    console = screen.out()
    console.print(Text(row.name, style="bold" if row.changes else ""), soft_wrap=True)
    for line in _lines(learning, row, each):
        for part in textwrap.wrap(line, console.width, initial_indent=INDENT, subsequent_indent=INDENT * 2):
            console.print(part)


def _lines(learning: Learning, row: Learned, each: bool) -> Iterator[str]:
    shown = Shown(learning.costing.computed.resolved.currency)
    seen = f"stated {figure(row.stated)}; seen {figure(row.seen)} in {counted(row)}"
    if row.is_too_little:
        yield seen
        return
    assert row.to is not None and row.range is not None  # that is what makes it one of which enough is known
    yield f"{seen}; now {row.to:g} ({row.range[0]:g} to {row.range[1]:g})"
    if row.shared_by:
        taker = row.takers[0]
        yield f"{taker.sku} in {taker.alloy} lies apart: a figure of its own, no more {row.shared_by}"
    if row.curve is not None and row.curve.is_told:
        curve = row.curve
        more = curve.minutes_of(curve.made, curve.made)
        yield (
            f"it goes quicker: after each doubling {curve.rate:.0%} of the time ({curve.low:.0%} to {curve.high:.0%}); "
            f"{curve.made:g} made, as many more would take {more:.3g} min each"
        )
    if row.effect is not None:
        yield from effect_lines(row.effect, shown)
    if each:
        for own in row.own:
            between = f"({figure(own.low)} to {figure(own.high)})"
            seen = f"seen {figure(own.seen)} in {own.count:.3g} {row.counted}"
            yield f"{own.sku} in {own.alloy}: {seen}, by itself {figure(own.mean)} {between}"


def effect_lines(effect: Effect, shown: Shown) -> Iterator[str]:
    """`most of all acorn-knob in sterling costs 22.34, so far 21.94; 30 prices would be asked otherwise`."""
    if effect.cost is None:
        yield "no cost changes by it"
        return
    prices = f"{effect.prices} {'price' if effect.prices == 1 else 'prices'}" if effect.prices else "no price"
    alike = shown.money(effect.cost.before) == shown.money(effect.cost.after)
    costs = "costs hardly change" if alike else f"{_named(effect.cost)} costs {_from(effect.cost, shown)}"
    yield f"{costs}; {prices} asked would move"


def _named(moved: Moved) -> str:
    return f"{moved.sku} in {moved.alloy}"


def _from(moved: Moved, shown: Shown) -> str:
    return f"{shown.money(moved.after)}, so far {shown.money(moved.before)}"


def counted(row: Learned) -> str:
    """`137 trials (10 batches)`, `6.9 of 8 batches` where older ones have faded."""
    batches = f"{row.batches} {'batch' if row.batches == 1 else 'batches'}"
    return f"{row.count:.3g} trials ({batches})" if row.counted == "trials" else batches


def figure(value: float) -> str:
    """A figure with three digits, as people read it."""
    return f"{value:.3g}"


def show_together(learning: Learning, rows: Sequence[Learned]) -> None:
    """What all accepted figures together would do to costs and prices."""
    effect = together(learning, rows)
    shown = Shown(learning.costing.computed.resolved.currency)
    if effect.cost is None:
        return
    lines = [f"All together: {line}." for line in effect_lines(effect, shown)]
    if effect.price is not None:
        price = effect.price
        currency = next(
            each for each in learning.costing.computed.resolved.channels if each.name == price.channel
        ).currency
        lines.append(f"The price that moves most: {_named(price)}, {price.channel}, {_from(price, Shown(currency))}.")
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
