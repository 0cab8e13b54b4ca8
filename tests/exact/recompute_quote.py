"""A quotation for some quantities in exact fractions, in the form of `export FOLDER quote … --json`.

Editions are left out: the price in force is what the channel asks in the steady state, ladder and all.

Assumed where the contract is silent: where both bounds are equal it is the price in force that binds, and a bound
that only equals what is asked does not bind; with the design charged to the run the price in force is told all
the same; a quantity named twice is offered once.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

from .recompute import CloseCall, Question, costed, priced
from .recompute_folder import figures_of, read_folder
from .recompute_ladder import before_ladder
from .recompute_prices import ZERO, at_price
from .recompute_sizes import mean_growth, sizes_of


def requote(
    folder: Path,
    as_of: date,
    sku: str,
    alloy: str,
    channel: str,
    quantities: list[int],
    charge_design: bool = False,
    close_calls: list[CloseCall] | None = None,
    number: type = Fraction,
) -> dict:
    """What is offered for every quantity, by rising quantity, with every price quantity at the offer."""
    read = read_folder(folder, as_of, number)
    question = Question(read, number, None, charge_design)
    figures, growth, size = found(question, sku, alloy)
    in_force = priced(question, figures, alloy, growth, size)["prices"][channel]["price"]
    stated = read.channels[channel]
    note = question.noting(sku, alloy)
    offers: list[dict] = []
    for sets in sorted({Fraction(quantity) for quantity in quantities}):
        of_run = replace(question, run=sets)
        variant = {"sku": sku} | costed(of_run, figures, alloy, growth, False, sets, note)
        decision = before_ladder(read, figures, variant, channel, note, sets)
        price, binds = decision["price"], decision["binds"]
        if not charge_design:
            note(f"prices: {channel}", "tie", "asked against the price in force", price - in_force, price)
            if in_force < price:
                price, binds = in_force, "price_in_force"
        if offers:
            before = offers[-1]["price"]
            note(f"prices: {channel}", "tie", "asked against the smaller quantity", price - before, price)
            if before < price:
                price, binds = before, "smaller_quantity"
        total = sets * price
        least = stated.get("minimum_order", ZERO)
        note(f"prices: {channel}", "tie", "sum against minimum_order", total - least, total)
        offers.append(
            {
                "quantity": sets,
                "required_price": decision["required_price"],
                "asked": decision["price"],
                "price": price,
                "binds": binds,
                "sum": total,
                "below_minimum_order": total < least,
                "unit_cost": variant["unit_cost"],
            }
            | at_price(read, figures, variant, channel, price, note, sets)
        )
    if close_calls is not None:
        close_calls.extend(question.calls)
    return {
        "sku": sku,
        "alloy": alloy,
        "channel": channel,
        "currency": stated.get("currency", read.workshop["currency"]),
        "price_in_force": in_force,
        "offers": offers,
    }


def found(question: Question, sku: str, alloy: str) -> tuple[dict, Fraction, str | None]:
    """A variant's figures, how much of the master's volume it has, and its size where it has its own price."""
    for product in question.folder.products:
        if alloy not in product["alloys"]:
            continue
        figures = figures_of(product, alloy)
        sizes = sizes_of(figures, question.number)
        if sizes and figures["sizes"].get("each_priced", False):
            for size in sizes:
                if sku == f"{product['sku']}-{size.name}":
                    return figures, size.growth, size.name
        elif sku == product["sku"]:
            return figures, mean_growth(sizes), None
    raise LookupError(f"no variant {sku} in {alloy}")
