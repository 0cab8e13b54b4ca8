"""What `troytag cost` shows: a list of all variants, a card for one, alloys side by side, the work of a figure."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pricing.cli.screens import screen
from pricing.costing import Costing
from pricing.folder.inherit import goods
from pricing.model.metals import PRECIOUS
from pricing.model.product import sold_together
from pricing.records import (
    ALLOY_QUANTITIES,
    COST_LINES,
    COST_QUANTITIES,
    MASS_QUANTITIES,
    PRICE_QUANTITIES,
    cost_shares,
    variant_record,
)
from pricing.shown import COSTS, NOTHING, Shown, hours, percent
from pricing.studies.deciding import PRICE_NOISE
from pricing.studies.prices_out import PricesOut
from pricing.studies.side_by_side import ComparedLine, compared, cost_lines_of

if TYPE_CHECKING:
    from rich.table import Table

#: Up to so many variants each gets a card; above, all stand in one list.
MOST_CARDS = 4
BAR_PLACES = 28

DECIDED = MappingProxyType(
    {"policy": "policy", "least_price": "least price", "one_retail_price": "one retail price", "fixed": "fixed"}
)


@dataclass(frozen=True)
class View:
    """What is to be shown of a costing."""

    costing: Costing
    rows: list[int]
    channels: list[str]
    out: PricesOut

    @cached_property
    def in_force(self) -> list[dict[str, Any]]:
        """The records at the prices in force; a channel in which none is published is not there."""
        return [variant_record(self.out.computed, row) for row in self.rows]

    def published(self, record: dict[str, Any]) -> dict[str, dict[str, Any]]:
        """What the prices in force bring, by channel; nothing where no edition is in force."""
        if self.out.edition is None:
            return {}
        prices = self.in_force[self.records.index(record)]["prices"]
        return {name: prices[name] for name in self.channels if name in prices}

    def costs(self, record: dict[str, Any]) -> str:
        """`a pair costs`, as it is sold."""
        return COSTS[self.products[record["sku"]].sold_as or "each"]

    def decided(self, binds: str) -> str:
        """What decided an asked price, in a few words."""
        ladder = self.costing.folder.stated.ladder
        if binds == "keystone" and ladder and ladder.keystone:
            return f"{ladder.keystone:g} × wholesale"
        return DECIDED[binds]

    @cached_property
    def shown(self) -> Shown:
        workshop = self.costing.folder.stated.workshop
        return Shown(workshop.currency, workshop.show)

    @cached_property
    def records(self) -> list[dict[str, Any]]:
        return [variant_record(self.costing.computed, row) for row in self.rows]

    @cached_property
    def products(self) -> dict[str, Any]:
        return goods(self.costing.folder.stated.products)

    def title(self, record: dict[str, Any]) -> str:
        product = self.products[record["sku"]]
        named = ", ".join(filter(None, (product.name, sold_together(product))))
        return f"{named} · {self.alloy_title(record['alloy'])}"

    def alloy_title(self, alloy: str) -> str:
        return self.costing.folder.stated.alloys[alloy].name

    def is_precious(self, alloy: str) -> bool:
        return any(element in PRECIOUS for element in self.costing.folder.stated.alloys[alloy].composition)

    def is_cut(self, record: dict[str, Any]) -> bool:
        """Whether the piece is cut from sheet, wire or rod."""
        return self.costing.computed.resolved.variants[self.row(record)].is_cut

    def row(self, record: dict[str, Any]) -> int:
        """The place of a record's variant in the resolved model."""
        return self.rows[self.records.index(record)]

    def prices(self, record: dict[str, Any]) -> dict[str, dict[str, Any]]:
        return {name: prices for name, prices in record["prices"].items() if name in self.channels}

    def basis(self) -> str:
        asked, metals = self.costing.asked, self.costing.computed.resolved.metals
        newest = max((metal.quoted_on for metal in metals if metal.quoted_on), default=asked.as_of)
        day = f"metal of {newest}" if newest == asked.as_of else f"metal of {newest} (in force on {asked.as_of})"
        run = (
            ""
            if asked.run is None
            else f", a run of {asked.run:g} sets" + (" that pays for the design" if asked.charge_design else "")
        )
        edition = self.out.edition
        prices = f"\nPrices in force: edition {edition.number} of {edition.as_of}" if edition else ""
        return f"{self.costing.folder.stated.workshop.name}, {self.shown.currency}, {day}{run}{prices}"


def overview(view: View) -> None:
    """One line a variant: mass, unit cost, prices, in as many channels as there is room for."""
    console = screen.out()
    channels = view.channels
    while len(channels) > 1 and not screen.fits(_list(view, channels)):
        channels = channels[:-1]
    console.print(view.basis())
    console.print()
    console.print(_list(view, channels))
    if left_out := view.channels[len(channels) :]:
        console.print(f"\nNo room here for {', '.join(left_out)}: ask with --channel.")
    if any(view.published(record) for record in view.records):
        console.print(
            "\nIn force; * where the policies ask otherwise now, – where nothing is published. --asked: theirs."
        )
    console.print(f"\n{len(view.records)} variants. More of one: --sku {view.records[0]['sku']}")


