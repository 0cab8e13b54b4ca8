"""How designs of one alloy are spread over flasks, so that each still has its chance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from time import monotonic

import numpy as np

from pricing.pouring.chances import Count, chance_of_enough
from pricing.pouring.designs import Design
from pricing.pouring.packing import Packed, fewest_bins
from pricing.pouring.rooms import RoomsOfPour

#: A design that falls short in a packing is counted with one more so often: each is tried, for nobody knows before
#: whether more castings or trees of their own take fewer flasks.
TRIES = (8, 2, 0)
#: So many designs in so many flasks are few, and so many seconds are far more than they take.
SMALL_GROUP, SMALL_FLASKS, SMALL_SECONDS = 6, 12, 5.0
HAIR = 1e-9


def packed_group(
    group: Sequence[Design],
    limits: Mapping[Design, RoomsOfPour],
    counts: dict[Design, Count],
    sure: float | None,
    seconds: float,
) -> Packed:
    """The fewest flasks for designs that may share them; each bin holds the units of every design.

    `counts` come to hold for the very flasks of the packing. First fit first; where it is not proved best, HiGHS.
    """
    spreading = _Spreading(tuple(group), limits, sure, dict(counts))
    small = spreading.is_small and seconds > 0
    found = [spreading.settled(tries, seconds if small else 0.0) for tries in TRIES]
    if seconds > 0 and not small and min(found, key=_flasks)[0].gap:
        found += [spreading.settled(tries, seconds / len(TRIES)) for tries in TRIES]
    packed, settled = min(found, key=_flasks)
    counts.update(settled)
    return packed


def _flasks(found: tuple[Packed, Mapping[Design, Count]]) -> tuple[int, int, int]:
    """What is wanted few of: flasks, then castings in them, then flasks that may be too many."""
    packed, counts = found
    return len(packed.bins), sum(count.on_trees for count in counts.values()), len(packed.bins) - packed.least


@dataclass(frozen=True)
class _Spreading:
    """Looks for a packing in which every design has its chance.

    Castings go one by one wherever there is room, in no fewer flasks than the design was counted for. Scattered over
    more flasks its chance may fall: then it is counted with one more, some times, and in the end what was counted for
    one tree stays together and apart from the design's other trees, which is what its chance was counted for.
    """

    group: tuple[Design, ...]
    limits: Mapping[Design, RoomsOfPour]
    sure: float | None
    first: Mapping[Design, Count]

    @property
    def is_small(self) -> bool:
        """Whether HiGHS takes it in no time: then it is waited for, so that a busy machine plans the same."""
        return (
            len(self.group) <= SMALL_GROUP and sum(len(count.flasks) for count in self.first.values()) <= SMALL_FLASKS
        )

    def settled(self, most_tries: int, seconds: float) -> tuple[Packed, dict[Design, Count]]:
        """The packing and the counts that hold in it, HiGHS looking for so many seconds in all."""
        ends, timed = monotonic() + seconds, seconds > 0
        counts = {design: self.first[design] for design in self.group}
        whole = {design for design in self.group if len(self.group) == 1 and self.sure is not None}
        tries: Counter[Design] = Counter()
        while True:
            packed = self.packing(
                counts, whole, SMALL_SECONDS if timed and self.is_small else max(0.0, ends - monotonic())
            )
            short = [
                design
                for place, design in enumerate(self.group)
                if self.sure is not None
                and design not in whole
                and attained(design, counts[design], [held[place] for held in packed.bins])
                < self.sure**design.sure_share - HAIR
            ]
            if not short:
                return packed, counts
            for design in short:
                tries[design] += 1
                if tries[design] > most_tries:
                    whole.add(design)
                    counts[design] = self.first[design]
                else:
                    counts[design] = _one_more(counts[design])

    def packing(self, counts: Mapping[Design, Count], whole: Set[Design], seconds: float) -> Packed:
        """The fewest flasks; a kind is one unit of a design, or all that of a `whole` one was counted for one tree."""
        kinds: list[tuple[int, int, int, int]] = []  # place of the design, units of one, how many, most in a flask
        for place, design in enumerate(self.group):
            count = counts[design]
            if design in whole:
                kinds += [(place, size, number, 1) for size, number in Counter(count.flasks).items()]
            elif self.sure is None:
                kinds.append((place, 1, count.on_trees, count.on_trees))
            else:
                kinds.append((place, 1, count.on_trees, max(count.flasks)))
        shares = [self.limits[design].shares(design) for design in self.group]
        rooms = np.array(
            [
                [
                    *(size * share for share in shares[place]),
                    *(float(self.group[place] == other) for other in self.group if other in whole),
                ]
                for place, size, _, _ in kinds
            ]
        )
        packed = fewest_bins([number for _, _, number, _ in kinds], rooms, [most for *_, most in kinds], seconds)
        held = [[0] * len(self.group) for _ in packed.bins]
        for units, taken in zip(held, packed.bins, strict=True):
            for (place, size, _, _), number in zip(kinds, taken, strict=True):
                units[place] += size * number
        return replace(packed, bins=tuple(tuple(units) for units in held))


def _one_more(count: Count) -> Count:
    """One more unit on the tree that has fewest."""
    spread = sorted(count.flasks)
    return replace(
        count,
        patterns=max(count.patterns, count.on_trees + 1),
        on_trees=count.on_trees + 1,
        flasks=tuple(sorted((*spread[1:], spread[0] + 1), reverse=True)),
    )


def attained(design: Design, count: Count, flasks: Iterable[int]) -> float:
    """The chance of enough with these flasks, of a design by itself."""
    filled = tuple(sorted(filter(None, flasks), reverse=True))
    return chance_of_enough(design.chain, design.quantity, count.patterns, filled)
