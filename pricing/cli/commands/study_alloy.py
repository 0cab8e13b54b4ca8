"""`troytag study FOLDER alloy`: one design in every alloy, and the metal prices at which two change places."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.options import Asked, AsOf, Csv, Json, chosen, day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pricing.shown import Shown
    from pricing.studies.alloys import Change, EveryAlloy

HEADS = ("alloy", "finished", "metal", "cost", "price", "margin")


def alloy(
    context: typer.Context,
    sku: Annotated[str, typer.Option("--sku", help="The product, or one size of it.", show_default=False)],
    channel: Annotated[
        list[str] | None, typer.Option("--channel", help="Only there (may be repeated).", show_default=False)
    ] = None,
    asked: Asked = False,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """One design in every alloy, and the metal price where two change places."""
    from dataclasses import asdict

    from pricing.cli.screens import screen
    from pricing.costing import asked_for
    from pricing.folder.read import read_folder
    from pricing.shown import metal_of, shown_of
    from pricing.studies.alloys import alloy_records, in_every_alloy

    folder, on = read_folder(context.obj), asked_for(day(as_of))
    channels = chosen("channel", channel, folder.stated.channels)
    every = in_every_alloy(folder, sku, on, "asked" if asked else None)
    basis = f"edition {every.out.edition.number} of {every.out.edition.as_of}" if every.out.edition else None
    if json:
        screen.print_json(
            {
                "as_of": on.as_of.isoformat(),
                "currency": folder.stated.workshop.currency,
                "prices": basis or "what the policy asks",
                "rows": list(alloy_records(every, channels)),
                "changes": [asdict(each) for each in every.changes],
                "left_out": dict(every.left_out),
            }
        )
        return
    if csv:
        screen.print_csv(list(alloy_records(every, channels)))
        return
    console, shown = screen.out(), shown_of(folder.stated)
    resolved = every.out.computed.resolved
    console.print(f"{folder.stated.workshop.name}, {folder.stated.workshop.currency}, {metal_of(resolved)}")
    asked_too = " (*: not in it, what the policy asks)" if basis else ""
    console.print(f"{sku} in every alloy. Prices: {basis or 'what the policy asks'}{asked_too}")
    _show(every, channels, shown)
    _say_changes(every.changes, shown)
    for why in dict.fromkeys(every.left_out.values()):
        console.print(f"Not in {', '.join(name for name in every.left_out if every.left_out[name] == why)}: {why}.")
    screen.tell(every.out.costing.warnings)


def _show(every: EveryAlloy, channels: Sequence[str], shown: Shown) -> None:
    from pricing.cli.screens import screen
    from pricing.shown import percent

    console, sold = screen.out(), [name for name in channels if any(name in each.prices for each in every.found)]
    skus = {each.sku for each in every.found}
    for name in sold or [""]:
        lines = []
        for each in every.found:
            if each.size is None:
                called = f"{each.sku} " if len(skus) > 1 else ""
                first = f"{called}{each.alloy}{'' if each.is_made else ', what if'}"
            else:
                first = f"  size {each.size}"
            price = each.prices.get(name)
            mark = " *" if every.out.edition and price is not None and name not in each.published else ""
            lines.append(
                (
                    first,
                    shown.mass(each.finished_g),
                    shown.money(each.metal_cost),
                    shown.money(each.unit_cost),
                    "" if price is None or each.size is not None else f"{shown.price(name, price)}{mark}",
                    "" if price is None else percent(each.margins[name]),
                )
            )
        strong = [place for place, each in enumerate(every.found) if each.size is None and each.is_made]
        console.print(f"\n{shown.channel(name)}\n" if name else "\nsold in none of these channels\n")
        console.print(screen.table(HEADS, lines, strong=strong))
    console.print()
    lacking = {each.alloy: ", ".join(each.without) for each in every.found if each.without}
    for without in dict.fromkeys(lacking.values()):
        named = ", ".join(name for name in lacking if lacking[name] == without)
        console.print(f"Without {without}, which only others of its alloys have: {named}.")


def _say_changes(changes: Sequence[Change], shown: Shown) -> None:
    from pricing.cli.screens import screen
    from pricing.shown import metal_named

    several = len({each.sku for each in changes}) > 1
    for each in changes:
        quoted = f"{each.currency}/{each.per}"
        metal = metal_named(each.metal)
        head = f"{each.sku}: " if several else ""
        if each.then is None or each.times is None or each.cost_then is None:
            said = f"{each.dearer} costs more than {each.cheaper} at every price of their leading metals."
        else:
            said = (
                f"{each.dearer} costs what {each.cheaper} does ({shown.money(each.cost_then)}) with {metal} at "
                f"{each.then:,.2f} {quoted}, now {each.now:,.2f} ({_moved(each.times)})."
            )
        screen.out().print(f"{head}{said}")


def _moved(times: float) -> str:
    from pricing.shown import percent

    return f"× {times:,.0f}" if times >= 10 else percent(times - 1, signed=True)
