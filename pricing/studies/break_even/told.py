"""Break-even in words, as terminal and page tell it."""

from __future__ import annotations

from pricing.shown import percent
from pricing.studies.break_even.reach import BreakEven, Reach

#: A price may rise "any" so many times: no metal of the trade has ever become a hundred times as dear.
ANY = 100


def summary(each: BreakEven) -> str:
    """How far all metals may rise together until only the least margin (*: nothing) is left."""
    if each.all_metals is None:
        return "no metal"
    reach = each.all_metals.at_least or each.all_metals.at_nothing
    mark = "" if each.all_metals.at_least else " *"
    return ("below" if reach.times is None or reach.times < 1 else rise(reach)) + mark


def cells(reach: Reach | None) -> tuple[str, str]:
    """The price of the metal at which a margin is reached, and its rise until there; "below" where it never was."""
    if reach is None:
        return "", ""
    if reach.times is None:
        return "below", ""
    return ("" if reach.price is None or (reach.times or 0) >= ANY else f"{reach.price:,.2f}"), rise(reach)


def rise(reach: Reach) -> str:
    """A rise as a share, a large one in times, one that no metal ever saw as "any"."""
    times = reach.times
    if times is not None and times >= ANY:
        return "any"
    return f"× {times:,.0f}" if times is not None and times >= 10 else percent(reach.rise, signed=True)
