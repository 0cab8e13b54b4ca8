"""One quantity by itself: its formula on numbers or arrays that come from elsewhere than a resolved workshop.

A weighed piece, a history of prices, a price in a back-test: whatever has the columns of a quantity gets it from the
cost model's own formula and never from a second one.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from pricing.formulas.graph import Graph, cost_model
from pricing.formulas.numpy_words import NUMPY_WORDS
from pricing.words import bind


def by_itself(name: str, graph: Graph | None = None) -> Callable[..., np.ndarray]:
    """The quantity `name` as a function of its parameters by name, each a number or an array.

    Arrays are lined up as numpy does. A parameter that has an axis more than the quantity (the losses of all steps
    behind one share) has it last; the others lack it. An input that is left out holds its idle value. What is
    undefined is NaN. Raises KeyError for a quantity that there is not, TypeError for a parameter that is none or that
    is a quantity and left out.
    """
    graph = graph or cost_model()
    quantity = graph.quantities[name]
    function = bind(quantity.function, NUMPY_WORDS)
    along = {need.parameter for need in quantity.needs if need.path.extra}
    idle = {need.parameter: graph.inputs[need.column].idle for need in quantity.needs if need.column in graph.inputs}

    def computed(**columns: ArrayLike) -> np.ndarray:
        values: dict[str, ArrayLike] = {**idle, **columns}
        if quantity.extra:
            for key, value in values.items():
                values[key] = np.asarray(value) if key in along else np.asarray(value)[..., None]
        with np.errstate(all="ignore"):
            result = np.asarray(function(**values))
        return result[..., 0] if quantity.extra else result

    return computed
