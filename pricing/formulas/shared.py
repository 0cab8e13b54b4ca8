"""What runs of the same formulas have in common where some of their columns are the very same arrays.

A formula gives the very same where it is given the very same arrays, so what it gave is taken again: to the bit, since
nothing else than before is ever computed in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field

import numpy as np

#: Bytes of what is held; what comes when there is no more room is computed each time.
ROOM = 2**28


@dataclass
class Shared:
    """Arrays by what was done and by the arrays that it was done to; those are held too, so that each stays itself."""

    room: int = ROOM
    _held: dict[tuple[Hashable, ...], tuple[np.ndarray, tuple[np.ndarray, ...]]] = field(default_factory=dict)
    _alike: dict[int, tuple[bool, np.ndarray]] = field(default_factory=dict)

    def taken(self, what: Hashable, of: Sequence[np.ndarray], make: Callable[[], np.ndarray]) -> np.ndarray:
        """What `make` gives, or gave when `what` was last done to these very arrays. Nobody may write into it."""
        key = (what, *map(id, of))
        known = self._held.get(key)
        if known is not None:
            return known[0]
        made = make()
        size = (made.base if isinstance(made.base, np.ndarray) else made).nbytes
        if size <= self.room or any(made.base is each for each in of):
            self.room -= 0 if any(made.base is each for each in of) else size
            self._held[key] = made, tuple(of)
        return made

    def asked(self, array: np.ndarray, ask: Callable[[np.ndarray], bool]) -> bool:
        """What `ask` says of an array; it is the same question each time."""
        known = self._alike.get(id(array))
        if known is None:
            known = self._alike[id(array)] = ask(array), array
        return known[0]