def _list(view: View, channels: list[str]) -> Table:
    shown = view.shown
    heads = ["product, alloy", shown.show.mass, "cost", *channels]
    lines: list[tuple[Any, ...]] = []
    strong = []
    before = None
    for record in view.records:
        if record["sku"] != before:
            strong.append(len(lines))
            lines.append((record["sku"], *[""] * (len(heads) - 1)))
        before = record["sku"]
        prices = view.prices(record)
        lines.append(
            (
                f"  {record['alloy']}",
                shown.mass(record["finished_g"], unit=False),
                shown.money(record["unit_cost"]),
                *[_listed(view, record, name) if name in prices else "" for name in channels],
            )
        )
    return screen.table(heads, lines, strong=strong)


def _listed(view: View, record: dict[str, Any], channel: str) -> str:
    """The price in force, marked where another is asked; what is asked where no edition is in force."""
    asked = record["prices"][channel]["price"]
    if view.out.edition is None:
        return view.shown.money(asked)
    held = view.published(record).get(channel, {}).get("price")
    is_other = held is not None and abs(held - asked) > PRICE_NOISE
    return f"{view.shown.money(held)}{'*' if is_other else ' '}"


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
    made = "as cut" if view.is_cut(record) else "as cast"
    console.print(
        f"{record['sku']} · {shown.mass(record['finished_g'])} finished, {shown.mass(record['as_cast_g'])} {made} · "
        f"{hours(record['labour_hours'])} of hands"
    )
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
        [*lines, ("in all", shown.money(unit_cost), "", "")],
        strong=[len(lines)],
    )
    table.columns[3].justify = "left"
    console.print(table)
    console.print()
    if not view.prices(record):
        console.print(f"Not sold in {' or '.join(view.channels)}.")
        return
    precious = view.is_precious(record["alloy"])
    if view.out.edition:
        console.print(_in_force(view, record, precious))
        return
    heads = ["asked in", "price", "ex tax", "margin", "an hour", *(["× metal"] if precious else []), "decided by"]
    rows = [
        (
            name,
            shown.money(prices["price"]),
            shown.money(prices["ex_tax_price"]),
            percent(prices["margin"]),
            shown.money(prices["earned_per_hour"]),
            *([_times(prices["times_melt_value"])] if precious else []),
            view.decided(prices["binds"]),
        )
        for name, prices in view.prices(record).items()
    ]
    table = screen.table(heads, rows)
    table.columns[-1].justify = "left"
    console.print(table)


def _in_force(view: View, record: dict[str, Any], precious: bool) -> Table:
    """The prices in force and what they earn now; beside them what the policies ask."""
    shown, published = view.shown, view.published(record)
    heads = ["in force in", "price", "margin", "an hour", *(["× metal"] if precious else [])]
    rows = []
    for name, asked in view.prices(record).items():
        held = published.get(name, {})
        rows.append(
            (
                name,
                shown.money(held.get("price")),
                percent(held.get("margin")),
                shown.money(held.get("earned_per_hour")),
                *([_times(held.get("times_melt_value"))] if precious else []),
                shown.money(asked["price"]),
                percent(asked["margin"]),
                view.decided(asked["binds"]),
            )
        )
    table = screen.table([*heads, "asked", "margin", "decided by"], rows)
    table.columns[-1].justify = "left"
    return table


def _times(amount: float | None) -> str:
    return NOTHING if amount is None else f"{amount:.1f}"


def steps(view: View) -> None:
    """What each step of each variant takes and costs for one good set."""
    console, shown = screen.out(), view.shown
    console.print(view.basis())
    for record in view.records:
        console.print(f"\n{view.title(record)}  {record['sku']}", style="bold")
        heads = ["step", "times", "min", "hands", "machine", "material", "service", shown.currency]
        computed, row = view.costing.computed, view.row(record)
        lines = [
            (
                step["name"],
                f"{step['times']:.3f}",
                f"{step['step_labour_hours'] * 60:.1f}",
                *_kinds_of_cost(view, [step[f"step_{kind}"] for kind in STEP_COSTS]),
                shown.money(computed["step_cost"][row, place]),
            )
            for place, step in enumerate(record["steps"])
        ]
        lines.append(
            (
                "all steps",
                "",
                f"{record['labour_hours'] * 60:.1f}",
                *_kinds_of_cost(view, [record[kind] for kind in STEP_COSTS]),
                shown.money(computed["making_cost"][row]),
            )
        )
        console.print(screen.table(heads, lines, strong=[len(lines) - 1]))
    console.print("\nHands are labour and the overhead that it carries. Metal and findings come on top.")


