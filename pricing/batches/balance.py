"""The mass balance of a batch: what went into the crucible, what came out, and what is missing.

charge = castings + button and sprues back + spoiled castings + missing. Of what is missing some was expected to be lost
in the melt (the alloy's melt_loss); the rest is metal that went somewhere: spilled, in the slag, stuck in the
investment, or weighed wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pricing.batches.model import Batch, Flask, Metal


@dataclass(frozen=True)
class Balance:
    """Grams of one alloy in a batch, or of several batches together; money in the workshop's currency.

    `expected_g` is what was expected to be lost of this charge, `price_per_g` what a gram cost to buy on that day; None
    where it is not known, and then no money is told.
    """

    alloy: str
    fresh_g: float
    returned_g: float
    castings_g: float
    back_g: float
    rejected_g: float
    expected_g: float | None
    price_per_g: float | None

    @property
    def charge_g(self) -> float:
        """What went into the crucible."""
        return self.fresh_g + self.returned_g

    @property
    def missing_g(self) -> float:
        """What did not come out; below 0 where more was weighed out than in."""
        return self.charge_g - self.castings_g - self.back_g - self.rejected_g

    @property
    def missing_share(self) -> float:
        """The same as a share of the charge."""
        return self.missing_g / self.charge_g

    @property
    def beyond_g(self) -> float | None:
        """What is missing beyond the expected melt loss; below 0 where less was lost than expected."""
        return None if self.expected_g is None else self.missing_g - self.expected_g

    @property
    def missing_money(self) -> float | None:
        """What the missing metal would cost to buy, at the price of the day of the pour."""
        return None if self.price_per_g is None else self.missing_g * self.price_per_g

    @property
    def beyond_money(self) -> float | None:
        """The same of what is missing beyond the expected melt loss."""
        return None if self.price_per_g is None or self.beyond_g is None else self.beyond_g * self.price_per_g


def balance_of(alloy: str, flasks: Iterable[Flask], metal: Metal | None) -> Balance:
    """The balance of the flasks of one alloy."""
    flasks = list(flasks)
    charge = sum(flask.charge_g for flask in flasks)
    return Balance(
        alloy,
        sum(flask.fresh_g for flask in flasks),
        sum(flask.returned_g for flask in flasks),
        sum(flask.castings_g for flask in flasks),
        sum(flask.back_g for flask in flasks),
        sum(flask.rejected_g for flask in flasks),
        None if metal is None else metal.melt_loss * charge,
        None if metal is None else metal.buy_price_per_g,
    )


def balances(batch: Batch) -> tuple[Balance, ...]:
    """The balance of each alloy of a batch."""
    return tuple(
        balance_of(alloy, (flask for flask in batch.flasks if flask.alloy == alloy), batch.metal.get(alloy))
        for alloy in batch.alloys
    )


@dataclass(frozen=True)
class Missing:
    """What is missing of one alloy over several batches; money None where one of them has no price."""

    alloy: str
    charge_g: float
    missing_g: float
    expected_g: float | None
    missing_money: float | None
    beyond_money: float | None

    @property
    def beyond_g(self) -> float | None:
        return None if self.expected_g is None else self.missing_g - self.expected_g


def missing_in_all(batches: Sequence[Batch]) -> tuple[Missing, ...]:
    """What is missing of each alloy over all these batches, in alphabetical order."""
    found: dict[str, list[Balance]] = {}
    for batch in batches:
        for each in balances(batch):
            found.setdefault(each.alloy, []).append(each)
    return tuple(
        Missing(
            alloy,
            sum(each.charge_g for each in some),
            sum(each.missing_g for each in some),
            _sum(each.expected_g for each in some),
            _sum(each.missing_money for each in some),
            _sum(each.beyond_money for each in some),
        )
        for alloy, some in sorted(found.items())
    )


def _sum(amounts: Iterable[float | None]) -> float | None:
    known = list(amounts)
    return None if None in known else sum(each or 0.0 for each in known)
