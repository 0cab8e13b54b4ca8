"""`troytag study FOLDER breakeven`: how far metal may move until a price no longer pays."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pricing.cli.options import AsOf, Csv, Json, Skus, chosen, chosen_goods, day

if TYPE_CHECKING:
    from pricing.shown import Shown
    from pricing.studies.break_even.reach import BreakEven
    from pricing.studies.pictures import Called

#: Up to so many variants every metal gets its line; above, one table shows how far all may rise together.
MOST_DETAILED = 4


def breakeven(
    context: typer.Context,
    sku: Skus = None,
    alloy: Annotated[
        list[str] | None, typer.Option("--alloy", help="Only this alloy (may be repeated).", show_default=False)
    ] = None,
    as_of: AsOf = None,
    asked: Annotated[
        bool, typer.Option("--asked", help="At the prices that the policy asks, not at those in force.")
    ] = False,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """How far metal may move until a price earns its least margin only, or nothing."""
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.editions.chain import newest
    from pricing.errors import UsageFault
    from pricing.model.workshop import Show
    from pricing.shown import metal_of, shown_of
    from pricing.studies.break_even.reach import break_even, least_margins, line_records
    from pricing.studies.repricing.reprice import prices_held

    folder: Path = context.obj
    costing = cost(folder, asked_for(day(as_of)))
    stated = costing.folder.stated
    edition = None if asked else newest(folder)
    skus, alloys = chosen_goods(sku, costing.folder), chosen("alloy", alloy, stated.alloys)
    found = break_even(costing.computed, prices_held(costing, edition), least_margins(costing))
    found = [each for each in found if each.sku in skus and each.alloy in alloys]
    if not found:
        raise UsageFault("none of these products is made in such an alloy and sold.")
    basis = f"edition {edition.number} of {edition.as_of}" if edition else "what the policy asks"
    if json:
        document = {"as_of": costing.asked.as_of.isoformat(), "currency": stated.workshop.currency, "prices": basis}
        screen.print_json({**document, "rows": [_record(each) for each in found]})
        return
    if csv:
        screen.print_csv(list(line_records(found)))
        return
    print(f"{stated.workshop.name}, {stated.workshop.currency}, {metal_of(costing.computed.resolved)}")
    print(f"Prices: {basis}")
    if len({(each.sku, each.alloy) for each in found}) > MOST_DETAILED:
        _overview(found, folder, costing.folder.called)
    else:
        _details(found, shown_of(stated, Show()))
    screen.tell(costing.warnings)


def _overview(found: list[BreakEven], folder: Path, called: Called) -> None:
    from pricing.cli.screens import screen
    from pricing.studies.break_even.told import summary

    console = screen.out()
    channels = list(dict.fromkeys(each.channel for each in found))
    cells = {(each.sku, each.alloy, each.channel): summary(each) for each in found}
    lines: list[tuple[str, ...]] = []
    strong, before = [], None
    for sku, alloy in dict.fromkeys((each.sku, each.alloy) for each in found):
        if sku != before:
            strong.append(len(lines))
            lines.append((sku, *[""] * len(channels)))
        before = sku
        lines.append((f"  {alloy}", *[cells.get((sku, alloy, name), "") for name in channels]))
    console.print("How far all metals may rise together until a price earns only its least margin (*: nothing).\n")
    console.print(
        screen.table(("product, alloy", *channels), lines, strong=strong, named=screen.names_of(lines, called))
    )
    console.print(f"\nEach metal by itself: troytag study {folder} breakeven --sku {found[0].sku}")


def _details(found: list[BreakEven], shown: Shown) -> None:
    from rich.text import Text

    from pricing.cli.screens import screen
    from pricing.cli.screens.stacking import Indented
    from pricing.shown import metal_at, metal_named, percent
    from pricing.studies.break_even.told import cells

    console = screen.out()
    for sku, alloy in dict.fromkeys((each.sku, each.alloy) for each in found):
        own = [each for each in found if (each.sku, each.alloy) == (sku, alloy)]
        console.print()
        console.print(Text.assemble((sku, "bold"), f"  {alloy}"))
        quotes = {
            line.metal: metal_at(line.metal, line.now, line.currency, line.per)
            for each in own
            for line in each.lines
            if line.metal and line.now is not None
        }
        console.print(f"  {', '.join(quotes.values()) or 'no metal in it has a price'}")
        lines = []
        one_metal = all(len(each.lines) == 1 for each in own)  # it is named above
        for each in own:
            for place, line in enumerate(each.lines):
                head = (
                    (shown.channel(each.channel), shown.price(each.channel, each.price), percent(each.margin))
                    if place == 0
                    else ("", "", "")
                )
                floor = "" if each.least_margin is None or place else percent(each.least_margin)
                named = () if one_metal else (metal_named(line.metal) if line.metal else "all together",)
                lines.append((*head, *named, floor, *cells(line.at_least), *cells(line.at_nothing)))
        heads = ("", "price", "earns", *(() if one_metal else ("metal",)), "least", "left at", "", "gone at", "")
        table = screen.table(heads, lines, gap=1 if any(len(each.lines) > 1 for each in own) else 2)
        if not one_metal:
            table.columns[3].justify = "left"
        console.print(Indented(table))


def _record(each: BreakEven) -> dict[str, Any]:
    from dataclasses import asdict

    return asdict(each)
