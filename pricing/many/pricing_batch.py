"""Prices one batch of variants: by the engine's own formulas, and the prices in force looked at again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.formulas.columns import KEYED, Columns, Groups
from pricing.formulas.engine import Computed, run
from pricing.formulas.graph import Graph, cost_model
from pricing.formulas.kernel import COMPILED_FROM
from pricing.formulas.rerun import following, part_of
from pricing.formulas.tables import of_variants
from pricing.many.tables import Rows
from pricing.many.workshop import Workshop, spread
from pricing.model.rows import Resolved
from pricing.records import decimal_prices
from pricing.studies.repricing.deciding import PRICE_NOISE
from pricing.studies.repricing.reprice import AFRESH, LOOKED_AT, TOLD, look_again, margins_at

#: What may be said of a price, by the numbers of `Priced.verdict`; the last where no price can be had.
VERDICTS = ("new", "hold", "raise", "lower", "none")
NEW, HOLD, RAISE, LOWER, NONE = range(len(VERDICTS))
#: Why, by the numbers of `Priced.reason`.
WHYS = (*TOLD, "fees_take_all", "no_own_hour", "too_heavy", "too_large")
ANSWERS = ("unit_cost", "price", "margin", "own_can_be_had", "leaves_room", "tiers_passed", "tiers", "sold")
#: Lists of which many variants have the same; batches are divided by them where formulas are compiled.
SHARED_BY_MANY = ("steps", "prices", "findings")
#: Variants with the same lists from which they are a group: two blocks of lanes.
WORTH_A_GROUP = 128


@dataclass(frozen=True)
class Priced:
    """What is told of some variants in every channel; arrays are by variant and channel, `unit_cost` by variant.

    What is undefined is NaN: the price in force where none is, and all that follows of it. `sold` says where a variant
    is sold at all; what stands elsewhere means nothing.
    """

    sold: np.ndarray
    unit_cost: np.ndarray
    asked: np.ndarray
    margin_asked: np.ndarray
    in_force: np.ndarray
    margin_now: np.ndarray
    price: np.ndarray
    margin: np.ndarray
    verdict: np.ndarray
    reason: np.ndarray


class Batch(Computed):
    """The figures of a batch; there are no rows of it but in columns."""

    def shown(self, column: str, array: np.ndarray) -> np.ndarray:
        groups = self.columns.groups
        if groups is not None and column in groups.inputs:
            return self.of_each(array)
        table = self.graph.table_of(column)
        many = self.columns.sizes["variant"] if of_variants(table) else None
        return array[:many] if many is not None else super().shown(column, array)

    def led(self, table: str, key: str) -> np.ndarray:
        """Where a key of a table of variants leads."""
        groups, places = self.columns.groups, self.columns.keys[table, key]
        if groups is not None and (table, key) in groups.keys:
            return self.of_each(places)
        return places[: self.columns.sizes["variant"]]

    def of_each(self, array: np.ndarray) -> np.ndarray:
        """The row of its group for each variant."""
        groups = self.columns.groups
        many = self.columns.sizes["variant"]
        if groups is None or len(groups.cuts) == 2:
            return np.broadcast_to(array[:1], (many, *array.shape[1:]))
        return np.asarray(array[groups.of_variants[:many]])


class Pricer:
    """A workshop made ready to price batches of variants; `among` is how many variants there are in all.

    What no variant moves is computed once. `compiled` says whether the formulas run compiled, where there is a
    compiler: it goes by how many variants there are, never by how they are divided.
    """

    def __init__(self, workshop: Workshop, among: int, graph: Graph | None = None):
        self.workshop, self.among, self.graph = workshop, among, graph or cost_model()
        whole = self.graph
        needed = {
            *part_of(whole, ["margin"], following(whole, ["price"]) - {"price"}).inputs,
            *part_of(whole, AFRESH, following(whole, ["rounded_price"]) - {"rounded_price"}).inputs,
            "rounded_price",
        }
        wanted = {*ANSWERS, *LOOKED_AT, *needed}
        self.wanted = frozenset(name for name in wanted if name in whole.quantities)
        varied = {name for name, each in whole.quantities.items() if of_variants(each.table)}
        self.part = part_of(whole, self.wanted, varied)
        still = Graph({name: each for name, each in whole.quantities.items() if name not in varied}, whole.inputs)
        sizes = {**workshop.sizes, "variant": 0}
        given = Columns(dict(workshop.inputs), dict(workshop.keys), sizes)
        self.fixed = {**workshop.inputs, **run(given, still, still.quantities)}

    @cached_property
    def compiled(self) -> bool:
        return self.among >= COMPILED_FROM

    def priced(self, variants: Rows, in_force: np.ndarray, days: np.ndarray, at_once: int, threads: int = 0) -> Priced:
        """The prices of a batch; `in_force` (NaN for none) and `days` since then by variant and channel.

        About so many rows are computed `at_once` that have nothing in common, by at most so many threads (0: by as
        many as there are processors).
        """
        with np.errstate(all="ignore"):
            found = [
                (at, self._run(variants, at, cuts, in_force, days, threads))
                for at, cuts in self._groups(variants, at_once)
            ]
        if len(found) == 1 and _in_order(found[0][0], variants.many):
            return found[0][1]
        order = np.concatenate([at for at, _ in found])
        back = np.empty(len(order), dtype=np.intp)
        back[order] = np.arange(len(order))
        names = Priced.__dataclass_fields__
        return Priced(**{name: np.concatenate([getattr(each, name) for _, each in found])[back] for name in names})

    def _groups(self, variants: Rows, at_once: int) -> Iterator[tuple[np.ndarray, np.ndarray | None]]:
        """The places of variants that are computed together, with the cuts between groups that have the same lists."""
        everyone = np.arange(variants.many)
        if variants.nested["parts"][1].shape[1]:
            yield everyone, None
            return
        if not self.compiled:
            yield from ((at, None) for at in _cut(everyone, at_once))
            return
        boxes = [variants.nested[attribute][1][:-1] for attribute in SHARED_BY_MANY]
        if all(len(box) < 2 or (box[1:] == box[:-1]).all() for box in boxes):
            yield everyone, np.array([0, len(everyone)])
            return
        marks = _marks(boxes)
        order = np.argsort(marks, kind="stable")
        groups = np.split(order, np.flatnonzero(np.diff(marks[order])) + 1)
        large = [
            at for at in groups if len(at) >= WORTH_A_GROUP and all((box[at] == box[at[0]]).all() for box in boxes)
        ]
        if large:
            yield np.concatenate(large), np.cumsum([0, *map(len, large)])
            taken = np.zeros(len(order), dtype=bool)
            taken[np.concatenate(large)] = True
            everyone = np.flatnonzero(~taken)
        yield from ((at, None) for at in _cut(everyone, at_once) if len(at))

    def _columns(self, variants: Rows, at: np.ndarray, cuts: np.ndarray | None) -> Columns:
        """The columns of some variants, and of the idle one behind them."""
        inputs, keys, sizes = dict(self.fixed), dict(self.workshop.keys), {**self.workshop.sizes, "variant": len(at)}
        alike = SHARED_BY_MANY if cuts is not None else ()
        one = {attribute: each for attribute, each in variants.nested.items() if attribute in alike}
        rest = {attribute: each for attribute, each in variants.nested.items() if attribute not in alike}
        own = Rows("variant", variants.many, variants.inputs, variants.keys, {}, rest)
        every = slice(None) if _in_order(at, variants.many) else np.append(at, variants.many)
        spread("variant", own, every, inputs, keys, sizes)
        if cuts is None:
            return Columns(inputs, keys, sizes, self.among)
        first = Rows("variant", variants.many, {}, {}, {}, one)
        of_groups: dict[str, np.ndarray] = {}
        keys_of_groups: dict[tuple[str, str], np.ndarray] = {}
        spread("variant", first, at[cuts[:-1]], of_groups, keys_of_groups, sizes)
        ends = cuts + (np.arange(len(cuts)) == len(cuts) - 1) * ("variant" in KEYED)  # what is idle means nothing
        groups = Groups(ends, frozenset(of_groups), frozenset(keys_of_groups))
        return Columns({**inputs, **of_groups}, {**keys, **keys_of_groups}, sizes, self.among, groups=groups)

    def _run(
        self,
        variants: Rows,
        at: np.ndarray,
        cuts: np.ndarray | None,
        in_force: np.ndarray,
        days: np.ndarray,
        threads: int,
    ) -> Priced:
        columns = replace(self._columns(variants, at, cuts), threads=threads)
        values = {**columns.inputs, **run(columns, self.part, self.wanted)}
        batch = Batch(self._resolved, self.graph, columns, MappingProxyType(values))
        if _in_order(at, variants.many):
            return self._told(batch, in_force, days)
        return self._told(batch, in_force[at], days[at])

    @cached_property
    def _resolved(self) -> Resolved:
        """What a batch is of; its rows are nowhere."""
        nothing: dict[str, Any] = {name: () for name in Resolved.model_fields}
        return Resolved.model_construct(**{**nothing, "currency": self.workshop.currency, "as_of": self.workshop.as_of})

    def _told(self, batch: Batch, in_force: np.ndarray, days: np.ndarray) -> Priced:
        sold, asked = batch["sold"].astype(bool), batch["price"]
        why = self._why_not(batch, sold)
        can = why < 0
        known = sold & np.isfinite(in_force) & can
        would_earn = batch["margin"]
        if known.any():
            looked = look_again(batch, known, np.where(known, in_force, asked), days, self.workshop.terms, None)
            to, reason, earned = looked.to, looked.reason, looked.earned
            margin = margins_at(batch, to)
        else:
            to, earned, margin = asked, would_earn, would_earn
            reason = np.full(asked.shape, TOLD.index("new"))
        verdict = np.where(np.abs(to - in_force) <= PRICE_NOISE, HOLD, np.where(to > in_force, RAISE, LOWER))
        verdict = np.where(can, np.where(known, verdict, NEW), NONE)
        nothing = np.full(asked.shape, np.nan)
        decimal = _decimal(asked, sold & can)
        told: Mapping[str, np.ndarray] = {
            "asked": decimal,
            "margin_asked": np.where(can, would_earn, nothing),
            "in_force": np.where(sold, in_force, nothing),
            "margin_now": np.where(known, earned, nothing),
            "price": decimal if to is asked else _decimal(to, sold & can),
            "margin": np.where(can, margin, nothing),
        }
        return Priced(
            sold=sold,
            unit_cost=np.array(batch["unit_cost"]),
            verdict=verdict.astype(np.int8),
            reason=np.where(can, reason, why).astype(np.int8),
            **told,
        )

    def _why_not(self, batch: Batch, sold: np.ndarray) -> np.ndarray:
        """Why a price cannot be had, as a place in WHYS; -1 where it can. As a folder's prices are refused."""
        had, room = batch["own_can_be_had"].astype(bool), batch["leaves_room"].astype(bool)
        followed = batch.led("price", "followed")
        led = np.maximum(followed, 0)
        had = had & ((followed < 0) | np.take_along_axis(had, led, axis=1))
        room = np.where(followed < 0, room, room & np.take_along_axis(room, led, axis=1))
        heavy = (batch["tiers_passed"] >= batch["tiers"]) & ~self.workshop.posts_all
        fine = np.isfinite(batch["price"]) & np.isfinite(batch["unit_cost"])[:, None]
        names = ("fees_take_all", "no_own_hour", "too_heavy", "too_large")
        tests = (~had & ~room, ~had, heavy & (batch["tiers"] > 0), ~fine)
        why = np.select(list(tests), [WHYS.index(name) for name in names], -1)
        return np.where(sold, why, -1)


def _decimal(prices: np.ndarray, there: np.ndarray) -> np.ndarray:
    """The decimals that prices are where there are any, NaN elsewhere."""
    made = np.full(prices.shape, np.nan)
    made[there] = decimal_prices(prices[there])
    return made


def _cut(at: np.ndarray, at_once: int) -> list[np.ndarray]:
    return np.split(at, np.arange(at_once, len(at), at_once))


def _in_order(at: np.ndarray, many: int) -> bool:
    """Whether these are the places of all variants, one after the other."""
    return len(at) == many and bool((at[1:] > at[:-1]).all())


def _marks(boxes: Sequence[np.ndarray]) -> np.ndarray:
    """A number for each row of places in some boxes, the same for the same places; others differ but by rare chance."""
    chance = np.random.default_rng(7)
    marks = np.zeros(len(boxes[0]), dtype=np.int64)
    for box in boxes:
        marks += box.astype(np.int64, copy=False) @ (chance.integers(1, 2**62, size=box.shape[1], dtype=np.int64) | 1)
    return marks