#: What all steps cost, each by its name in the cost model; of one step with `step_` before it.
STEP_COSTS = tuple(f"{line}_cost" for line in ("labour", "overhead", "machine", "material", "fee"))


def _kinds_of_cost(view: View, amounts: list[float]) -> list[str]:
    """Hands (labour and overhead), machine, material, service; what is 0 is left empty."""
    labour, overhead, *rest = amounts
    return [view.shown.money(each) if each else "" for each in (labour + overhead, *rest)]


def side_by_side(view: View, alloys: list[str]) -> None:
    """Two or more alloys of one product in columns, and how far each line lies from the first alloy's."""
    console = screen.out()
    console.print(view.basis())
    by_key = {(record["sku"], record["alloy"]): record for record in view.records}
    for sku in dict.fromkeys(record["sku"] for record in view.records):
        made = [by_key[sku, alloy] for alloy in alloys if (sku, alloy) in by_key]
        console.print()
        console.print(view.products[sku].name, style="bold", end="")
        console.print(f"  {sku}")
        heads = [""]
        for place, record in enumerate(made):
            heads += [record["alloy"]] + (["more"] if place else [])
        rows: list[list[str]] = []
        strong = []
        for word, name, write in _lines(view, made):
            row = [word]
            line = _compared(view, made, name)
            for place, (value, gap) in enumerate(zip(line.values, line.gaps, strict=True)):
                row.append(write(value))
                if place:
                    row.append(NOTHING if gap is None else write(gap, signed=True))
            if name in ("unit_cost", "finished_g"):
                strong.append(len(rows))
            rows.append(row)
        console.print(screen.table(heads, rows, strong=strong))


def _lines(view: View, made: list[dict[str, Any]]) -> Iterator[tuple[str, Any, Callable[..., str]]]:
    shown = view.shown

    def money(value: float | None, signed: bool = False) -> str:
        return shown.money(value, signed)

    def mass(value: float | None, signed: bool = False) -> str:
        return shown.mass(value, unit=False, signed=signed)

    def minutes(value: float, signed: bool = False) -> str:
        return f"{value * 60:{'+' if signed else ''}.1f}"

    def share(value: float | None, signed: bool = False) -> str:
        if signed and value is not None:
            return f"{round(100 * value):+d} points"
        return percent(value)

    yield f"finished, {shown.show.mass}", "finished_g", mass
    taken = "sheet or wire taken" if all(view.is_cut(record) for record in made) else "charge to pour"
    yield f"{taken}, {shown.show.mass}", "charge_g", mass
    yield "minutes of hands", "labour_hours", minutes
    for name in cost_lines_of(made):
        yield COST_LINES[name], name, money
    yield f"{view.costs(made[0])}, {shown.currency}", "unit_cost", money
    for channel in view.channels:
        if any(channel in record["prices"] for record in made):
            if any(channel in view.published(record) for record in made):
                yield f"{channel}: in force", (channel, "in_force"), money
            yield f"{channel}: {'asked' if view.out.edition else 'price'}", (channel, "price"), money
            yield "  margin", (channel, "margin"), share
            yield "  an hour", (channel, "earned_per_hour"), money


def _compared(view: View, made: list[dict[str, Any]], name: Any) -> ComparedLine:
    """The line of a quantity, or of a channel and a quantity of its price; `in_force` is the price in force there."""
    channel, quantity = name if isinstance(name, tuple) else ("", name)
    if quantity == "in_force":
        return compared([{"prices": view.published(record)} for record in made], "price", channel)
    return compared(made, quantity, channel)


def work(view: View, of: list[str] | None) -> None:
    """Symbols, numbers and result of the cost model's figures, or of some figure and all that leads to it."""
    from pricing.cli.screens.work import print_work
    from pricing.errors import UsageFault, did_you_mean
    from pricing.formulas.work import Worker

    console, graph = screen.out(), view.costing.computed.graph
    for name in of or ():
        if name not in graph.quantities:
            raise UsageFault(f'there is no quantity "{name}". {did_you_mean(name, graph.quantities)}')
    names = of or [*ALLOY_QUANTITIES, *MASS_QUANTITIES, *COST_QUANTITIES, *PRICE_QUANTITIES]
    worker = Worker(view.costing.computed)
    channels = [price.channel for price in view.costing.computed.resolved.variants[0].prices]
    console.print(view.basis())
    for row, record in zip(view.rows, view.records, strict=True):
        console.print(f"\n{view.title(record)}  {record['sku']}", style="bold")
        asked_in = [channels.index(name) for name in view.prices(record)]
        print_work(worker, names, bool(of), row, asked_in, view.shown.currency)
    if not of:
        console.print("\nAll that leads to a figure: --show-work --of metal_cost. What a name means: troytag words.")
