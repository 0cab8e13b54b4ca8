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
from pricing.formulas.graph import Graph, build, cost_model_functions, functions_of
from pricing.formulas.tables import INPUTS, Input
from pricing.model.currency import minor_unit
from pricing.studies.stall import formulas
from pricing.what_if import asking, in_orders_of, only

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


def bargaining_functions() -> list[FunctionType]:
    """The quantities of this study."""
    return functions_of([formulas])


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
