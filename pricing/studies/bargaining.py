"""What is said at a stall: what an order comes to, how far to come down among friends, and where to walk away.

Quantities as those of the cost model, with unit, reason and work. They are computed in a workshop that asks the wanted
hour in a channel, with so many sets in an order there, so that `required_price` is the least list price of one set
that brings that hour; what is really asked stands beside it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from types import FunctionType, MappingProxyType

import numpy as np

from pricing.formulas.columns import Columns, columns_of
from pricing.formulas.engine import Computed, run
from pricing.formulas.graph import Graph, build, cost_model_functions
from pricing.formulas.tables import INPUTS, Input
from pricing.model.currency import minor_unit
from pricing.quantities.asking import _rounded_up, _step_for  # the one way in which prices are rounded
from pricing.what_if import asking, in_orders_of, only
from pricing.words import maximum, minimum, where

#: What a friend gets off where nobody says.
FRIENDLY_SHARE = 0.05
#: What these quantities take besides the inputs of the cost model.
OWN_INPUTS: Mapping[str, Input] = MappingProxyType(
    {
        known.name: known
        for known in (
            Input("asked_price", "price", "quoted", "List price that is asked now.", 0.0),
            Input("friendly_share", "workshop", "1", "What a friend gets off the asking price.", FRIENDLY_SHARE),
            Input("least_coin", "workshop", "quoted", "Least amount that is paid in the currency.", 0.01),
        )
    }
)


def order_price(asked_price, sets_per_order) -> "price":
    """What is asked for an order, all its sets together.

    Unit: quoted
    Why: several sets go over the counter for so many times the price of one.
    """
    return asked_price * sets_per_order


def walk_away_price(required_price, sets_per_order, least_coin) -> "price":
    """What an order must bring at least, all its sets together.

    Unit: quoted
    Why: below it the order no longer brings what is wanted; rounded up to the least coin, since a coin less is short.
    """
    return _rounded_up(required_price * sets_per_order, least_coin, 0)


def friendly_goal(order_price, friendly_share, can_be_had, walk_away_price) -> "price":
    """What a friend is asked for an order, before it is rounded.

    Unit: quoted
    Why: a share off, but never below where one walks away.
    """
    return maximum(order_price * (1 - friendly_share), where(can_be_had, walk_away_price, 0))


def friendly_step(friendly_goal, applies_below_stated, applies_below, step_position, step_size) -> "price":
    """Step that the friendly price is rounded to.

    Unit: quoted
    Why: the first whose bound is above it.
    """
    return _step_for(friendly_goal, applies_below_stated, applies_below, step_position, step_size)


def friendly_price(friendly_goal, friendly_step, ending, order_price) -> "price":
    """What a friend is asked for an order, all its sets together.

    Unit: quoted
    Why: rounded up by the channel's own rule, and never above what is asked of anybody.
    """
    return minimum(_rounded_up(friendly_goal, friendly_step, ending), order_price)


def bargaining_functions() -> list[FunctionType]:
    """The quantities of this study."""
    return [order_price, walk_away_price, friendly_goal, friendly_step, friendly_price]


@cache
def bargaining_model() -> Graph:
    """The cost model with the quantities of this study."""
    return build([*cost_model_functions(), *bargaining_functions()], {**INPUTS, **OWN_INPUTS}, checked=False)


def bargained(
    computed: Computed, rows: Sequence[int], channel: str, hours: Sequence[float], sets: float, friendly: float
) -> Computed:
    """Everything for orders of so many sets of the variants in `rows`, each with the hour that is wanted of it."""
    wanted = [{"asks_solving": True, "asks_earnings": True, "asked_earnings": hour} for hour in hours]
    resolved = in_orders_of(asking(only(computed.resolved, rows), channel, wanted), channel, sets)
    columns = columns_of(resolved)
    own = {
        "asked_price": _with_rows_behind(computed["price"][list(rows)], columns),
        "friendly_share": np.array(friendly),
        "least_coin": np.array(minor_unit(next(each.currency for each in resolved.channels if each.name == channel))),
    }
    columns = replace(columns, inputs={**columns.inputs, **own})
    graph = bargaining_model()
    return Computed(resolved, graph, columns, MappingProxyType(run(columns, graph)))


def _with_rows_behind(prices: np.ndarray, columns: Columns) -> np.ndarray:
    """Prices of the variants, and 0 for whatever the columns have behind them."""
    behind = len(columns.inputs["sold"]) - len(prices)
    return np.concatenate([prices, np.zeros((behind, prices.shape[1]))])
