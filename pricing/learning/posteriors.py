"""What the batch log knows of figures, for who asks how sure a price is: their 5 % and 95 % points."""

from __future__ import annotations

from pricing.batches.read import read_log
from pricing.costing import Costing
from pricing.learning.learned import learn
from pricing.studies.doubt.figures import Posterior


def posteriors(costing: Costing) -> tuple[Posterior, ...]:
    """The figures of which enough batches speak; none where the log is empty.

    What `doubts.toml` says of a figure is taken in already. Raises Faults where the log cannot be read, TroytagError
    where there are batches and scipy is not installed.
    """
    batches = read_log(costing.folder.root)
    if not batches:
        return ()
    rows = learn(costing, batches).rows
    return tuple(Posterior(row.name, row.low, row.high) for row in rows if not row.is_too_little)
