"""What can be wrong with a price that was pulled."""

from __future__ import annotations

from pricing.errors import TroytagError


class PullFault(TroytagError):
    """A source that gives no price that may be used: the problem, one sentence without a full stop, and its mend."""

    def __init__(self, problem: str, mend: str):
        super().__init__(f"{problem}. {mend}")
        self.problem, self.mend = problem, mend
