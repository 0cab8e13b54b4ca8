"""A linear programme: what to make most of under limits, what each limit is worth, and the best in whole numbers.

Solved by HiGHS, which scipy brings along. Nothing here knows of metal or of hours: rows are limits, columns are what
may be made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pricing.errors import TroytagError, UsageFault
from pricing.extras import missing

#: How long whole numbers are looked for, in seconds, and how far from the best that can be the found may stay.
SECONDS, GAP = 10.0, 1e-6
#: Of so many of one thing nobody counts pieces, and HiGHS, which loses them in its tolerances, complains on the screen.
UNCOUNTED = 1e9


@dataclass(frozen=True)
class Programme:
    """Gain the most: the sum of `gains` × amounts, where each row of `uses` × amounts is at most its limit.

    `gains` by column, `uses` by row and column (an array, or a sparse one), `limits` by row; amounts are 0 or more,
    `whole` says of which columns they are whole numbers. A row of at least so much is written with its signs turned.
    """

    gains: np.ndarray
    uses: Any
    limits: np.ndarray
    whole: np.ndarray


@dataclass(frozen=True)
class Best:
    """The best amounts, by column, and what they gain.

    `worth`, by row, is what one more of a limit gains (0 where some of it is left), `short`, by column, what one of it
    would have to gain more to be worth making. `gap` is how much of the gain at most is still to be found, as a share:
    0 but where whole numbers were looked for and time ran out.
    """

    amounts: np.ndarray
    gain: float
    worth: np.ndarray
    short: np.ndarray
    gap: float = 0.0


class Impossible(UsageFault):
    """No amounts keep within all limits."""


class Boundless(UsageFault):
    """Nothing holds what is gained."""


def check_solver() -> None:
    """Raise TroytagError where scipy, which brings the solver, is not installed."""
    try:
        import scipy.optimize  # noqa: F401
    except ImportError:
        raise missing("What to make of a month", "scipy", "studies") from None


def solve(programme: Programme) -> Best:
    """The best in shares, with what every limit is worth.

    Source: the dual of a linear programme; by its optimum no more is gained than the limits are worth.
    Raises Impossible, Boundless.
    """
    from scipy.optimize import linprog

    if not len(programme.gains):
        return Best(np.zeros(0), 0.0, np.zeros(len(programme.limits)), np.zeros(0))
    found = linprog(-programme.gains, A_ub=programme.uses, b_ub=programme.limits, method="highs")
    _check(found.status, found.message)
    worth = np.maximum(0.0, -found.ineqlin.marginals)
    return Best(found.x, -float(found.fun), worth, np.maximum(0.0, found.lower.marginals))


def solve_whole(programme: Programme) -> Best:
    """The best where some amounts are whole; what limits are worth is that of the shares, for whole numbers have none.

    Where there are more than anybody counts, it is the best in shares. Raises Impossible, Boundless.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    shares = solve(programme)
    if not programme.whole.any() or shares.amounts.max() > UNCOUNTED:
        return shares
    found = milp(
        -programme.gains,
        integrality=programme.whole.astype(int),
        bounds=Bounds(0, np.inf),
        constraints=LinearConstraint(programme.uses, -np.inf, programme.limits),
        options={"time_limit": SECONDS, "mip_rel_gap": GAP},
    )
    if found.x is None:
        _check(found.status, found.message)
    amounts = np.where(programme.whole, np.round(found.x), found.x)
    gain = float(programme.gains @ amounts)
    return Best(amounts, gain, shares.worth, shares.short, max(0.0, float(found.mip_gap or 0.0)))


def _check(status: int, message: str) -> None:
    if status == 0:
        return
    if status == 2:
        raise Impossible("no plan keeps within all of these limits.")
    if status == 3:
        raise Boundless("nothing limits what is made.")
    raise TroytagError(f"the plan could not be worked out: {message}")
