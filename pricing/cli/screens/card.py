"""The card of a variant: what it is made of, what it costs and what it brings in every channel."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pricing.cli.screens import screen
from pricing.cli.screens.view import View
from pricing.made_of import NO_METAL, plated_on
from pricing.records import COST_LINES, cost_shares
from pricing.shown import NOTHING, hours, percent
from pricing.studies.sizes import size_lines, surcharge, surcharge_words

if TYPE_CHECKING:
    from rich.table import Table

BAR_PLACES = 28
#: Less than this of somebody else's hands is none.
LEAST_MINUTES = 0.05


def cards(view: View) -> None:
    """What each variant is made of, and what it brings in every channel."""
    console = screen.out()
    console.print(view.basis())
    for record in view.records:
        console.print()
        _card(view, record)


def _card(view: View, record: dict[str, Any]) -> None:
    console, shown = screen.out(), view.shown
    console.print(view.title(record), style="bold")
    console.print(_facts(view, record))
    for line in (_in_it(view, record), _plated(view, record)):
        if line:
            console.print(line)
    console.print()
    unit_cost = record["unit_cost"]
    shares = cost_shares(view.costing.computed, view.row(record))
    lines = [
        (
            word,
            shown.money(record[name]),
            percent(shares[name]) if name in shares else "",
            screen.bar(shares.get(name, 0.0), BAR_PLACES),
        )
        for name, word in COST_LINES.items()
        if record[name]
    ]
    table = screen.table(
        (view.costs(record), shown.currency, "share", ""),
        [
            *lines,
            ("in all", shown.money(unit_cost), "", ""),
            *(("P10–P90", each, "", "") for each in view.sure_cost(record["sku"], record["alloy"])),
        ],
        strong=[len(lines)],
    )
    table.columns[3].justify = "left"
    console.print(table)
    console.print()
    if "parts" in record:
        console.print(_parts(view, record))
        console.print()
    if not view.prices(record):
        where = " or ".join(view.channels)
        console.print(f"Not sold in {where}." if view.sold_somewhere(record) else "Sold nowhere: only ever a part.")
        return
    console.print(_in_force(view, record) if view.out.edition else _asked(view, record))
    for line in _posted(view, record):
        console.print(line)
    if "sizes" in record:
        console.print()
        _sizes(view, record)


def _facts(view: View, record: dict[str, Any]) -> str:
    """`acorn-knob · 42.10 g finished, 43.80 g as cast · 28 min of hands`."""
    shown, takes = view.shown, view.takes(record)
    mass = f"{shown.mass(record['finished_g'])} finished, {shown.mass(record['as_cast_g'])} as {takes}"
    if not takes:
        mass = f"joined of pieces of your own, {shown.mass(record['total_g'])} in all"
    hands = f"{hours(record['labour_hours'])} of hands"
    if abs(record["own_labour_hours"] - record["labour_hours"]) * 60 >= LEAST_MINUTES:
        hands += f", {hours(record['own_labour_hours'])} of them yours"
    return f"{record['sku']} · {mass} · {hands}"


def _in_it(view: View, record: dict[str, Any]) -> str:
    """`In it: bronze 8.92 g, sterling silver 2.84 g, 1.40 g that is no metal; 13.16 g in all`, where there is more
    than the piece's own metal."""
    shown, contents = view.shown, view.contents(record)
    only_own = abs(record["total_g"] - record["finished_g"]) <= NO_METAL
    if only_own or not contents.metals:
        return ""
    said = [f"{view.alloy_title(metal.alloy)} {shown.mass(metal.grams)}" for metal in contents.metals]
    if contents.other_g > NO_METAL:
        said.append(f"{shown.mass(contents.other_g)} that is no metal")
    return f"In it: {', '.join(said)}; {shown.mass(record['total_g'])} in all"


def _plated(view: View, record: dict[str, Any]) -> str:
    layers = plated_on(view.costing.computed, view.row(record))
    return ", ".join(f"plated with {layer.grams:.4f} g of {view.alloy_title(layer.alloy)}" for layer in layers)


