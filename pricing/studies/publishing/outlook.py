"""What publishing would change in a few figures: how many prices rise and fall, how far, what earns too little."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pricing.shown import Shown, percent
from pricing.studies.repricing.reprice import RepricedRow, Repricing

#: A margin this much under its least is noise of the arithmetic.
MARGIN_NOISE = 1e-12


@dataclass(frozen=True)
class Outlook:
    """The edition that would be published against the one in force.

    `most_up`, `most_down` are the rows whose price moves furthest as a fraction of what it was, None where none does;
    `too_low` those that earn less than their channel's least margin at the price to be published.
    """

    new: int
    up: int
    down: int
    held: int
    gone: int
    most_up: RepricedRow | None
    most_down: RepricedRow | None
    too_low: tuple[RepricedRow, ...]

    def sentences(self, shown: Shown) -> list[str]:
        """The outlook in words, as terminal and page say it."""
        counts = [
            f"{number} {word}"
            for number, word in (
                (self.new, "new"),
                (self.up, "rise"),
                (self.down, "fall"),
                (self.held, "stay"),
                (self.gone, "sold no more"),
            )
            if number
        ]
        said = [f"Prices: {', '.join(counts)}."]
        said += [
            f"The furthest {word}: {_called(row, shown)} from {shown.price(row.channel, row.held)} "
            f"to {shown.price(row.channel, row.to)}, "
            f"{percent(_moved(row), signed=True)}."
            for word, row in (("up", self.most_up), ("down", self.most_down))
            if row
        ]
        if self.too_low:
            more = f" and {len(self.too_low) - 1} more" if len(self.too_low) > 1 else ""
            first = self.too_low[0]
            said.append(f"Under the least margin: {_called(first, shown)} at {percent(first.earns_then)}{more}.")
        return said


def outlook(repricing: Repricing) -> Outlook:
    """What publishing this repricing would change."""
    rows = repricing.rows

    def count(verdict: str) -> int:
        return sum(row.verdict == verdict for row in rows)

    def furthest(verdict: str, choose: Callable[..., Any]) -> RepricedRow | None:
        found: RepricedRow | None = choose((row for row in rows if row.verdict == verdict), key=_moved, default=None)
        return found

    channels = repricing.costing.folder.stated.channels
    least = {name: own.reprice.least_margin for name, own in channels.items() if own.reprice}
    too_low = tuple(
        row
        for row in rows
        if row.earns_then is not None
        and (floor := least.get(row.channel)) is not None
        and row.earns_then < floor - MARGIN_NOISE
    )
    return Outlook(
        new=count("new"),
        up=count("raise"),
        down=count("lower"),
        held=count("hold"),
        gone=count("gone"),
        most_up=furthest("raise", max),
        most_down=furthest("lower", min),
        too_low=too_low,
    )


def _moved(row: RepricedRow) -> float:
    """How far a price moves, as a fraction of what it was."""
    return row.to / row.held - 1 if row.to is not None and row.held else 0.0


def _called(row: RepricedRow, shown: Shown) -> str:
    return f"{row.sku} in {row.alloy} ({shown.channel(row.channel)})"
