"""What `troytag reprice --from` shows: how far it is, and what all prices come to."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType
from typing import Any

from pricing.cli.screens import screen
from pricing.cli.screens.progress import progress
from pricing.shown import percent

#: Without a terminal a line is told each time so much more is done.
TOLD_EVERY = 0.1


def note(text: str) -> None:
    """A sentence to whoever waits."""
    print(text, file=sys.stderr)


@contextmanager
def telling(rows: int) -> Iterator[Callable[[int, int], None]]:
    """A bar with the time that is left; where nobody looks at a terminal, a line for each tenth."""
    if sys.stderr.isatty():
        with progress(f"{rows:,} variants") as share:
            yield lambda done, of: share(done / max(1, of))
        return
    from time import monotonic

    began, told, first = monotonic(), 0.0, -1

    def tell(done: int, of: int) -> None:
        nonlocal told, first
        first = done if first < 0 else first
        share = done / max(1, of)
        if share >= told + TOLD_EVERY and done < of:
            told = share
            left = (monotonic() - began) * (of - done) / max(1, done - first)
            note(f"{done:,} of {of:,} variants, {left:,.0f} s left" if done > first else f"{done:,} of {of:,} variants")

    yield tell


def show(record: Mapping[str, Any]) -> None:
    """The sums by channel as a table."""
    rows = [
        [
            each["channel"],
            f"{each['prices']:,}",
            *(f"{each['verdicts'][verdict]:,}" for verdict in ("new", "hold", "raise", "lower", "none")),
            _money(each["unit_cost"]["mean"]),
            _money(each["asked"]["mean"]),
            *(percent(each["margin_asked"][name]) for name in ("mean", "p10", "p50", "p90")),
            f"{each['under']['prices']:,}",
        ]
        for each in record["channels"]
    ]
    under = record["channels"][0]["under"]["margin"] if record["channels"] else 0.0
    heads = [
        "channel", "prices", "new", "hold", "raise", "lower", "none", "mean cost", "mean asked", "margin asked", "P10",
        "P50", "P90", f"under {100 * under:g} %",
    ]  # fmt: skip
    screen.out().print(screen.table(heads, rows))
    seconds = f"{record['seconds']:,.1f} s"
    print(f"{record['variants']:,} variants, {record['prices']:,} prices as of {record['as_of']}, in {seconds}.")
    print(f"Costs are in {record['currency']}, prices in the currency of their channel.")
    none = sum(each["verdicts"]["none"] for each in record["channels"])
    if none:
        why = {name for each in record["channels"] for name in each["reasons"] if name in _WHY}
        note(f"{none:,} prices cannot be had: {'; '.join(_WHY[name] for name in sorted(why))}. Verdict: none.")
    if record["to"]:
        print(record["to"])


#: Why a price cannot be had.
_WHY: Mapping[str, str] = MappingProxyType(
    {
        "fees_take_all": "the fees take what the policy leaves",
        "no_own_hour": "no hour of the maker's own is spent, so it cannot earn so much an hour",
        "too_heavy": "the order is heavier than every tier of postage",
        "too_large": "a figure is too large to compute with",
    }
)


def _money(amount: float | None) -> str:
    return "" if amount is None else f"{amount:,.2f}"
