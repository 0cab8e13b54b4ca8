"""What the log says of a figure, in the sentences that every face shows."""

from __future__ import annotations

from collections.abc import Iterator

from pricing.learning.rows import Effect, Learned, Learning, Moved, Own
from pricing.shown import Shown


def heading(learning: Learning) -> str:
    """`10 batches of the log against the files, as of 2026-11-20.`"""
    return f"{_batches(learning.batches)} of the log against the files, as of {learning.as_of}."


def fading(learning: Learning) -> str:
    return f"A batch of {learning.half_life:g} days ago counts half. In brackets: where it lies nine times in ten."


def nothing_new(learning: Learning) -> str:
    """Of which figures it says nothing; empty where there are none."""
    if learning.known_already:
        figures = f"{learning.known_already} {'figure' if learning.known_already == 1 else 'figures'}"
        return f"Of {figures} it says nothing that was not learned before."
    return "" if learning.rows else "Nothing in it speaks of a figure of this folder."


def seen(row: Learned) -> str:
    """`stated 5; seen 7 in 9 batches`."""
    return f"stated {figure(row.stated)}; seen {figure(row.seen)} in {counted(row)}"


def now(row: Learned) -> str:
    """`now 6.7 (5.6 to 7.9)`; to be asked of what enough is known of."""
    assert row.to is not None and row.range is not None
    return f"now {row.to:g} ({row.range[0]:g} to {row.range[1]:g})"


def remarks(row: Learned, shown: Shown) -> Iterator[str]:
    """What else there is to say: that it lies apart, that it goes quicker, what costs and prices do."""
    if row.shared_by:
        taker = row.takers[0]
        yield f"{taker.sku} in {taker.alloy} lies apart: a figure of its own, no more {row.shared_words}"
    if row.curve is not None and row.curve.is_told:
        curve = row.curve
        more = curve.minutes_of(curve.made, curve.made)
        yield (
            f"it goes quicker: after each doubling {curve.rate:.0%} of the time ({curve.low:.0%} to {curve.high:.0%}); "
            f"{curve.made:g} made, as many more would take {more:.3g} min each"
        )
    if row.effect is not None:
        yield effect_words(row.effect, shown)


def effect_words(effect: Effect, shown: Shown) -> str:
    """`acorn-knob in sterling costs 22.34, so far 21.94; 30 prices asked would move`."""
    if effect.cost is None:
        return "no cost changes by it"
    prices = f"{effect.prices} {'price' if effect.prices == 1 else 'prices'}" if effect.prices else "no price"
    alike = shown.money(effect.cost.before) == shown.money(effect.cost.after)
    costs = "costs hardly change" if alike else f"{named(effect.cost)} costs {from_to(effect.cost, shown)}"
    return f"{costs}; {prices} asked would move"


def own_words(row: Learned, own: Own) -> str:
    """`hook in brass: seen 1 in 3.6 trials, by itself 0.91 (0.77 to 0.99)`."""
    between = f"({figure(own.low)} to {figure(own.high)})"
    found = f"seen {figure(own.seen)} in {_count(own.count, row.counted)}"
    return f"{own.sku} in {own.alloy}: {found}, by itself {figure(own.mean)} {between}"


def named(moved: Moved) -> str:
    return f"{moved.sku} in {moved.alloy}"


def from_to(moved: Moved, shown: Shown) -> str:
    return f"{shown.money(moved.after)}, so far {shown.money(moved.before)}"


def counted(row: Learned) -> str:
    """`137 trials (10 batches)` of what is tried, `8 batches` of what is measured."""
    batches = _batches(row.batches)
    return f"{_count(row.count, row.counted)} ({batches})" if row.counted == "trials" else batches


def figure(value: float) -> str:
    """A figure with three digits, as people read it."""
    return f"{value:.3g}"


def _count(count: float, word: str) -> str:
    """`1 trial`, `3.6 batches`."""
    said = figure(count)
    return f"{said} {word if said != '1' else word.removesuffix('es' if word == 'batches' else 's')}"


def _batches(count: int) -> str:
    return f"{count} {'batch' if count == 1 else 'batches'}"
