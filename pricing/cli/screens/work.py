"""How the work of figures is printed: name, meaning, symbols, numbers put in, result."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from pricing.cli.screens import screen
from pricing.formulas.work import Work, Worker, result_words


def print_work(
    worker: Worker, names: Iterable[str], behind: bool, variant: int, channels: Iterable[int], currency: str
) -> None:
    """The work of some quantities of a variant in some channels, by their places, each once.

    With `behind` that of all that leads to them, too.
    """
    names, seen = list(names), set()
    for channel in channels if any(worker.is_of_channel(name) for name in names) else [None]:
        for each in worker.behind(names, variant, channel) if behind else worker.each(names, variant, channel):
            if (each.quantity, each.place) not in seen:
                seen.add((each.quantity, each.place))
                _print_one(each, currency)


def _print_one(each: Work, currency: str) -> None:
    console = screen.out()
    place = f" · {each.place}" if each.place else ""
    console.print(f"\n{each.quantity}{place}", style="bold")
    console.print(_hanging(each.meaning, "  "), style="dim")
    console.print(_hanging(each.symbols, "  = "))
    console.print(_hanging(each.numbers, "  = "))
    console.print(f"  = {result_words(each, currency)}")


def _hanging(text: str, lead: str) -> str:
    indent = " " * len(lead)
    return textwrap.fill(text, 80, initial_indent=lead, subsequent_indent=indent, break_on_hyphens=False)
