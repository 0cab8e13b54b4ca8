"""The prices in force looked at again: what each earns now, what the policy asks, and whether to hold or to move it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal, NamedTuple

import numpy as np

from pricing.costing import Costing
from pricing.editions.chain import Edition
from pricing.errors import UsageFault
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import rerun
from pricing.records import decimal_prices
from pricing.studies.repricing.deciding import PRICE_NOISE, REASONS, Grid, Terms, as_one_price, decide, terms_of

Verdict = Literal["new", "hold", "raise", "lower", "gone"]
#: A variant, or a variant in one channel: (sku, alloy, channel or None).
Chosen = tuple[str, str, str | None]
Word = Literal["accept", "hold"]
WORDS: tuple[Word, Word] = ("accept", "hold")
#: All reasons that are told; places in it are those of `deciding` and some more.
TOLD = (*REASONS, "keystone", "accepted", "kept", "new")
#: Reasons with which largest_step may leave something owing.
STEPPED = frozenset({"beyond", "below_least", "too_coarse"})


class PriceInForce(NamedTuple):
    """A published price: since which day and which edition it is what it is."""

    price: float
    set_on: date
    set_in: int


@dataclass(frozen=True)
class RepricedRow:
    """One variant in one channel.

    `earns` is the margin that the price in force (`held`) earns now; `asked` is the price that the policy asks now,
    `would_earn` its margin; `to` is the price to publish, `earns_then` its margin. `reason` is one of those of
    `repricing.deciding`, or says what was decided otherwise: new, gone, accepted, kept, keystone; `by` is the
    channel that decided where it is another one (one_price, keystone). `stepped` says that largest_step, and nothing
    else, keeps `to` from `asked`; `breaks_ladder`, that the maker's own word keeps it below what the ladder between
    wholesale and retail asks. A margin is None where nothing is sold for money.
    """

    sku: str
    alloy: str
    channel: str
    verdict: Verdict
    reason: str
    in_force: PriceInForce | None = None
    earns: float | None = None
    asked: float | None = None
    would_earn: float | None = None
    to: float | None = None
    earns_then: float | None = None
    stepped: bool = False
    breaks_ladder: bool = False
    by: str = ""

    @property
    def held(self) -> float | None:
        """The price in force."""
        return self.in_force.price if self.in_force else None

    @property
    def owing(self) -> float:
        """What is left of the way to the asked price: 0 for a price that is held because it is right."""
        return self.asked - self.to if self.stepped and self.asked is not None and self.to is not None else 0.0


@dataclass(frozen=True)
class Repricing:
    """All rows, in the order of the variants and channels, then what is sold no more.

    `prices` are to be published, by variant and channel; where a variant is not sold they are what the policy asks.
    `restores` is the number of the edition whose prices they are again, where one is withdrawn.
    """

    costing: Costing
    edition: Edition | None
    rows: tuple[RepricedRow, ...]
    prices: np.ndarray = field(repr=False)
    restores: int | None = None

    def moved(self) -> list[RepricedRow]:
        """The rows that change something."""
        return [row for row in self.rows if row.verdict != "hold"]


def prices_in_force(edition: Edition | None) -> dict[tuple[str, str, str], PriceInForce]:
    """The published prices by sku, alloy and channel."""
    rows = edition.published() if edition else []
    days = {day: date.fromisoformat(day) for day in {row[4] for row in rows}}
    return {
        (sku, alloy, channel): PriceInForce(price, days[set_on], set_in)
        for sku, alloy, channel, price, set_on, set_in in rows
    }


def reprice(costing: Costing, edition: Edition | None, words: Mapping[Chosen, Word] | None = None) -> Repricing:
    """Look at every price again. `words` are the maker's own decisions: to accept what is asked, or to hold.

    The prices of an edition in another currency are not compared: all count as new.

    What was decided is put on the ladder between wholesale and retail again: a rule of the folder, it may lift a price
    further than largest_step, and sooner than days_between, unless the maker's own word holds it.
    """
    return _Looking(costing, edition, words or {}).repricing()


def restoring(costing: Costing, current: Edition, earlier: Edition) -> Repricing:
    """The prices of an earlier edition again, against those in force: what withdrawing the later ones publishes.

    What is sold now and had no price then has none again. Raises UsageFault where the two are in other currencies.
    """
    if not current.currency == earlier.currency == costing.computed.resolved.currency:
        raise UsageFault(f"edition {earlier.number} is in {earlier.currency}: its prices cannot be put in force again.")
    return _Looking(costing, current, {}).restored(earlier)


@dataclass(frozen=True)
class Looked:
    """What a look at prices in force decides, by variant and channel.

    `earned` is the margin of each now, `to` where it goes, `reason` a place in `TOLD`; `leader` is the place of the
    channel that decides, -1 for its own; `off_ladder` are those that the maker's own word keeps below the ladder.
    """

    to: np.ndarray
    reason: np.ndarray
    earned: np.ndarray
    leader: np.ndarray
    off_ladder: np.ndarray


def bound_as_one(computed: Computed, known: np.ndarray) -> np.ndarray:
    """Which prices in force are one retail price."""
    is_one = bool(computed["one_retail_price"]) and bool(computed["has_ladder"])
    bound: np.ndarray = known & computed["is_on_ladder"].astype(bool) & is_one
    return bound


def margins_at(computed: Computed, prices: np.ndarray) -> np.ndarray:
    """The margins that prices earn, by variant and channel."""
    return rerun(computed, {"price": prices}, ["margin"])["margin"]


#: What `look_again` reads of the figures, and runs afresh from a price or a rounded price.
LOOKED_AT = (
    "price", "margin", "one_retail_price", "has_ladder", "is_on_ladder", "is_fixed", "ending", "applies_below_stated",
    "applies_below", "step_position", "step_size",
)  # fmt: skip
AFRESH = ("price", "is_lifted_by_keystone", "wholesale_ex_tax_price", "laddered_price")


def look_again(
    computed: Computed, known: np.ndarray, held: np.ndarray, days: np.ndarray, terms: Terms, said: np.ndarray | None
) -> Looked:
    """Decide each price by its channel's policy and the maker's words, and put it on the ladder.

    All by variant and channel: which prices are `known` to be in force, what each is (`held`; what is asked where none
    is), since how many `days`, and what the maker `said` of it (None, or a word of `WORDS` or None for each).
    """
    asked, bound = computed["price"], bound_as_one(computed, known)
    earned = margins_at(computed, held)
    decided = decide(
        held=held,
        asked=asked,
        earned=earned,
        would_earn=computed["margin"],
        days=days,
        fixed=computed["is_fixed"].astype(bool),
        terms=terms,
        grid=Grid.of(computed),
    )
    found, leader = as_one_price(decided, held, asked, bound, terms.stated)
    nothing = np.zeros(known.shape, dtype=bool)
    accepted, kept = (nothing if said is None else known & (said == word) for word in WORDS)
    to = np.where(accepted, asked, np.where(kept, held, found.to))
    again = rerun(computed, {"rounded_price": to}, AFRESH)
    laddered = again["price"]
    lifted = known & ~accepted & ~kept & (laddered > to + PRICE_NOISE)
    to = np.where(lifted, laddered, to)
    by_keystone = lifted & again["is_lifted_by_keystone"].astype(bool)
    to_one_price = lifted & ~by_keystone
    leader = np.where(by_keystone, again["wholesale_ex_tax_price"].argmax(axis=1)[:, None], leader)
    highest = np.where(bound, again["laddered_price"], -math.inf).argmax(axis=1)[:, None]
    reason = found.reason
    others = ("one_price", to_one_price), ("keystone", by_keystone), ("accepted", accepted), ("kept", kept)
    for other, mask in (*others, ("new", ~known)):
        reason = np.where(mask, TOLD.index(other), reason)
    return Looked(
        to,
        reason,
        earned,
        np.where(to_one_price, highest, np.where(accepted | kept, -1, leader)),
        known & (laddered > to + PRICE_NOISE),
    )


class _Looking:
    """One look at all prices; arrays are by variant and channel."""

    def __init__(self, costing: Costing, edition: Edition | None, words: Mapping[Chosen, Word]):
        self.costing, self.edition, self.words = costing, edition, words
        self.computed = costing.computed
        counted = edition is not None and edition.currency == self.computed.resolved.currency
        self.in_force = prices_in_force(edition) if counted else {}
        variants = self.computed.resolved.variants
        self.names = [[(each.sku, each.alloy, price.channel) for price in each.prices] for each in variants]
        self.sold = self.computed.sold_places
        self.known = self.sold & self._each(lambda name: name in self.in_force, bool)
        self.asked = self.computed["price"]
        published = self._each(lambda name: self.in_force[name].price if name in self.in_force else math.nan, float)
        self.held = np.where(self.known, published, self.asked)
        self.bound = bound_as_one(self.computed, self.known)

    def _each(self, tell: Callable[[tuple[str, str, str]], object], kind: type) -> np.ndarray:
        """What is told of each variant in each channel."""
        return np.array([[tell(name) for name in row] for row in self.names], dtype=kind).reshape(self.sold.shape)

    def repricing(self) -> Repricing:
        today, stated = self.costing.asked.as_of, self.costing.folder.stated
        days = self._each(
            lambda name: (today - self.in_force[name].set_on).days if name in self.in_force else math.inf, float
        )
        terms = terms_of(stated.channels[channel.name] for channel in self.computed.resolved.channels)
        said = self._one_word(self._each(self._word, object))
        looked = look_again(self.computed, self.known, self.held, days, terms, said)
        self.leader, self.off_ladder, to = looked.leader, looked.off_ladder, looked.to
        reasons = np.array(TOLD, dtype=object)[looked.reason]
        margins = {"earns": looked.earned, "would_earn": self.computed["margin"], "earns_then": self._margin(to)}
        rows = self._rows(self.sold, to, reasons, margins)
        still = {(row.sku, row.alloy, row.channel) for row in rows}
        rows += [
            RepricedRow(*name, "gone", "gone", in_force=price)
            for name, price in self.in_force.items()
            if name not in still
        ]
        return Repricing(self.costing, self.edition, tuple(rows), np.where(self.sold, to, self.asked))

    def restored(self, earlier: Edition) -> Repricing:
        then = prices_in_force(earlier)
        known = self.sold & self._each(lambda name: name in then, bool)
        to = np.where(known, self._each(lambda name: then[name].price if name in then else math.nan, float), self.asked)
        margins = {
            "earns": self._margin(self.held),
            "would_earn": self.computed["margin"],
            "earns_then": self._margin(to),
        }
        self.off_ladder = np.zeros(self.sold.shape, dtype=bool)
        self.leader = np.full(self.sold.shape, -1)
        reasons = np.full(self.sold.shape, "restored", dtype=object)
        rows = self._rows(known, to, reasons, margins)
        back = {(row.sku, row.alloy, row.channel) for row in rows}
        rows += [
            RepricedRow(*name, "gone", "gone", in_force=price)
            for name, price in self.in_force.items()
            if name not in back
        ]
        return Repricing(self.costing, self.edition, tuple(rows), np.where(known, to, self.asked), earlier.number)

    def _margin(self, prices: np.ndarray) -> np.ndarray:
        return margins_at(self.computed, prices)

    def _word(self, name: tuple[str, str, str]) -> Word | None:
        return self.words.get(name) or self.words.get((name[0], name[1], None))

    def _one_word(self, said: np.ndarray) -> np.ndarray:
        """One price is one decision: the maker's only word on any of the channels that share it counts for all."""
        for row, bound in enumerate(self.bound):
            words = {word for word in said[row, bound] if word}
            if len(words) == 1:
                said[row, bound] = words.pop()
        return said

    def _rows(
        self, where: np.ndarray, to: np.ndarray, reasons: np.ndarray, margins: Mapping[str, np.ndarray]
    ) -> list[RepricedRow]:
        """The rows of these places, variant by variant; each of their columns is made at once."""
        verdicts = np.where(to > self.held, "raise", "lower")
        verdicts = np.where(np.abs(to - self.held) <= PRICE_NOISE, "hold", verdicts)
        stepped = np.isin(reasons, list(STEPPED)) & (np.abs(self.asked - to) > PRICE_NOISE)
        spots = list(zip(*(each.tolist() for each in np.nonzero(where)), self.leader[where].tolist(), strict=True))
        names = [self.names[row][column] for row, column, _ in spots]
        columns: dict[str, Iterable[Any]] = dict(
            zip(("sku", "alloy", "channel"), zip(*names, strict=True), strict=False)
        )
        columns |= {
            "verdict": np.where(self.known, verdicts, "new")[where].tolist(),
            "reason": reasons[where].tolist(),
            "in_force": [self.in_force.get(name) for name in names],
            "earns": _numbers(np.where(self.known, margins["earns"], math.nan)[where]),
            "asked": _numbers(decimal_prices(self.asked[where])),
            "would_earn": _numbers(margins["would_earn"][where]),
            "to": _numbers(decimal_prices(to[where])),
            "earns_then": _numbers(margins["earns_then"][where]),
            "stepped": stepped[where].tolist(),
            "breaks_ladder": self.off_ladder[where].tolist(),
            "by": [self.names[row][leader][2] if leader >= 0 else "" for row, _, leader in spots],
        }
        return [RepricedRow(**dict(zip(columns, each, strict=True))) for each in zip(*columns.values(), strict=True)]


def _numbers(column: np.ndarray) -> list[float | None]:
    return [each if math.isfinite(each) else None for each in column.tolist()]


def prices_held(costing: Costing, edition: Edition | None) -> np.ndarray:
    """The prices in force by variant and channel; what the policy asks where none is published."""
    return _Looking(costing, edition, {}).held
