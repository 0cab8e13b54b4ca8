"""The cost model with the quantities of the bench, and each of them by itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from types import MappingProxyType

import numpy as np

from pricing.formulas.by_itself import by_itself
from pricing.formulas.graph import Graph, build, cost_model_functions, functions_of
from pricing.formulas.tables import INPUTS, Input
from pricing.pouring import formulas

#: What these quantities take besides the inputs of the cost model.
OWN_INPUTS: Mapping[str, Input] = MappingProxyType(
    {
        known.name: known
        for known in (
            Input("tree_cm3", "flask", "cm3", "Volume of the tree that stands in the flask.", 0.0),
            Input("tree_pattern_g", "alloy", "g", "Weight of a sprued tree in wax or resin.", 0.0),
            Input("tree_pattern_density", "alloy", "g/cm3", "Density of that wax or resin.", 1.0),
            Input("own_g", "alloy", "g", "Metal that is there.", 0.0),
            Input("own_fineness", "alloy", "1", "Share of the fine metal in it.", 0.0),
            Input("wanted_fineness", "alloy", "1", "Share of the fine metal that is wanted.", 1.0),
            Input("added_fineness", "alloy", "1", "Share of the fine metal in what is added.", 1.0),
            Input("run_minutes", "machine", "min", "How long it runs.", 0.0),
        )
    }
)


@cache
def pour_model() -> Graph:
    """The cost model with the quantities of the bench."""
    return build([*cost_model_functions(), *functions_of([formulas])], {**INPUTS, **OWN_INPUTS}, checked=False)


@cache
def formula(name: str) -> Callable[..., np.ndarray]:
    """A quantity of the cost model or of the bench, on numbers of one's own."""
    return by_itself(name, pour_model())
