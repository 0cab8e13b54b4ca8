"""How sure a cost, a price and a margin are, when the figures that they come of are not known exactly.

The same formulas run in thousands of worlds. In each, every doubted figure takes a value as likely as its doubt says,
and the metals stand where they might by the next repricing. The worlds are the same for every variant and channel and
from one time to the next (quasi-random draws with a fixed seed), so that two answers differ by what differs in them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from importlib.util import find_spec
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from pricing.errors import UsageFault
from pricing.extras import missing
from pricing.formulas.engine import Computed, compute
from pricing.formulas.tables import TABLES
from pricing.formulas.worlds import Worlds, metal_landings, metal_prices
from pricing.studies.break_even.reach import least_margins
from pricing.studies.doubt.figures import Doubted, Posterior, doubted
from pricing.studies.doubt.sobol import Indices, sobol_indices, uniform
from pricing.studies.metal_history.weeks import MetalWeeks, metal_weeks
from pricing.studies.prices_out import PricesOut, at_prices
from pricing.studies.repricing.deciding import MARGIN_NOISE, PRICE_NOISE
from pricing.what_if import only

#: Draws, where nobody says how many, and the most; points of the shares, for each group.
DRAWS, MOST_DRAWS, SHARE_POINTS = 4096, 2**20, 512
#: Numbers of a slab of variants that are kept at once: 64 MiB of them.
AT_ONCE = 8 * 2**20
#: The range that is told: one time in ten below it, one in ten above.
P10, P50, P90 = 0.1, 0.5, 0.9
#: What the metals and exchange rates are called among what contributes.
METAL = "metal prices"
#: Weeks until the next repricing where no channel says.
USUAL_WEEKS = 4


class Range(NamedTuple):
    """The tenth, the middle and the ninetieth percentile of a figure."""

    low: float
    middle: float
    high: float


class Share(NamedTuple):
    """What an input contributes to a spread: the share of the variance by it alone, and in all that it takes part in.

    None where nothing is spread.
    """

    alone: float | None
    in_all: float | None


@dataclass(frozen=True)
class SurePrice:
    """A price of a variant in a channel: in the channel's currency, in force or as asked.

    `asked` is the range of what the policy would ask in each world; `margin` that of what the price earns, beside what
    it earns with the figures as they stand. `loss` and `under_least` are chances, the second None without a least
    margin. `shares` say what makes the margin unsure.
    """

    channel: str
    price: float
    asked: Range
    margin_as_stated: float | None
    margin: Range | None
    loss: float
    least_margin: float | None
    under_least: float | None
    shares: Mapping[str, Share] = field(default_factory=dict, compare=False)


@dataclass(frozen=True)
class Sure:
    """A variant: its unit cost with the figures as they stand, its range, its prices, what makes the cost unsure."""

    sku: str
    alloy: str
    unit_cost: float
    cost: Range
    prices: tuple[SurePrice, ...]
    shares: Mapping[str, Share] = field(default_factory=dict, compare=False)


@dataclass(frozen=True)
class InDoubt:
    """The answer: the variants in their order, the figures in doubt, the moves of metal, how many draws."""

    out: PricesOut
    doubted: Doubted
    metals: MetalWeeks
    draws: int
    rows: tuple[Sure, ...]
    notes: tuple[str, ...]

    @cached_property
    def by_variant(self) -> Mapping[tuple[str, str], Sure]:
        """The answer by sku and alloy."""
        return MappingProxyType({(row.sku, row.alloy): row for row in self.rows})


def until_repricing(out: PricesOut) -> int:
    """Weeks until prices are looked at again: the middle of the channels' days between changes, rounded up."""
    rules = [channel.reprice for channel in out.costing.folder.stated.channels.values()]
    days = sorted(rule.days_between for rule in rules if rule is not None and rule.days_between)
    return -int(-days[len(days) // 2] // 7) if days else USUAL_WEEKS


def in_doubt(
    out: PricesOut,
    learned: Iterable[Posterior] = (),
    weeks: int | None = None,
    draws: int = DRAWS,
    rows: Sequence[int] | None = None,
    shares: bool = True,
    progress: Callable[[float], None] = lambda share: None,
) -> InDoubt:
    """How sure costs, prices and margins are, at the prices that go out.

    `learned` is what the batch log says of figures; `weeks` how long metal may move (None: until the next repricing,
    where the history tells enough); `draws` is rounded up to a power of two; `rows` are those of the variants (None:
    all); without `shares` nobody asks what contributes, which takes most of the time. `progress` is told the share of
    the worlds that is done. Raises UsageFault where nothing is in doubt or numbers make no sense, TroytagError where
    scipy is not installed.
    """
    if find_spec("scipy") is None:
        raise missing("A doubt", "scipy", "studies")
    if not 1 <= draws <= MOST_DRAWS:
        raise UsageFault(f"--draws {draws}: write a number from 1 to {MOST_DRAWS:,}.")
    costing = out.asked
    quotes, resolved = costing.folder.stated.quotes, costing.computed.resolved
    metals = metal_weeks(quotes, resolved, until_repricing(out) if weeks is None else weeks, strict=weeks is not None)
    figures = doubted(costing, learned)
    notes = [*figures.left_out, *_still(metals)]
    if not figures.figures and not metals.moves:
        metal = "the price history is too short to say how metal moves" if metals.weeks else "metal stands still"
        raise UsageFault(
            f"nothing is in doubt: doubts.toml says of no figure how sure it is, and {metal}. Add a line such as "
            '"overhead.productive_hours" = { low = 70, high = 110 }: the 5 % and 95 % points.'
        )
    rows = range(len(resolved.variants)) if rows is None else rows
    draws = 1 << (draws - 1).bit_length()
    points = uniform(draws, max(1, len(figures.figures) + len(metals.blocks)))
    groups = len(figures.figures) + bool(metals.blocks) + 2 if shares else 0
    study = _Study(out, figures, metals, points, progress, len(rows) * (draws + SHARE_POINTS * groups))
    channels = len(resolved.channels)
    slab = max(1, AT_ONCE // (draws * (1 + 3 * channels)))
    found: list[Sure] = []
    for start in range(0, len(rows), slab):
        found += study.sure(rows[start : start + slab], shares)
    if study.unpriced:
        notes.append(f"in {100 * study.unpriced:.2g} % of the worlds fees and margin leave no price: not counted")
    return InDoubt(out, figures, metals, draws, tuple(found), tuple(notes))


def _still(metals: MetalWeeks) -> Iterator[str]:
    if metals.weeks and metals.still:
        yield f"taken as unmoved, since the price history tells too little of it: {', '.join(metals.still)}"


@dataclass
class _Study:
    out: PricesOut
    figures: Doubted
    metals: MetalWeeks
    points: np.ndarray
    progress: Callable[[float], None]
    to_do: int
    done: int = 0
    unpriced: float = 0.0

    def tell(self, worlds: int) -> None:
        """So many worlds more are done."""
        self.done += worlds
        self.progress(min(1.0, self.done / max(1, self.to_do)))

    def sure(self, rows: Sequence[int], shares: bool) -> list[Sure]:
        """Some variants, in all worlds."""
        rows = list(rows)
        worlds, computed = self.worlds(rows)
        found = worlds.run(
            self.drawn(computed, self.points),
            ["unit_cost", "price", "can_be_had"],
            ["margin", "profit"],
            {"profit": -PRICE_NOISE},
        )
        found["price"] = np.where(found["can_be_had"].astype(bool), found["price"], np.nan)
        self.tell(len(self.points) * len(rows))
        sold_places = self.out.computed.sold_places[rows]
        of_costs, of_margins = self.shares(worlds, computed, rows) if shares else ({}, {})
        costs, asked, margins = (_ranges(found[name]) for name in ("unit_cost", "price", "margin"))
        loss = found["profit"] / len(self.points)
        floors = least_margins(self.out.costing)
        least = np.array([np.nan if floor is None else floor for floor in floors])
        with np.errstate(invalid="ignore"):
            under = (found["margin"] < least - MARGIN_NOISE).mean(axis=0)
        lacking = ~np.isfinite(found["price"])[:, sold_places]
        self.unpriced = max(self.unpriced, float(lacking.any(axis=-1).mean()) if lacking.size else 0.0)
        answers = []
        for place, variant in enumerate(computed.resolved.variants):
            prices = tuple(
                SurePrice(
                    channel=variant.prices[column].channel,
                    price=float(computed["price"][place, column]),
                    asked=Range(*asked[:, place, column].tolist()),
                    margin_as_stated=_number(computed["margin"][place, column]),
                    margin=_range(margins[:, place, column]),
                    loss=float(loss[place, column]),
                    least_margin=floors[column],
                    under_least=None if floors[column] is None else float(under[place, column]),
                    shares={name: of[place, column] for name, of in of_margins.items()},
                )
                for column in np.flatnonzero(sold_places[place]).tolist()
            )
            cost = Range(*costs[:, place].tolist())
            stated = float(computed["unit_cost"][place])
            of_cost = {name: of[place] for name, of in of_costs.items()}
            answers.append(Sure(variant.sku, variant.alloy, stated, cost, prices, of_cost))
        return answers

    def worlds(self, rows: Sequence[int]) -> tuple[Worlds, Computed]:
        """The worlds of some variants, and their figures as they stand, at the prices that go out."""
        asked = compute(only(self.figures.resolved, rows), self.out.computed.graph)
        computed = at_prices(asked, self.out.computed["price"][list(rows)])
        landings = [*self.figures.landings(rows)]
        if self.metals.moves:
            landings += metal_landings(computed, len(self.figures.figures))
        return Worlds(computed, landings), computed

    def drawn(self, computed: Computed, points: np.ndarray) -> np.ndarray:
        """The value of every figure, metal and rate in every world; `points` lie in the unit cube."""
        known = self.figures.figures
        columns = [figure.shape.at(points[:, place])[:, None] for place, figure in enumerate(known)]
        if self.metals.moves:
            today = np.concatenate(metal_prices(computed))
            columns.append(today * self.metals.times(points[:, len(known) :]))
        return np.concatenate(columns, axis=1)

    def shares(
        self, worlds: Worlds, computed: Computed, rows: Sequence[int]
    ) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
        """What each figure, and the metals together, contribute to the spread of unit costs and of margins."""
        known, blocks = self.figures.figures, len(self.metals.blocks)
        names = [*(figure.path for figure in known), *([METAL] if blocks else [])]
        groups = [*([place] for place in range(len(known)))]
        groups += [list(range(len(known), len(known) + blocks))] if blocks else []
        reached = [reach_of(worlds, place) for place in range(len(known))]
        first: list[np.ndarray] = []

        def result(points: np.ndarray, group: int | None) -> np.ndarray:
            self.tell(len(points) * len(rows))
            own = reached[group] if group is not None and group < len(reached) else None
            if own is None or 2 * len(own) > len(rows):
                whole = self.results(worlds, computed, points)
                if not first:
                    first.append(whole)
                return whole.reshape(len(points), -1)
            mixed = first[0].copy()  # where the figure does not reach all is as in the first draws
            if len(own):
                mixed[:, own] = self.results(*self.worlds([rows[place] for place in own]), points)
            return mixed.reshape(len(points), -1)

        with np.errstate(invalid="ignore"):
            found = sobol_indices(result, len(known) + blocks, groups, SHARE_POINTS)
        shares = [_shares(found, place).reshape(len(rows), -1) for place in range(len(names))]
        return (
            {name: own[:, 0] for name, own in zip(names, shares, strict=True)},
            {name: own[:, 1:] for name, own in zip(names, shares, strict=True)},
        )

    def results(self, worlds: Worlds, computed: Computed, points: np.ndarray) -> np.ndarray:
        """The unit cost and the margins of each variant, by draw, variant, and (cost, channels)."""
        found = worlds.run(self.drawn(computed, points), ["unit_cost"], ["margin"])
        cost, margins = (
            np.broadcast_to(found[name], (len(points), *found[name].shape[1:])) for name in ("unit_cost", "margin")
        )
        return np.concatenate([cost[..., None], margins], axis=2)


def reach_of(worlds: Worlds, figure: int) -> list[int] | None:
    """The places of the variants that a figure reaches, itself or in a part; None where it may reach all."""
    resolved, graph = worlds.computed.resolved, worlds.computed.graph
    places = {row.called: place for place, row in enumerate(resolved.variants)}
    whole = [places[row.of or row.called] for row in resolved.all_variants]
    found: set[int] = set()
    for name, axes, figures in worlds.landings:
        if (figures == figure).any():
            if TABLES[graph.table_of(name)].axes[:1] != ("variant",):
                return None
            found |= {whole[place] for place in axes[0][figures == figure].tolist()}
    return sorted(found)


def _shares(found: Indices, place: int) -> np.ndarray:
    """The shares of one group as objects, by result; an estimate below 0, above 1 or above the total is at that end."""
    held = np.empty(found.first.shape[1:], dtype=object)
    for at, (first, total) in enumerate(zip(found.first[place].tolist(), found.total[place].tolist(), strict=True)):
        held[at] = Share(_share(min(first, total)), _share(total))
    return held


def _share(found: float) -> float | None:
    return min(max(found, 0.0), 1.0) if np.isfinite(found) else None


def _ranges(found: np.ndarray) -> np.ndarray:
    """The percentiles along the worlds; each is a value of some world, so that a price is one that may be asked."""
    percentiles = [P10, P50, P90]
    if np.isfinite(found).all():
        return np.asarray(np.quantile(found, percentiles, axis=0, method="inverted_cdf"))
    with np.errstate(all="ignore"):
        ranked = np.sort(np.where(np.isfinite(found), found, np.nan), axis=0)  # what is none stands last
    counted = np.isfinite(ranked).sum(axis=0)
    places = [np.clip(np.ceil(counted * share).astype(np.intp) - 1, 0, None) for share in percentiles]
    return np.stack([np.take_along_axis(ranked, place[None], axis=0)[0] for place in places])


def _range(found: np.ndarray) -> Range | None:
    return Range(*found.tolist()) if np.isfinite(found).all() else None


def _number(found: float) -> float | None:
    return float(found) if np.isfinite(found) else None
