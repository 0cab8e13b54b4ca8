"""What is computed and still deserves a word: prices below cost, margins that never bind, too much scrap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pricing.formulas.engine import Computed
from pricing.model.metals import is_precious
from pricing.shown import Shown, percent
from pricing.words import REASONS

#: A share of a charge is exceeded when it is exceeded by more than this: float noise is no scrap.
NO_SHARE = 1e-9


@dataclass(frozen=True)
class Hint:
    """Something that the maker should know; `row` is the variant that it is about, None for more than one."""

    row: int | None

    @property
    def kind(self) -> tuple[str, ...]:
        """What it has in common with others that can be told in one sentence with it."""
        raise NotImplementedError

    def words(self, shown: Shown, alike: Sequence[Hint] = ()) -> str:
        """The hint as a sentence without its full stop, in the units that the workshop chose.

        `alike` are all hints of its kind, itself the first of them: they are told with their count.
        """
        raise NotImplementedError


@dataclass(frozen=True)
class BelowCost(Hint):
    """A price (in the channel's currency) that is `short` (in the workshop's) of what the piece costs."""

    sku: str
    alloy: str
    channel: str
    price: float
    short: float

    @property
    def kind(self) -> tuple[str, ...]:
        return "below cost", self.channel

    def words(self, shown: Shown, alike: Sequence[Hint] = ()) -> str:
        price = f"{shown.channel(self.channel)}, {shown.price(self.channel, self.price)}"
        where = f"{self.sku} in {self.alloy}: the price in {price},"
        said = f"{where} is {shown.money(self.short)} short of what it costs"
        return (
            said if len(alike) < 2 else f"{said}, and so are {len(alike) - 1} more in {self.channel}, none by so much"
        )


@dataclass(frozen=True)
class Decoration(Hint):
    """A channel in which the ladder decides every price."""

    channel: str

    @property
    def kind(self) -> tuple[str, ...]:
        return ("decoration",)

    def words(self, shown: Shown, alike: Sequence[Hint] = ()) -> str:
        names = [each.channel for each in alike if isinstance(each, Decoration)] or [self.channel]
        where = " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
        return f"in {where} the ladder decides every price: what {_its(names)} asks is decoration"


def _its(channels: Sequence[str]) -> str:
    return "its policy" if len(channels) == 1 else "the policy of each"


@dataclass(frozen=True)
class TooManyReturns(Hint):
    """Of what is poured of an alloy the fraction `share` comes back, and `limit` may go in again."""

    alloy: str
    precious: bool
    share: float
    limit: float

    @property
    def kind(self) -> tuple[str, ...]:
        return "returns", self.alloy

    def words(self, shown: Shown, alike: Sequence[Hint] = ()) -> str:
        goes = "goes to the refiner" if self.precious else "is sold as scrap"
        back = f"{percent(self.share)} of what is poured comes back and only {percent(self.limit)} may go in again"
        return f"{self.alloy}, all its designs together: {back}; what is left over {goes}"


def advice(computed: Computed, rows: Iterable[int] | None = None) -> list[Hint]:
    """What the maker should know of the variants in `rows` (default: all) and of their alloys."""
    rows = list(range(len(computed.resolved.variants)) if rows is None else rows)
    return [*_below_cost(computed, rows), *_decoration(computed), *_too_many_returns(computed, rows)]


def advice_in_words(hints: Iterable[Hint], shown: Shown) -> list[str]:
    """One sentence for each kind of hint, in the order in which they come; those of one kind are told with a count."""
    kinds: dict[tuple[str, ...], list[Hint]] = {}
    for hint in hints:
        kinds.setdefault(hint.kind, []).append(hint)
    return [alike[0].words(shown, alike) for alike in kinds.values()]


def _below_cost(computed: Computed, rows: list[int]) -> Iterator[Hint]:
    """Prices that do not pay, the furthest below the cost first."""
    prices, profits = computed["price"], computed["profit"]
    found = []
    pays_not = np.asarray((profits < 0).any(axis=1))
    for row in rows:
        if not pays_not[row]:
            continue
        variant = computed.resolved.variants[row]
        for column in variant.sold_places:
            if profits[row, column] < 0:
                figures = float(prices[row, column]), -float(profits[row, column])
                found.append(BelowCost(row, variant.sku, variant.alloy, variant.prices[column].channel, *figures))
    yield from sorted(found, key=lambda hint: -hint.short)


def _decoration(computed: Computed) -> Iterator[Hint]:
    decided = computed["binds"]
    for column, channel in enumerate(computed.resolved.channels):
        codes = decided[computed.sold_places[:, column], column]
        reasons = {REASONS[int(code)] for code in np.unique(codes)}
        if len(codes) > 1 and reasons <= {"keystone", "one_retail_price"}:
            yield Decoration(None, channel.name)


def _too_many_returns(computed: Computed, rows: list[int]) -> Iterator[Hint]:
    """Alloys of the variants in `rows` of which more comes back than may go in again.

    Looked at by alloy: what one design brings back too much of, a charge for another takes. Each design that is
    poured in the alloy counts by its expected_sales, shared evenly among the alloys in which it is made, since
    nobody states how the sales part among them; a design without expected_sales counts as one set. So the shares
    are what comes back of all charges of the alloy by what is poured in all of them.
    """
    variants = computed.resolved.variants
    returns, charge, limits = computed["returns_g"], computed["charge_g"], computed["return_limit"]
    made_in: dict[str, int] = {}
    for variant in variants:
        made_in[variant.sku] = made_in.get(variant.sku, 0) + 1
    poured = {
        alloy: [row for row, each in enumerate(variants) if each.alloy == alloy and each.takes == "cast"]
        for alloy in dict.fromkeys(variants[row].alloy for row in rows)
    }
    for alloy, own in poured.items():
        sets = [variants[row].expected_sales / made_in[variants[row].sku] for row in own]
        whole = sum(float(charge[row]) * each for row, each in zip(own, sets, strict=True))
        back = sum(float(returns[row]) * each for row, each in zip(own, sets, strict=True))
        if whole and back / whole - (limit := float(limits[own[0]])) > NO_SHARE:
            yield TooManyReturns(None, alloy, _is_precious(computed, alloy), back / whole, limit)


def _is_precious(computed: Computed, alloy: str) -> bool:
    contents = next(row.contents for row in computed.resolved.alloys if row.name == alloy)
    return is_precious({content.element: content.mass_fraction for content in contents})
