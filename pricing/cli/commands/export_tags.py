"""`troytag export FOLDER tags`: swing tags, ring tags, stall cards, on a sheet to be cut."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pricing.cli.commands.export import Force, To, default_path
from pricing.cli.commands.printed_exports import Locale
from pricing.cli.options import Asked, AsOf, Edition, Skus, chosen, chosen_goods, day, wanted_prices

if TYPE_CHECKING:
    from pricing.costing import Costing


def export_tags(
    context: typer.Context,
    kind: Annotated[
        Literal["swing", "ring", "card"],
        typer.Option(help="Tags on a string, tags around a ring, or cards for the maker's own pocket at the stall."),
    ] = "swing",
    to: To = None,
    channel: Annotated[
        str | None,
        typer.Option(
            help="Whose prices; the first retail channel if left out. Cards: the only one, or else to be named.",
            show_default=False,
        ),
    ] = None,
    sku: Skus = None,
    alloy: Annotated[
        list[str] | None, typer.Option(help="Only this alloy (may be repeated).", show_default=False)
    ] = None,
    copies: Annotated[int, typer.Option(metavar="N", help="So many of each tag.")] = 1,
    sheet: Annotated[
        str | None,
        typer.Option(
            metavar="A4|Letter|WxH", help="Sheet, by name or in mm; the locale's if left out.", show_default=False
        ),
    ] = None,
    width: Annotated[float | None, typer.Option(metavar="MM", help="Width of one.", show_default=False)] = None,
    height: Annotated[float | None, typer.Option(metavar="MM", help="Height of one.", show_default=False)] = None,
    margin: Annotated[float, typer.Option(metavar="MM", help="At least so much free around the sheet.")] = 8.0,
    gap: Annotated[float, typer.Option(metavar="MM", help="Between one and the next.")] = 3.0,
    skip: Annotated[int, typer.Option(metavar="N", help="Places already used on the first sheet.")] = 0,
    friendly: Annotated[
        float | None,
        typer.Option(metavar="SHARE", help="Cards: what a friend gets off; 0.05 if left out.", show_default=False),
    ] = None,
    hour: Annotated[
        float | None,
        typer.Option(
            metavar="MONEY",
            help="Cards: what an hour must bring when you walk away; what the policy asks, else the pay, if left out.",
            show_default=False,
        ),
    ] = None,
    as_of: AsOf = None,
    edition: Edition = None,
    asked: Asked = False,
    locale: Locale = None,
    force: Force = False,
) -> None:
    """Write price tags or stall cards as a PDF, laid out on the sheet that you state."""
    from pricing.cli.commands import printed_exports as printing
    from pricing.costing import asked_for, cost
    from pricing.lists.cut_sheets import cutting, paper_size
    from pricing.lists.stall import SIZE, CardsAsked, stall_cards
    from pricing.lists.tags import SIZES, TagsAsked, tags
    from pricing.studies.prices_out import prices_out
    from pricing.studies.stall.bargaining import FRIENDLY_SHARE

    target = to or default_path(context.obj, "-stall-cards.pdf" if kind == "card" else f"-{kind}-tags.pdf")
    printing.check_targets([target], force, (".pdf",))
    wanted_out = wanted_prices(edition, asked)
    out = prices_out(cost(context.obj, asked_for(day(as_of))), wanted_out)
    costing = out.costing
    habit = printing.habit_of(costing, locale)
    usual = SIZE if kind == "card" else SIZES[kind]
    size = (usual[0] if width is None else width, usual[1] if height is None else height)
    cut = cutting(paper_size(sheet or habit.paper), size, margin, gap)
    stated = costing.folder.stated
    named = _channel(costing, kind, channel)
    skus, alloys = tuple(chosen_goods(sku, costing.folder)), tuple(chosen("alloy", alloy, stated.alloys))
    if kind == "card":
        made = stall_cards(
            out, CardsAsked(named, skus, alloys, hour, FRIENDLY_SHARE if friendly is None else friendly), cut, habit
        )
    else:
        made = tags(out, TagsAsked(kind, named, skus, alloys, copies, skip), cut, habit)
    printing.write(made, [target], force)
    printing.say(costing, out=out)


def _channel(costing: Costing, kind: str, named: str | None) -> str:
    """Whose prices: a card's channel is never guessed among several, for it says what to come down to there."""
    from pricing.errors import UsageFault
    from pricing.lists.catalogue import channel_for

    channels = costing.folder.stated.channels
    retail = [name for name, channel in channels.items() if channel.audience == "retail"]
    if kind == "card" and named is None and len(retail) > 1:
        raise UsageFault(f"which of {', '.join(retail)} is the stall? Name it with --channel.")
    return channel_for(costing, None if named else "retail", named)
