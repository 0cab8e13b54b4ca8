"""What the policy asks and what today's price earns, against any two figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pricing.errors import UsageFault
from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option, Refused, chosen

if TYPE_CHECKING:
    from pricing.costing import Costing
    from pricing.questions.subject import Subject
    from pricing.studies.map.price_map import Map, Side
    from pricing.studies.prices_out import Wanted


#: Values along each side where nobody says.
STEPS = 5
#: So many maps one workbook has at most, each a sheet of its own.
MOST_MAPS = 40


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """A price and a margin for all values of two figures."""
    from pricing.shown import percent
    from pricing.studies.map.plot import heat_map
    from pricing.studies.map.price_map import map_records

    found, shown = mapped(subject, said), subject.shown
    channel = found.channel
    resolved_head = subject.head(found.out).split(", ", 2)
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
            f"{' in '.join(subject.called(found.sku, found.alloy))}, {shown.channel(channel)}. "
            f"Down: {found.down.path}. Across: {found.across.path}.",
            *tables,
        ),
        rows=list(map_records(found)),
        document={"as_of": subject.day, "currency": subject.stated.workshop.currency, "held": found.held},
        drawing=heat_map(found, shown, subject.folder.called),
        warnings=found.out.costing.warnings,
    )


def mapped(subject: Subject, said: Mapping[str, Any]) -> Map:
    """The map itself, for whoever shows it otherwise. Raises Refused, UsageFault, Faults."""
    from pricing.folder.inherit import pieces
    from pricing.studies.map.price_map import MOST_STEPS, price_map

    steps = said["steps"]
    if not 2 <= steps <= MOST_STEPS:
        raise Refused("steps", f"--steps {steps}: write a number from 2 to {MOST_STEPS}.")
    folder = subject.folder
    chosen("sku", "product", [said["sku"]], {**folder.goods, **pieces(folder.products)})
    chosen("alloy", "alloy", [said["alloy"]] if said["alloy"] else None, subject.stated.alloys)
    chosen("channel", "channel", [said["channel"]] if said["channel"] else None, subject.stated.channels)
    sides = [_side(subject, each, said[each], steps) for each in ("across", "down")]
    variant = said["sku"], said["alloy"], said["channel"]
    return price_map(folder, variant, sides[0], sides[1], steps, subject.asked, subject.wanted)


def maps_named(costing: Costing, named: Sequence[str], sides: Mapping[str, str | None], wanted: Wanted) -> list[Map]:
    """The maps of pieces written as `thimble:sterling:shop`, the last two as one likes; `sides` are across and down.

    Raises Refused for what is none, and as `mapped` does.
    """
    from pricing.questions.subject import Subject

    if not named and any(sides.values()):
        raise Refused("map", "--across and --down are about a map. Name its piece with --map.")
    subject, found = Subject(costing.folder, costing.asked, wanted, costing), []
    named = tuple(dict.fromkeys(named))
    if len(named) > MOST_MAPS:
        raise Refused("map", f"--map is there {len(named):,} times: a workbook has at most {MOST_MAPS} maps.")
    for text in named:
        parts = text.split(":")
        if len(parts) > 3:
            raise Refused("map", f"--map {text}: write SKU:ALLOY:CHANNEL, the last two as you like.")
        sku, alloy, channel = (*parts, "", "")[:3]
        said = {"sku": sku, "alloy": alloy or None, "channel": channel or None, "steps": STEPS, **sides}
        found.append(mapped(subject, said))
    return found


def _side(subject: Subject, option: str, text: str | None, steps: int) -> Side | None:
    """A side of the map as it was said, None for the usual one. Raises Refused for what is none."""
    from pricing.studies.map.price_map import side, with_figure

    if not text:
        return None
    try:
        found = side(text, steps)
        with_figure(subject.folder, found.path, found.values[0], subject.asked)
    except UsageFault as wrong:
        raise Refused(option, str(wrong)) from None
    return found


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
            typed="metal_prices.Ag=30..50",
        ),
        Option(
            "down",
            "words",
            "Another; the first rate of pay if left out.",
            example="FIGURE=A..B",
            typed="labour.bench.rate=15..25",
        ),
        Option("steps", "count", "Values along each side.", default=STEPS, most_on_page=11),
    ),
    answer,
)