def _parts(view: View, record: dict[str, Any]) -> Table:
    """What of the maker's own is joined to it, each as it is a part."""
    shown = view.shown
    rows = [
        (
            part["sku"],
            view.alloy_title(part["alloy"]),
            f"{part['quantity']:g}",
            shown.mass(part["total_g"], unit=False),
            hours(part["labour_hours"]),
            shown.money(part["unit_cost"]),
            percent(part["spoil"]) if part["spoil"] else "",
        )
        for part in record["parts"]
    ]
    return screen.table(("joined to it", "in", "×", shown.show.mass, "hands", "one costs", "spoilt"), rows, left=2)


def _posted(view: View, record: dict[str, Any]) -> list[str]:
    """The tier of postage that an order falls in, where a channel has tiers."""
    said = []
    for name, prices in view.prices(record).items():
        channel = view.costing.folder.stated.channels[name]
        if len(channel.tiers) > 1:
            place = int(view.costing.computed["tiers_passed"][view.row(record), view.costing.column(name)])
            tier = channel.tiers[min(place, len(channel.tiers) - 1)]
            upto = "the rest" if tier.up_to_g is None else f"up to {tier.up_to_g:g} g"
            said.append(f"{name}: an order is {prices['order_g']:,.0f} g and posted as {upto}")
    return said


def _sizes(view: View, record: dict[str, Any]) -> None:
    """Every size at the one price: what it weighs, costs and leaves, and what it lacks of what is asked."""
    shown, channels = view.shown, view.prices(record)
    lines = size_lines(view.out.computed, view.row(record))
    channels = {name: prices for name, prices in channels.items() if all(name in line.margins for line in lines)}
    short = {name: found for name in channels if (found := surcharge(lines, name))}
    heads = ["size", "length", shown.show.mass, "cost"]
    for name in channels:
        heads += [f"{name} margin", *([f"lacks, {view.shown.currency_in(name)}"] if name in short else [])]
    rows = []
    for line in lines:
        row = [
            line.size,
            shown.length(line.length_mm),
            shown.mass(line.finished_g, unit=False),
            shown.money(line.unit_cost),
        ]
        for name in channels:
            lacking = view.shown.price(name, line.lacking[name]) if line.lacking[name] else ""
            row += [percent(line.margins[name]), *([lacking] if name in short else [])]
        rows.append(row)
    screen.print_in_parts(heads, rows, kept=4)
    for name, found in short.items():
        screen.out().print(f"{surcharge_words(found, name, view.shown.currency_in(name), shown)}.")


def _asked(view: View, record: dict[str, Any]) -> Table:
    """The prices that the policies ask, and what they earn."""
    shown, precious = view.shown, view.is_precious(record)
    heads = [
        "asked in",
        "price",
        *view.sure_heads,
        "ex tax",
        "margin",
        view.hour_head,
        *(["× metal"] if precious else []),
        "decided by",
    ]
    rows = [
        (
            view.shown.channel(name),
            view.shown.price(name, prices["price"]),
            *view.sure_price(record["sku"], record["alloy"], name),
            view.shown.price(name, prices["ex_tax_price"]),
            percent(prices["margin"]),
            shown.money(prices["earned_per_hour"]),
            *([_times(prices["times_melt_value"])] if precious else []),
            view.decided(prices["binds"]),
        )
        for name, prices in view.prices(record).items()
    ]
    table = screen.table(heads, rows)
    table.columns[-1].justify = "left"
    return table


def _in_force(view: View, record: dict[str, Any]) -> Table:
    """The prices in force and what they earn now; beside them what the policies ask."""
    shown, published, precious = view.shown, view.published(record), view.is_precious(record)
    heads = ["in force in", "price", "margin", view.hour_head, *(["× metal"] if precious else [])]
    rows = []
    for name, asked in view.prices(record).items():
        held = published.get(name, {})
        rows.append(
            (
                view.shown.channel(name),
                view.shown.price(name, held.get("price")),
                percent(held.get("margin")),
                shown.money(held.get("earned_per_hour")),
                *([_times(held.get("times_melt_value"))] if precious else []),
                view.shown.price(name, asked["price"]),
                *view.sure_price(record["sku"], record["alloy"], name),
                percent(asked["margin"]),
                view.decided(asked["binds"]),
            )
        )
    table = screen.table([*heads, "asked", *view.sure_heads, "asked margin", "decided by"], rows)
    table.columns[-1].justify = "left"
    return table


def _times(amount: float | None) -> str:
    return NOTHING if amount is None else f"{amount:.1f}"
