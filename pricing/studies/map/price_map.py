"""A price and a margin against any two figures of the folder: each cell is the whole folder's run with both changed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated, Any, TypeVar

import numpy as np
from pydantic import TypeAdapter, ValidationError

from pricing.costing import cost_folder
from pricing.errors import Faults, UsageFault
from pricing.folder.checks.doubts import fitting, inside, problem_of
from pricing.folder.expected_keys import keys_of
from pricing.folder.inherit import pieces
from pricing.folder.prices.in_force import in_force
from pricing.folder.read import Folder
from pricing.folder.rows.resolve import Asked
from pricing.model.base import StatedModel
from pricing.model.process import StepFigures
from pricing.model.product import OwnInAlloy, Product
from pricing.model.stated import Stated
from pricing.records import decimal_price, number
from pricing.studies.alloys.every_alloy import alone_in, leading_metal, measured, parts_of_folder
from pricing.studies.prices_out import PricesOut, Wanted, at_prices, prices_out

#: What states figures of its own for steps of a process: a product, or a product in one alloy.
OwnFigures = TypeVar("OwnFigures", Product, OwnInAlloy)
#: Before the name of a metal or a currency, for its price in force.
METAL_PRICES = "metal_prices"
#: Most values along one side.
MOST_STEPS = 25


@dataclass(frozen=True)
class Side:
    """The values that a figure takes along one side of a map, in its own unit, by its path as `doubts.toml` has it."""

    path: str
    values: tuple[float, ...]


@dataclass(frozen=True)
class Map:
    """A price, in the channel's currency, and a margin, by value down and across; None where none can be had.

    `prices` are what the policy asks; `margins` what the price `held` earns.
    """

    out: PricesOut
    sku: str
    alloy: str
    channel: str
    across: Side
    down: Side
    held: float
    prices: tuple[tuple[float | None, ...], ...]
    margins: tuple[tuple[float | None, ...], ...]


def side(text: str, steps: int) -> Side:
    """A side written as `alloys.sterling.melt_loss=0.005..0.02`. Raises UsageFault where it is not."""
    path, _, ends = text.rpartition("=")
    low, _, high = ends.partition("..")
    try:
        begin, end = float(low), float(high)
    except ValueError:
        begin = end = math.nan
    if not path or not math.isfinite(end - begin) or begin == end:
        raise UsageFault(f'"{text}": write a figure, as doubts.toml names it, and two values: FIGURE=0.01..0.05.')
    return Side(path.strip(), tuple(float(f"{value:.12g}") for value in np.linspace(begin, end, steps)))


def usual_sides(out: PricesOut, alloy: str, steps: int) -> tuple[Side | None, Side]:
    """Half to twice the price of an alloy's leading metal, None where it has none; and half to twice the first pay."""
    metal, workshop = leading_metal(out.computed, alloy), out.costing.folder.stated.workshop
    role, labour = next(iter(workshop.labour.items()))
    if metal is None:
        return None, _around(f"labour.{role}.rate", labour.rate, steps)
    row = out.computed.resolved.metals[metal]
    return _around(f"{METAL_PRICES}.{row.name}", row.quote_price, steps), _around(
        f"labour.{role}.rate", labour.rate, steps
    )


def _around(path: str, value: float, steps: int) -> Side:
    return Side(path, tuple(float(f"{value * times:.12g}") for times in np.geomspace(0.5, 2, steps)))


