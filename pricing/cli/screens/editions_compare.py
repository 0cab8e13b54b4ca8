"""What `troytag editions FOLDER compare` shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from rich.text import Text

from pricing.cli.screens import screen
from pricing.cli.screens.stacking import Indented
from pricing.shown import NOTHING, Shown
from pricing.studies.publishing.editions_compared import cost_words


def show(compared: dict[str, Any], currencies: Mapping[str, str]) -> None:
    """The prices that differ, and why costs do."""
    console, shown = screen.out(), Shown(compared["currency"], currencies=currencies)
    before, after = compared["before"], compared["after"]
    both = " and ".join(f"edition {each['number']} of {each['as_of']}" for each in (before, after))
    console.print(f"From {both}, {shown.currency}".replace(" and ", " to ", 1))
    quiet = 0
    for record in compared["variants"]:
        moved = [price for price in record["prices"] if price["before"] != price["after"]]
        if not moved:
            quiet += 1
            continue
        head = Text.assemble((record["sku"], "bold"), f"  {record['alloy']}")
        table = screen.table(("", "before", "after", "more"), list(_lines(shown, moved)))
        console.print(Text(), Indented(head, 0), Indented(Text(cost_words(shown, record))), Indented(table))
    console.print()
    if quiet:
        console.print(f"Of {quiet} more variant{'' if quiet == 1 else 's'} the cost changed and no price did.")
    if not compared["variants"]:
        console.print("Nothing differs.")


def _lines(shown: Shown, moved: list[dict[str, Any]]) -> Iterator[tuple[str, str, str, str]]:
    for price in moved:
        both = price["before"] is not None and price["after"] is not None
        more = shown.price(price["channel"], price["after"] - price["before"], signed=True) if both else NOTHING
        name = price["channel"]
        yield shown.channel(name), shown.price(name, price["before"]), shown.price(name, price["after"]), more
