"""How the work of figures is printed: name, meaning, symbols, numbers put in, result."""

from __future__ import annotations

from collections.abc import Iterable

from rich.text import Text

from pricing.cli.screens import screen
from pricing.formulas.work import Work, Worker, lines_of


def print_work(
    worker: Worker, names: Iterable[str], behind: bool, variant: int, channels: Iterable[int], currency: str
) -> None:
    """The work of some quantities of a variant in some channels, by their places, each once.

    With `behind` that of all that leads to them, too.
    """
    for each in worker.once(names, behind, variant, channels):
        _print_one(each, currency)


def _print_one(each: Work, currency: str) -> None:
    name, meaning, *rest = lines_of(each, currency)
    screen.out().print(Text("\n").join((Text(f"\n{name}", "bold"), Text(meaning, "dim"), *map(Text, rest))))
