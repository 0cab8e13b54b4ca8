"""What `troytag cost` shows: a list of all variants, a card for one, alloys side by side, the work of a figure."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from types import MappingProxyType
from typing import Any

from pricing.cli.screens import screen
from pricing.cli.screens.card import LEAST_MINUTES, cards
from pricing.cli.screens.cost_list import overview
from pricing.cli.screens.view import View
from pricing.made_of import NO_METAL
from pricing.records import ALLOY_QUANTITIES, COST_LINES, COST_QUANTITIES, MASS_QUANTITIES, PRICE_QUANTITIES
from pricing.shown import apart_said, percent
from pricing.studies.alloys.side_by_side import ComparedLine, compared, cost_lines_of

__all__ = ["View", "cards", "overview", "side_by_side", "steps", "work"]

#: Up to so many variants each gets a card; above, all stand in one list.
MOST_CARDS = 4
#: What the metal that is taken is called, by how it comes in; of alloys that differ it is the charge.
TAKEN = MappingProxyType({"cut": "sheet or wire taken", "bought": "castings bought"})


def steps(view: View) -> None:
    """What each step of each variant takes and costs for one good set."""
    console, shown = screen.out(), view.shown
    console.print(view.basis())
    for record in view.records:
        console.print(f"\n{view.title(record)}  {record['sku']}", style="bold")
        heads = ["step", "times", "min", "hands", "machine", "material", "bought-in work", shown.currency]
        computed, row = view.costing.computed, view.row(record)
        lines = [
            (
                step["name"],
                f"{step['times']:.3f}",
                f"{step['step_labour_hours'] * 60:.1f}",
                *_kinds_of_cost(view, [step[name] for name in STEP_COSTS]),
                shown.money(computed["step_cost"][row, place]),
            )
            for place, step in enumerate(record["steps"])
        ]
        lines.append(
            (
                "all steps",
                "",
                f"{computed['hours_itself'][row] * 60:.1f}",
                *_kinds_of_cost(view, [computed[name][row] for name in STEP_COSTS.values()]),
                shown.money(computed["making_cost"][row]),
            )
        )
        console.print(screen.table(heads, lines, strong=[len(lines) - 1]))
        for said in _of_the_steps(view, record, row):
            console.print(said)
    console.print("\nHands are labour and the overhead that it carries. Metal and findings come on top.")


#: What a step costs, and what all steps of the piece itself cost, by their names in the cost model.
STEP_COSTS = MappingProxyType(
    {
        "step_labour_cost": "labour_itself",
        "step_overhead_cost": "overhead_itself",
        "step_machine_cost": "machines_itself",
        "step_material_cost": "materials_itself",
        "step_fee_cost": "fees_itself",
    }
)


def _of_the_steps(view: View, record: dict[str, Any], row: int) -> Iterator[str]:
    """What is plated at a step, what brings bought castings in, and the pieces whose steps are their own."""
    computed = view.costing.computed
    for place, step in enumerate(computed.resolved.variants[row].steps):
        for index, use in enumerate(step.uses):
            if use.plating_alloy is not None:
                grams = f"{computed['layer_g'][row, place, index]:.4f} g of {view.alloy_title(use.plating_alloy)}"
                yield f"{step.name}: a layer of {use.microns:g} microns, {grams}; it is among the material."
        if step.is_metal_step and view.takes(record) == "bought":
            yield f"{step.name}: castings as bought; their metal comes on top by weight, the service is the house's."
    for part in record.get("parts", ()):
        yield f"{part['sku']} in {view.alloy_title(part['alloy'])} is a piece of its own, with its own steps."


def _kinds_of_cost(view: View, amounts: list[float]) -> list[str]:
    """Hands (labour and overhead), machine, material, bought-in work; what is 0 is left empty."""
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
            texts = [write(value) for value in _compared(view, made, name).values]
            for place, text in enumerate(texts):
                row.append(text)
                if place:
                    row.append(apart_said(text, texts[0]))
            if name in ("unit_cost", "finished_g"):
                strong.append(len(rows))
            rows.append(row)
            if sure := [cell for record in made for cell in _sure(view, record, name)]:
                rows.append(["  P10–P90", sure[0], *(each for cell in sure[1:] for each in (cell, ""))])
        console.print(screen.table(heads, rows, strong=strong))


def _lines(view: View, made: list[dict[str, Any]]) -> Iterator[tuple[str, Any, Callable[..., str]]]:
    shown = view.shown

    def money(value: float | None) -> str:
        return shown.money(value)

    def mass(value: float | None) -> str:
        return shown.mass(value, unit=False)

    def minutes(value: float) -> str:
        return f"{value * 60:.1f}"

    if any(view.takes(record) for record in made):
        yield f"finished, {shown.show.mass}", "finished_g", mass
    if any(view.takes(record) for record in made):
        taken = TAKEN.get(next(iter({view.takes(record) for record in made}), ""), "melted, with what fails")
        yield f"{taken}, {shown.show.mass}", "charge_g", mass
    if any(record["one_pour_charge_g"] for record in made):
        yield f"charge of one pour, {shown.show.mass}", "one_pour_charge_g", mass
    if any(abs(record["total_g"] - record["finished_g"]) > NO_METAL for record in made):
        yield f"with all in it, {shown.show.mass}", "total_g", mass
    yield "minutes of hands", "labour_hours", minutes
    if any(abs(record["own_labour_hours"] - record["labour_hours"]) * 60 >= LEAST_MINUTES for record in made):
        yield "  of them yours", "own_labour_hours", minutes
    for name in cost_lines_of(made):
        yield COST_LINES[name], name, money
    yield f"{view.costs(made[0])}, {shown.currency}", "unit_cost", money
    for channel in view.channels:
        if any(channel in record["prices"] for record in made):

            def price(value: float | None, channel: str = channel) -> str:
                return view.shown.price(channel, value)

            if any(channel in view.published(record) for record in made):
                yield f"{view.shown.channel(channel)}: in force", (channel, "in_force"), price
            asked = "asked" if view.out.edition else "price"
            yield f"{view.shown.channel(channel)}: {asked}", (channel, "price"), price
            asked = "asked margin" if view.out.edition else "margin"
            yield f"  {asked}", (channel, "margin"), percent
            yield f"  {view.hour_head}", (channel, "earned_per_hour"), money


def _sure(view: View, record: dict[str, Any], name: Any) -> list[str]:
    """How sure a line is, of those of which that is known: the cost, and what is asked in a channel."""
    if name == "unit_cost":
        return view.sure_cost(record["sku"], record["alloy"])
    return (
        view.sure_price(record["sku"], record["alloy"], name[0])
        if isinstance(name, tuple) and name[1] == "price"
        else []
    )


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
