"""What very many prices come to, without writing them: counts, means, tenths; put together from any number of parts.

Means are sums that are added up in the order of the parts. Tenths are read off counts in narrow bins, which add up
exactly whatever was done where.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.formulas.reducers import Bins
from pricing.many.pricing_batch import VERDICTS, WHYS

#: The figures that are summed up.
SUMMED = ("unit_cost", "asked", "margin_asked", "margin_now")
#: The shares below which a figure is told.
TENTHS: Mapping[str, float] = MappingProxyType({"p10": 0.1, "p50": 0.5, "p90": 0.9})


@dataclass(frozen=True)
class Summary:
    """Sums of prices by channel; two are put together by adding them.

    `verdicts` and `reasons` are counts by channel and place in `VERDICTS` and `WHYS`; `counts`, `sums` and `bins`
    are of each figure; `under` counts the margins now (asked, where none is in force) below the margin asked about.
    """

    variants: int
    verdicts: np.ndarray
    reasons: np.ndarray
    counts: Mapping[str, np.ndarray]
    sums: Mapping[str, np.ndarray]
    bins: Mapping[str, Bins]
    under: np.ndarray

    def __add__(self, other: Summary) -> Summary:
        def added(one: Mapping[str, np.ndarray], two: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
            return {name: one[name] + two[name] for name in one}

        return Summary(
            self.variants + other.variants,
            self.verdicts + other.verdicts,
            self.reasons + other.reasons,
            added(self.counts, other.counts),
            added(self.sums, other.sums),
            {name: _merged(self.bins[name], other.bins[name]) for name in self.bins},
            self.under + other.under,
        )


def nothing(channels: int) -> Summary:
    """The summary of no prices."""
    places = np.zeros(0, dtype=np.intp)
    figures = {name: np.zeros(0) for name in SUMMED}
    return summed(0, places, places, places, figures, channels, 0.0)


def together(parts: Sequence[Summary], channels: int) -> Summary:
    """Summaries put together, in their order."""
    return reduce(lambda one, two: one + two, parts, nothing(channels))


def summed(
    variants: int,
    channel: np.ndarray,
    verdict: np.ndarray,
    reason: np.ndarray,
    figures: Mapping[str, np.ndarray],
    channels: int,
    under: float,
) -> Summary:
    """The summary of some prices: the place of the channel of each, its verdict, reason and figures, NaN for none."""

    def table(places: np.ndarray, wide: int, of: np.ndarray) -> np.ndarray:
        return np.bincount(of * wide + places, minlength=channels * wide).reshape(channels, wide)

    counts, sums, bins = {}, {}, {}
    for name in SUMMED:
        there = np.isfinite(figures[name])
        every = bool(there.all())
        values, of = (figures[name], channel) if every else (figures[name][there], channel[there])
        counts[name] = np.bincount(of, minlength=channels)
        sums[name] = np.bincount(of, weights=values, minlength=channels)
        bins[name] = Bins((channels,))
        bins[name].add_at(of, values)
    now = np.where(np.isfinite(figures["margin_now"]), figures["margin_now"], figures["margin_asked"])
    return Summary(
        variants,
        table(verdict, len(VERDICTS), channel),
        table(reason, len(WHYS), channel),
        counts,
        sums,
        bins,
        np.bincount(channel[now < under], minlength=channels),
    )


def _merged(one: Bins, two: Bins) -> Bins:
    made = Bins(one.shape)
    made.merge(one)
    made.merge(two)
    return made


def records(summary: Summary, channels: Sequence[str], under: float) -> list[dict[str, Any]]:
    """A record for each channel."""
    tenths = {name: {tenth: summary.bins[name].quantile(share) for tenth, share in TENTHS.items()} for name in SUMMED}
    records = []
    for place, channel in enumerate(channels):
        record: dict[str, Any] = {"channel": channel, "prices": int(summary.verdicts[place].sum())}
        record["verdicts"] = {
            verdict: int(many) for verdict, many in zip(VERDICTS, summary.verdicts[place], strict=True)
        }
        record["reasons"] = {
            reason: int(many) for reason, many in zip(WHYS, summary.reasons[place], strict=True) if many
        }
        for name in SUMMED:
            many = int(summary.counts[name][place])
            mean = float(summary.sums[name][place]) / many if many else None
            record[name] = {"mean": mean, **{tenth: _number(found[place]) for tenth, found in tenths[name].items()}}
        record["under"] = {"margin": under, "prices": int(summary.under[place])}
        records.append(record)
    return records


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
