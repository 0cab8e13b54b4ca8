"""What `troytag reprice` shows: variants of which a price moves, why their cost changed, the verdict of each price."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TypeAlias

from rich.text import Text

from pricing.cli.screens import screen
from pricing.cli.screens.stacking import Indented, Stacking
from pricing.editions.chain import Edition
from pricing.model.workshop import Show
from pricing.shown import COSTS, Shown, metal_of, percent, shown_of
from pricing.studies.causes.of_repricing import Changes, CostChange
from pricing.studies.publishing.outlook import outlook
from pricing.studies.publishing.rates_moved import rates_moved
from pricing.studies.repricing.reprice import RepricedRow, Repricing, Verdict
from pricing.studies.repricing.told import reason_words

#: Held rows that a maker should see all the same: something other than the policy's band holds them.
TOLD = frozenset({"waits", "too_coarse", "asks_less", "kept"})
#: So many parts of a change are named; the rest stands together.
MOST_PARTS = 5
Cells: TypeAlias = tuple[str | Text, ...]
HEADS = ("", "in force", "earns", "asked", "for", "", "to", "")


def show(folder: Path, repricing: Repricing, rows: Sequence[RepricedRow], found: Changes, everything: bool) -> None:
    """The verdicts, variant by variant."""
    console = screen.out()
    resolved = repricing.costing.computed.resolved
    console.print(f"{repricing.costing.folder.stated.workshop.name}, {resolved.currency}, {metal_of(resolved)}")
    console.print(_summary(repricing, rows))
    shown = [row for row in rows if everything or row.reason in TOLD or row.verdict not in ("hold", "new")]
    lines = {id(row): _line(repricing, row) for row in shown}
    widths = _widths(lines.values())
    for (sku, alloy), own in _by_variant(shown):
        said = [Text(), Indented(Text.assemble((sku, "bold"), f"  {alloy}"), 0)]
        told = dict.fromkeys(_cost_line(repricing, found, row) for row in own)
        said += [Indented(Text(line)) for line in told if line]
        console.print(*said, Indented(_table([lines[id(row)] for row in own], widths)))
    if any(row.verdict == "new" for row in rows) and not everything:
        console.print(f"\nNew prices are what the policy asks; see them with --all or: troytag cost {folder}")


def _summary(repricing: Repricing, rows: Sequence[RepricedRow]) -> str:
    count = Counter(row.verdict for row in rows)
    before = repricing.edition
    first = f"In force: edition {before.number} of {before.as_of}." if before else "No edition is published yet."
    words: dict[Verdict, str] = {
        "new": "new",
        "raise": "to raise",
        "lower": "to lower",
        "gone": "sold no more",
        "hold": "to hold",
    }
    told = [f"{count[verdict]} {word}" for verdict, word in words.items() if count[verdict]]
    return f"{first} {len(rows)} prices: {', '.join(told)}." if told else first


def _by_variant(rows: Iterable[RepricedRow]) -> Iterator[tuple[tuple[str, str], list[RepricedRow]]]:
    by_variant: dict[tuple[str, str], list[RepricedRow]] = {}
    for row in rows:
        by_variant.setdefault((row.sku, row.alloy), []).append(row)
    yield from by_variant.items()


def _cost_line(repricing: Repricing, found: Changes, row: RepricedRow) -> str:
    """`a pair costs 29.61, 27.40 on 2026-09-01: Ag +1.90, USD rate +0.31`."""
    change = found.of_cost(row)
    if change is None:
        return ""
    shown = _shown(repricing)
    parts = change.shown_parts(shown.currency)
    then, now = shown.money(change.before), shown.money(change.after)
    product = repricing.costing.folder.products.get(row.sku)
    costs = COSTS[(product.sold_as if product else None) or "each"]
    if not parts:
        return f"{costs} {now}, as on {change.since}"
    return f"{costs} {now}, {then} on {change.since}: {_parts(shown, change)}"


def _shown(repricing: Repricing) -> Shown:
    """Plain gram and millimetres, the channels in their currencies."""
    return shown_of(repricing.costing.folder.stated, Show())


def _parts(shown: Shown, change: CostChange) -> str:
    parts = change.shown_parts(shown.currency)
    named = [f"{group.label} {shown.money(part, signed=True)}" for group, part in parts[:MOST_PARTS]]
    if rest := parts[MOST_PARTS:]:
        named.append(f"{len(rest)} others {shown.money(sum(part for _, part in rest), signed=True)}")
    return ", ".join(named)


def _table(lines: Sequence[Cells], widths: Sequence[int]) -> Stacking:
    table = screen.table(HEADS, lines)
    for column, width in zip(table.columns, widths, strict=True):
        column.min_width = width  # so that the tables of all variants stand in line
    table.columns[5].justify = table.columns[7].justify = "left"
    table.columns[7].no_wrap = False
    return table


def _widths(lines: Iterable[Cells]) -> list[int]:
    every: list[Cells] = [HEADS, *lines]
    return [*(max(len(line[place]) for line in every) for place in range(len(HEADS) - 1)), 0]


def _line(repricing: Repricing, row: RepricedRow) -> Cells:
    shown = _shown(repricing)
    return (
        shown.channel(row.channel),
        shown.price(row.channel, row.held),
        percent(row.earns),
        shown.price(row.channel, row.asked),
        percent(row.would_earn),
        Text(row.verdict, style="dim" if row.verdict == "hold" else "bold"),
        "" if row.to is None or row.verdict == "hold" else Text(shown.price(row.channel, row.to), style="bold"),
        because(repricing, row),
    )


def because(repricing: Repricing, row: RepricedRow) -> str:
    """The reason of a verdict in a few words."""
    return reason_words(row, repricing.costing.folder.stated, _shown(repricing))


def hints(repricing: Repricing, found: Changes) -> list[str]:
    """What deserves a word beside the verdicts."""
    told = [
        f"what changed since edition {number} cannot be told: {why}" for number, why in sorted(found.missing.items())
    ]
    shown = _shown(repricing)
    before = repricing.edition
    if before and before.currency != shown.currency:
        told.append(f"edition {before.number} is in {before.currency}: its prices are not compared, all count as new")
    told += [moved.sentence for moved in rates_moved(repricing)]
    for row in repricing.rows:
        if row.breaks_ladder:
            told.append(
                f"{row.sku} in {row.alloy}: held at {shown.price(row.channel, row.to)} in "
                f"{shown.channel(row.channel)}, below what the ladder asks"
            )
    stated = repricing.costing.folder.stated.channels
    for name, channel in stated.items():
        if channel.reprice is None:
            continue
        least, largest = channel.reprice.least_margin, channel.reprice.largest_step
        own = [row for row in repricing.rows if row.channel == name]
        if least is not None and (low := [row for row in own if _asks_less(row, least)]):
            told.append(f"in {name} the policy itself asks less than least_margin, {percent(least)}, of {_first(low)}")
        if largest is not None and (far := [row for row in own if _leaps(row, largest)]):
            told.append(
                f"in {name} the fixed price of {_first(far)} moves further than largest_step, {percent(largest)}"
            )
    return told


def _first(rows: Sequence[RepricedRow]) -> str:
    more = f" and {len(rows) - 1} more" if len(rows) > 1 else ""
    return f"{rows[0].sku} in {rows[0].alloy}{more}"


def _asks_less(row: RepricedRow, least: float) -> bool:
    return row.would_earn is not None and row.would_earn < least - 1e-12


def _leaps(row: RepricedRow, largest: float) -> bool:
    """Whether a fixed price, which no step holds back, moves by more than the largest step of its channel."""
    if row.reason != "fixed" or row.to is None or not row.held:
        return False
    return abs(row.to / row.held - 1) > largest + 1e-12


def may_publish(repricing: Repricing, yes: bool) -> bool:
    """Whether to publish: asked on a terminal, with what it would change, unless that was said already."""
    if yes or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return True
    print("\n".join(outlook(repricing).sentences(_shown(repricing))))
    return input("Publish it as a new edition? [y/N] ").strip().lower() in ("y", "yes")


def what_next(folder: Path, repricing: Repricing, edition: Edition | None, publish: bool) -> None:
    """What was published, or how to go on."""
    if edition:
        print(f"\nPublished: edition {edition.number} of {edition.as_of}. Look at it: troytag editions {folder} show")
    elif publish and repricing.edition:
        print(f"\nNothing moves: edition {repricing.edition.number} stays in force.")
    elif repricing.moved():
        print(f"\nNothing is published yet. To do it: troytag reprice {folder} --publish")
