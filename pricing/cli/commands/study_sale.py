"""`troytag study FOLDER sale`: what a price event leaves, and how many more must sell to make up for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.options import Asked, AsOf, Csv, Json, Skus, chosen, chosen_goods, day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pricing.shown import Shown
    from pricing.studies.sale import OnSale

#: The last one stands only where a piece of the channel is to be left out.
HEADS = ("product, alloy", "price", "on sale", "profit", "left", "margin", "an hour of yours", "sell", "leave out")


def sale(
    context: typer.Context,
    off: Annotated[float, typer.Option(metavar="SHARE", help="What comes off, as 0.20 for 20 %.", show_default=False)],
    channel: Annotated[
        list[str] | None, typer.Option("--channel", help="Only there (may be repeated).", show_default=False)
    ] = None,
    sku: Skus = None,
    rounded: Annotated[
        bool, typer.Option("--rounded", help="Round as the channel rounds; as they come out if left out.")
    ] = False,
    asked: Asked = False,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """What a sale leaves, how many more must sell, what to leave out."""
    from pricing.cli.commands.printed_exports import say
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.shown import metal_of, percent, shown_of
    from pricing.studies.prices_out import prices_out
    from pricing.studies.sale import on_sale, sale_records

    out = prices_out(cost(context.obj, asked_for(day(as_of))), "asked" if asked else None)
    stated = out.costing.folder.stated
    channels, skus = chosen("channel", channel, stated.channels), chosen_goods(sku, out.costing.folder)
    found = [each for each in on_sale(out.costing, off, rounded) if each.channel in channels and each.sku in skus]
    if not found:
        raise UsageFault("none of these products has a price there. Name another channel or product.")
    basis = f"edition {out.edition.number} of {out.edition.as_of}" if out.edition else "what the policy asks"
    if json:
        screen.print_json(
            {
                "as_of": out.costing.asked.as_of.isoformat(),
                "currency": stated.workshop.currency,
                "prices": basis,
                "off": off,
                "rounded": rounded,
                "rows": list(sale_records(found)),
            }
        )
        return
    if csv:
        screen.print_csv(list(sale_records(found)))
        return
    console, shown = screen.out(), shown_of(stated)
    console.print(f"{stated.workshop.name}, {stated.workshop.currency}, {metal_of(out.computed.resolved)}")
    console.print(f"Prices: {basis}, {percent(off, 1 if off * 100 % 1 else 0)} off{', rounded' if rounded else ''}")
    for name in channels:
        if own := [each for each in found if each.channel == name]:
            _show(own, shown)
    _sum_up(found)
    say(out.costing, out=out)


def _show(own: Sequence[OnSale], shown: Shown) -> None:
    from pricing.cli.screens import screen
    from pricing.shown import percent

    channel, before = own[0].channel, None
    lines: list[tuple[str, ...]] = []
    strong: list[int] = []
    for each in own:
        if each.sku != before:
            strong.append(len(lines))
            lines.append((each.sku, *[""] * (len(HEADS) - 1)))
        before = each.sku
        then = each.then
        lines.append(
            (
                f"  {each.alloy}",
                shown.price(channel, each.before.price),
                shown.price(channel, then.price),
                shown.money(each.before.profit),
                shown.money(then.profit),
                percent(then.margin),
                shown.money(then.earned_per_hour),
                _times(each),
                each.leave_out.removeprefix("least ") if each.leave_out else "",
            )
        )
    screen.out().print(f"\n{shown.channel(channel)}\n")
    kept = len(HEADS) if any(each.leave_out for each in own) else len(HEADS) - 1
    screen.out().print(screen.table(HEADS[:kept], [line[:kept] for line in lines], strong=strong, gap=1))


def _times(each: OnSale) -> str:
    if each.times_as_many is not None:
        return f"× {each.times_as_many:,.2f}"
    return "never" if each.before.profit > 0 else ""


def _sum_up(found: Sequence[OnSale]) -> None:
    from pricing.cli.screens import screen

    out = sum(each.leave_out is not None for each in found)
    screen.out().print(
        f"\nLeave out {out} of {len(found)} prices." if out else f"\nNone of {len(found)} prices need be left out."
    )