def price_map(
    folder: Folder,
    variant: tuple[str, str | None, str | None],
    across: Side | None,
    down: Side | None,
    steps: int,
    asked: Asked,
    wanted: Wanted = None,
) -> Map:
    """The price and the margin of a variant for all values of two figures, the usual ones where none is named.

    `variant` is sku, alloy (the first if None) and channel (the first in which it is sold). Raises UsageFault where
    there is no such variant, figure or value, Faults where it cannot be costed as it stands.
    """
    known, (sku, alloy, channel) = pieces(folder.products), variant
    made_in = known[sku].product.alloys or () if sku in known else ()
    alloy = made_in[0] if alloy is None and made_in else alloy
    if alloy is None or alloy not in made_in:
        raise UsageFault(f"{sku} is not made in {alloy or 'any alloy'}. Name another product, size or alloy.")
    trial, measure = alone_in(folder, known[sku].product, [alloy]), lru_cache(maxsize=None)(measured)
    out = prices_out(cost_folder(trial, asked, measure), wanted)
    row = next(row for row, each in enumerate(out.computed.resolved.variants) if each.sku == sku)
    sold_in = [name for name, is_sold in zip(folder.stated.channels, out.asked.computed.sold_places[row], strict=True)
            if is_sold]  # fmt: skip
    channel = sold_in[0] if channel is None and sold_in else channel
    if channel is None or channel not in sold_in:
        raise UsageFault(f"{sku} in {alloy} is not sold in {channel or 'any channel'}. Name another one.")
    column, usual = out.costing.column(channel), usual_sides(out, alloy, steps)
    across, down = across or usual[0], down or usual[1]
    if across is None:
        raise UsageFault(f"no metal in {alloy} has a price: say with --across what is to change.")
    if across.path == down.path:
        raise UsageFault(f"{across.path} is on both sides. Name two figures.")
    held = float(out.computed["price"][row, column])
    cells: list[list[tuple[float | None, float | None]]] = []
    for value in down.values:
        cells.append([])
        changed = with_figure(trial, down.path, value, asked)
        for other in across.values:
            both = with_figure(changed, across.path, other, asked)
            try:
                computed = cost_folder(both, asked, measure).computed
            except Faults:  # as where fees and margin leave no price
                cells[-1].append((None, None))
                continue
            except ValidationError as wrong:  # a step that makes no sense with a product's own figure
                raise _refused(across.path, other, wrong) from None
            prices = computed["price"].copy()
            asks, prices[row, column] = number(prices[row, column]), held
            cells[-1].append((asks, number(at_prices(computed, prices)["margin"][row, column])))
    return Map(
        out,
        sku,
        alloy,
        channel,
        across,
        down,
        held,
        tuple(tuple(decimal_price(price) for price, _ in line) for line in cells),
        tuple(tuple(margin for _, margin in line) for line in cells),
    )


def with_figure(folder: Folder, path: str, value: float, asked: Asked) -> Folder:
    """The folder with one figure at another value. Raises UsageFault where there is no such figure or value."""
    head, _, rest = path.partition(".")
    if head == METAL_PRICES:
        return replace(folder, stated=_with_quote(folder, rest, value, asked))
    parts = parts_of_folder(folder, folder.products)
    told = problem_of(parts, path) if path else ("no figure is named", "Write its path.")
    if told is not None:
        raise UsageFault(f"{told[0]}. {told[1]}")
    try:
        return replace(folder, stated=stated_with(folder.stated, path, value))
    except ValidationError as wrong:
        raise _refused(path, value, wrong) from None
    except LookupError:
        raise UsageFault(f"{path}: nothing of this piece hangs on that figure. Name another one.") from None


def _refused(path: str, value: float, wrong: ValidationError) -> UsageFault:
    return UsageFault(f"{path} = {value:g}: {wrong.errors()[0]['msg']}. Write other values.")


def _with_quote(folder: Folder, metal: str, value: float, asked: Asked) -> Stated:
    found = in_force(folder.stated.quotes, asked.as_of)
    quote = found.metals.get(metal) or found.exchange.get(metal)
    if quote is None:
        raise UsageFault(f'no price of "{metal}" on or before {asked.as_of}. Name it as metal_prices.csv does.')
    changed = quote.model_copy(update={"price": value})
    for sense in changed.senses():
        raise UsageFault(f"{METAL_PRICES}.{metal}: {sense.problem}. {sense.mend}")
    return folder.stated.model_copy(update={"quotes": (*folder.stated.quotes, changed)})


