"""Which flasks are burnt out together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pricing.costing import Costing
from pricing.pouring.designs import Design
from pricing.pouring.figures import Load
from pricing.pouring.model import formula
from pricing.pouring.packing import fewest_bins


def kiln_loads(
    costing: Costing, flasks: Sequence[tuple[tuple[Design, int], ...]], seconds: float
) -> tuple[tuple[Load, ...], list[tuple[int, int]], int]:
    """Fewest kiln loads; the flasks in the order of their loads and alloys, each with its load; how few are proved.

    A flask takes the longest burnout of what is in it, and a load that of its flasks: longer does no harm.
    """
    resolved = costing.computed.resolved
    machines = {row.name: row for row in resolved.machines}
    rates = dict(zip(machines, costing.computed["machine_rate"].tolist(), strict=True))
    by_kiln: dict[str, list[tuple[float, float, str, int]]] = {}
    for at, holds in enumerate(flasks):
        runs = [design.burnout for design, _ in holds if design.burnout]
        if runs:
            longest = max(runs, key=lambda run: run.minutes)
            least = min(run.together for run in runs)
            by_kiln.setdefault(longest.machine, []).append((longest.minutes, least, longest.step, at))
    loads: list[Load] = []
    placed: dict[int, int] = {}
    least_loads = 0
    for machine, stands in by_kiln.items():
        kinds = sorted({each[:3] for each in stands}, key=lambda kind: (-kind[0], kind[1:]))
        waiting = {kind: [each[3] for each in stands if each[:3] == kind] for kind in kinds}
        for alike in waiting.values():
            alike.sort(key=lambda at: _by_alloy(flasks[at]), reverse=True)
        counts = [len(waiting[kind]) for kind in kinds]
        packed = fewest_bins(counts, np.array([[1 / kind[1]] for kind in kinds]), counts, seconds)
        least_loads += packed.least
        for held in packed.bins:
            inside = [kind for kind, count in zip(kinds, held, strict=True) if count]
            numbers = [waiting[kind].pop() for kind, count in zip(kinds, held, strict=True) for _ in range(count)]
            placed |= {at: len(loads) + 1 for at in numbers}
            row = machines[machine]
            minutes, _, step = inside[0]
            share = sum(count / kind[1] for kind, count in zip(kinds, held, strict=True))
            kwh = formula("run_kwh")(power_kw=row.power_kw, duty=row.duty, run_minutes=minutes)
            cost = minutes / 60 * rates[machine]
            loads.append(Load(len(loads) + 1, machine, step, minutes, tuple(numbers), share, float(kwh), cost))
    order = sorted(range(len(flasks)), key=lambda at: (placed.get(at, 0), _by_alloy(flasks[at]), at))
    numbers_of = {at: number for number, at in enumerate(order, 1)}
    renamed = tuple(replace(load, flasks=tuple(sorted(numbers_of[at] for at in load.flasks))) for load in loads)
    return renamed, [(at, placed.get(at, 0)) for at in order], least_loads


def _by_alloy(holds: tuple[tuple[Design, int], ...]) -> tuple[str, str]:
    return holds[0][0].alloy, holds[0][0].flask
