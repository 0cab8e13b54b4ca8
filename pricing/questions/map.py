"""What the policy asks and what today's price earns, against any two figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option, Refused, chosen

if TYPE_CHECKING:
    from pricing.questions.source import Source


def answer(source: Source, said: Mapping[str, Any]) -> Answer:
    """A price and a margin for all values of two figures."""
    from pricing.shown import percent
    from pricing.studies.map_plot import heat_map
    from pricing.studies.maps import map_records

    found, shown = mapped(source, said), source.shown
    channel = found.channel
    resolved_head = source.head(found.out).split(", ", 2)
    heads = ("", *[f"{value:.4g}" for value in found.across.values])
    told = (
        (f"Margin at {shown.price(channel, found.held)}", found.margins, percent),
        ("Price that the policy asks", found.prices, lambda price: shown.price(channel, price)),
    )
    tables = (
        Table(
            heads,
            tuple((f"{value:.4g}", *map(written, line)) for value, line in zip(found.down.values, lines, strict=True)),
            title,
        )
        for title, lines, written in told
    )
    return Answer(
        blocks=(
            f"{resolved_head[0]}, {shown.currency_in(channel)}, {resolved_head[2]}",
            f"{found.sku} in {found.alloy}, {channel}. Down: {found.down.path}. Across: {found.across.path}.",
            *tables,
        ),
        rows=list(map_records(found)),
        document={"as_of": source.day, "currency": source.stated.workshop.currency, "held": found.held},
        drawing=heat_map(found, shown),
        warnings=found.out.costing.warnings,
    )


def mapped(source: Source, said: Mapping[str, Any]) -> Any:
    """The map itself, for whoever shows it otherwise. Raises Refused, UsageFault, Faults."""
    from pricing.folder.inherit import pieces
    from pricing.studies.maps import MOST_STEPS, price_map, side

    steps = said["steps"]
    if not 2 <= steps <= MOST_STEPS:
        raise Refused("steps", f"--steps {steps}: write a number from 2 to {MOST_STEPS}.")
    folder = source.folder
    chosen("sku", "product", [said["sku"]], {**folder.goods, **pieces(folder.products)})
    chosen("alloy", "alloy", [said["alloy"]] if said["alloy"] else None, source.stated.alloys)
    chosen("channel", "channel", [said["channel"]] if said["channel"] else None, source.stated.channels)
    sides = [side(said[each], steps) if said[each] else None for each in ("across", "down")]
    variant = said["sku"], said["alloy"], said["channel"]
    return price_map(folder, variant, sides[0], sides[1], steps, source.asked, source.wanted)


MAP = Question(
    "map",
    "A price against two figures",
    "A price and a margin against any two figures.",
    (
        Option("sku", "product", "The product, or one size of it.", "Piece", required=True),
        Option("alloy", "alloy", "Its alloy; the first."),
        Option("channel", "channel", "The first if left out.", "Sold in"),
        Option(
            "across",
            "words",
            "A figure as doubts.toml names it, or metal_prices.Ag; the leading metal's price if left out.",
            example="FIGURE=A..B",
        ),
        Option("down", "words", "Another; the first rate of pay if left out.", example="FIGURE=A..B"),
        Option("steps", "count", "Values along each side.", default=5),
    ),
    answer,
)
