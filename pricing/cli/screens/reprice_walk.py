"""Deciding price by price on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Container, Iterator

from pricing.cli.screens.reprice import because, may_publish
from pricing.errors import UsageFault
from pricing.shown import percent, shown_of
from pricing.studies.repricing.reprice import Chosen, RepricedRow, Repricing, Word, reprice

#: What a maker may answer.
ANSWERS = ("", "a", "h", "q", "x")


def walk(
    repricing: Repricing,
    words: dict[Chosen, Word],
    shown: tuple[Container[str], Container[str], Container[str]],
    publish: bool,
) -> tuple[Repricing, bool]:
    """The repricing with the maker's words, and whether to publish it. Raises UsageFault where nobody can answer."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageFault("--interactive needs a terminal. Decide with --accept and --hold instead.")
    told = dict(words)
    print("Enter: as proposed · a: what the policy asks · h: hold · q: the rest as proposed · x: leave all as it is")
    for row in _open_rows(repricing, shown):
        answer = _answer(repricing, row)
        if answer == "x":
            raise SystemExit("Nothing is published.")
        if answer == "q":
            break
        if answer:
            told[row.sku, row.alloy, row.channel] = "accept" if answer == "a" else "hold"
    decided = reprice(repricing.costing, repricing.edition, told)
    if not publish and decided.moved():
        print()
        publish = may_publish(decided, yes=False)
    print()
    return decided, publish


def _open_rows(
    repricing: Repricing, shown: tuple[Container[str], Container[str], Container[str]]
) -> Iterator[RepricedRow]:
    """The rows about which there is something to decide."""
    skus, alloys, channels = shown
    for row in repricing.rows:
        chosen = row.sku in skus and row.alloy in alloys and row.channel in channels
        if chosen and row.held is not None and row.asked is not None and row.reason != "same":
            yield row


def _answer(repricing: Repricing, row: RepricedRow) -> str:
    shown = shown_of(repricing.costing.folder.stated)
    proposed = "hold" if row.verdict == "hold" else f"{row.verdict} to {shown.price(row.channel, row.to)}"
    held = f"{shown.price(row.channel, row.held)} earns {percent(row.earns)}"
    print(
        f"\n{row.sku} in {row.alloy}, {shown.channel(row.channel)}: {held}; "
        f"asked {shown.price(row.channel, row.asked)} for {percent(row.would_earn)}"
    )
    while True:
        answer = input(f"  {proposed} ({because(repricing, row)})? ").strip().lower()
        if answer in ANSWERS:
            return answer
        print("  Enter, a, h, q or x.")
