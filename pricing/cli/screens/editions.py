"""What `troytag editions` shows of one edition, and of all in a list."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pricing.cli.screens import screen
from pricing.editions.chain import Edition
from pricing.editions.inputs import channel_currencies
from pricing.editions.told import quotes, since
from pricing.records import COST_LINES
from pricing.shown import Shown, percent

#: Up to so many variants each is shown with what its cost is made of; above, all stand in one list.
MOST_CARDS = 4
WIDTH = 80


def show_list(records: Sequence[dict[str, Any]]) -> None:
    """A line an edition."""
    lines = [
        (
            record["number"],
            record["as_of"],
            record["prices"],
            record["new"] or "",
            record["raised"] or "",
            record["lowered"] or "",
            record["held"] or "",
            record["sha256"][:12],
        )
        for record in records
    ]
    heads = ("edition", "from", "prices", "new", "raised", "lowered", "held", "hash")
    screen.out().print(screen.table(heads, lines, left=0))


def basis(edition: Edition) -> str:
    """From when, and by which prices of metal."""
    lines = [f"{edition.content['workshop']}, {edition.currency}", *since(edition), ""]
    for told in quotes(edition):
        joined = f"{lines[-1]} · {told}" if lines[-1] else told
        lines = [*lines[:-1], joined] if len(joined) <= WIDTH else [*lines, told]
    return "\n".join(lines)


def show(folder: Path, edition: Edition, rows: Sequence[int]) -> None:
    """The prices, and for a few variants what their costs are made of."""
    console, shown = screen.out(), Shown(edition.currency, currencies=channel_currencies(edition))
    console.print(basis(edition))
    prices = {(price["sku"], price["alloy"], price["channel"]): price for price in edition.content["prices"]}
    records = [edition.content["variants"][row] for row in rows]
    channels = list(dict.fromkeys(price["channel"] for price in edition.content["prices"]))
    if len(rows) > MOST_CARDS:
        lines, before = [], None
        for record in records:
            if record["sku"] != before:
                lines.append((record["sku"], *[""] * (1 + len(channels))))
            before = record["sku"]
            own = [prices.get((record["sku"], record["alloy"], name)) for name in channels]
            asked = [shown.price(price["channel"], price["price"]) if price else "" for price in own]
            lines.append((f"  {record['alloy']}", shown.money(record["unit_cost"]), *asked))
        console.print()
        strong = [place for place, line in enumerate(lines) if not line[0].startswith(" ")]
        console.print(screen.table(("product, alloy", "cost", *map(shown.channel, channels)), lines, strong=strong))
        print(f"\nMore of one: troytag editions {folder} show {edition.number} --sku {records[0]['sku']}")
        return
    for record in records:
        console.print()
        console.print(f"{record['sku']}  {record['alloy']}", style="bold")
        costs = [(word, shown.money(record[name])) for name, word in COST_LINES.items() if record.get(name)]
        costs.append(("costs", shown.money(record["unit_cost"])))
        console.print(screen.table(("", shown.currency), costs, strong=[len(costs) - 1]))
        console.print()
        lines = [
            (
                shown.channel(name),
                shown.price(name, found["price"]),
                percent(found["margin"]),
                shown.price(name, prices[record["sku"], record["alloy"], name]["asked"]),
                prices[record["sku"], record["alloy"], name]["set_on"],
                prices[record["sku"], record["alloy"], name]["verdict"],
            )
            for name in channels
            if (found := record["prices"].get(name))
        ]
        table = screen.table(("channel", "price", "margin", "policy asked", "set on", "verdict"), lines)
        table.columns[-1].justify = "left"
        console.print(table)


def show_work(edition: Edition, rows: Sequence[int], of: Sequence[str] | None) -> None:
    """The work of the figures as it was on the day of publishing."""
    from pricing.cli.screens.work import print_work
    from pricing.editions.chain import sensible
    from pricing.editions.figures import computed_again, formulas_version
    from pricing.errors import UsageFault, did_you_mean
    from pricing.formulas.work import Worker
    from pricing.records import COST_QUANTITIES, PRICE_QUANTITIES

    computed = computed_again(edition)
    for name in of or ():
        if name not in computed.graph.quantities:
            raise UsageFault(f'there was no quantity "{name}". {did_you_mean(name, computed.graph.quantities)}')
    console, worker = screen.out(), Worker(computed)
    console.print(basis(edition))
    if edition.content["formulas_version"] != formulas_version():
        console.print("Formulas have changed since; these are the ones of that day.")
    with sensible(edition.number, "figures"):
        for row in rows:
            variant = computed.resolved.variants[row]
            console.print(f"\n{variant.sku}  {variant.alloy}", style="bold")
            _held(edition, variant.sku, variant.alloy)
            names = of or [*COST_QUANTITIES, *PRICE_QUANTITIES]
            print_work(worker, names, bool(of), row, variant.sold_places, edition.currency)


def _held(edition: Edition, sku: str, alloy: str) -> None:
    """A price that was kept does not come out of the work of `price`: say so."""
    shown = Shown(edition.currency, currencies=channel_currencies(edition))
    for price in edition.content["prices"]:
        if (price["sku"], price["alloy"]) == (sku, alloy) and abs(price["price"] - price["asked"]) > 1e-9:
            channel = price["channel"]
            print(
                f"  {shown.channel(channel)}: {shown.price(channel, price['price'])} was decided ({price['verdict']}); "
                f"by its work the policy asked {shown.price(channel, price['asked'])}"
            )


def document(edition: Edition, rows: Sequence[int]) -> dict[str, Any]:
    """The edition without the figures that its work is shown from."""
    chosen = [edition.content["variants"][row] for row in rows]
    names = {(record["sku"], record["alloy"]) for record in chosen}
    plain = {
        name: value
        for name, value in edition.content.items()
        if name not in ("figures", "formulas", "inputs", "variants", "prices")
    }
    prices = [price for price in edition.content["prices"] if (price["sku"], price["alloy"]) in names]
    return {**plain, "sha256": edition.sha256, "prices": prices, "variants": chosen}