def stated_with(stated: Stated, path: str, value: float, checked: bool = True) -> Stated:
    """What is stated, with one figure at another value; unless `checked`, whether or not it would be taken in a file.

    Raises UsageFault and ValidationError where it would not, LookupError where nothing stands there.
    """
    head, _, rest = path.partition(".")
    if head == "products":
        stated = _with_own_figures(stated, rest)
    if head not in type(stated).model_fields:
        head, rest = "workshop", path
    changed = _changed(getattr(stated, head), rest, value, checked)
    return stated.model_copy(update={head: changed})


def _with_own_figures(stated: Stated, rest: str) -> Stated:
    """With room for a product's own figures, in one alloy or of a step, that the rest of a path leads to."""
    for sku in fitting(stated.products, rest):
        product, below = stated.products[sku], rest[len(sku) + 1 :]
        cousin = product
        while cousin.process is None and cousin.like in stated.products:
            cousin = stated.products[cousin.like]
        names = [step.name for step in stated.processes.get(cousin.process or "", ())]
        if below.startswith("for_alloy."):
            alloys = fitting(product.alloys or (), below[10:])
            if not alloys:
                continue
            own = _with_room(product.for_alloy.get(alloys[0], OwnInAlloy()), names, below[11 + len(alloys[0]) :])
            product = product.model_copy(update={"for_alloy": {**product.for_alloy, alloys[0]: own}})
        else:
            product = _with_room(product, names, below)
        return stated.model_copy(update={"products": {**stated.products, sku: product}})
    return stated


def _with_room(own: OwnFigures, names: Sequence[str], below: str) -> OwnFigures:
    """With room for own figures of the step, one of `names`, that a path leads to."""
    if below.startswith("steps.") and not fitting(own.steps, below[6:]):
        for name in fitting(names, below[6:]):
            own = own.model_copy(update={"steps": {**own.steps, name: StepFigures()}})
    return own


def _changed(here: Any, rest: str, value: float, checked: bool) -> Any:
    """What stands here, with the figure that the rest of the path leads to at this value."""
    if not rest:
        return value
    within: Mapping[str, Any] = inside(here)
    name = next(iter(fitting(within, rest)), None)
    if name is None:
        raise LookupError(rest)
    below = rest[len(name) + 1 :]
    if isinstance(here, StatedModel):
        is_figure = checked and not below
        return _changed_in_model(here, name, lambda old: _changed(old, below, value, checked), is_figure, checked)
    new = _changed(within[name], below, value, checked)
    if isinstance(here, Mapping):
        return {**here, name: new}
    return tuple(new if each is within[name] else each for each in here)


def _changed_in_model(
    here: StatedModel, key: str, change: Callable[[Any], Any], is_figure: bool, checked: bool
) -> StatedModel:
    fields = type(here).model_fields
    field = keys_of(type(here))[key]
    name = next(each for each, other in fields.items() if other is field)
    new = change(getattr(here, name))
    if is_figure:
        kind: Any = Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
        whole = int(new) if new == int(new) and isinstance(getattr(here, name), int) else new
        new = TypeAdapter(kind).validate_python(whole)
    changed = here.model_copy(update={name: new})
    for sense in changed.senses() if checked else ():
        raise UsageFault(f"{key}: {sense.problem}. {sense.mend or 'Write other values.'}")
    return changed


def map_records(found: Map) -> Iterator[dict[str, Any]]:
    """A flat record for each cell, line by line."""
    for place, down in enumerate(found.down.values):
        for other, across in enumerate(found.across.values):
            yield {
                "sku": found.sku,
                "alloy": found.alloy,
                "channel": found.channel,
                found.down.path: down,
                found.across.path: across,
                "price": found.prices[place][other],
                "margin": found.margins[place][other],
            }
