"""What a set carries that is there whatever is made: the maker's own hours with their pay, and the overhead.

By variant (rows) and channel (columns), with an order's share of selling it. Whoever asks what a month or a year leaves
adds them to the profit and takes off what is really spent once.
"""

from __future__ import annotations

import numpy as np

from pricing.formulas.engine import Computed


def own_hours(computed: Computed) -> np.ndarray:
    """Hours of the maker's own."""
    return np.asarray(computed["own_labour_hours"][:, None] + computed["own_order_hours"])


def own_pay(computed: Computed) -> np.ndarray:
    """What the maker's own hours are paid, in the workshop's currency."""
    return np.asarray(computed["own_labour_cost"][:, None] + computed["own_order_cost"])


def overhead_carried(computed: Computed) -> np.ndarray:
    """Overhead by the attended hours, in the workshop's currency."""
    return np.asarray(computed["overhead_cost"][:, None] + computed["order_hours"] * computed["overhead_rate"])
