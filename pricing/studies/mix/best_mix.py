"""What to make this month: the most that so many hours, flasks, kiln loads, grams and so much cash can bring.

A linear programme over every variant in every channel where it is sold. What is made the most of is what a set brings
over what is spent on it alone (`resources.Taken.brings`): hours of the maker's own and the month's overhead are there
whatever is made, so they are no cost of a piece here but limits. Every figure of it is the engine's.

Metal that lies in the drawer counts at what it costs to buy today, as everywhere; it only saves cash. Of what is made
as a part of another piece the hours, flasks and grams count too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from pricing.errors import UsageFault, did_you_mean
from pricing.formulas.engine import Computed, compute
from pricing.records import number
from pricing.studies.mix.figures import NOISE, Choice, Limit, Metal, Mix, Rush
from pricing.studies.mix.programme import Best, Boundless, Impossible, Programme, check_solver, solve, solve_whole
from pricing.studies.month.set_takes import Taken, taken
from pricing.studies.month.there_is import Month, Sales
from pricing.studies.prices_out import PricesOut
from pricing.what_if import asking, in_a_run, in_one_order, only

if TYPE_CHECKING:
    from scipy.sparse import csr_array


def mix(out: PricesOut, month: Month, whole: bool = True) -> Mix:
    """What to make at the prices that go out; sets, flasks and kiln loads whole, or in shares.

    Raises UsageFault for a name that there is not, where nothing limits what is made, or where no plan keeps the
    limits.
    """
    planned = _Planned(out.computed, month, whole)
    best = planned.solved(solve_whole if whole else solve)
    return planned.told(best, float(out.costing.folder.stated.workshop.overhead.per_month))


def rush(out: PricesOut, month: Month, order: Sales) -> Rush:
    """What an order on top displaces, and must fetch; `order.names` are a sku, an alloy and a channel.

    It is one run and one order of so many sets. What it takes is taken from the month, and the rest is planned anew,
    in shares. Raises UsageFault where there is no such variant or the month has no room for it.
    """
    computed = out.computed
    row, column = _variant(computed, order.names)
    planned = _Planned(computed, month, whole=False)
    before = planned.solved(solve).gain
    run = in_one_order(in_a_run(only(out.asked.computed.resolved, [row]), order.sets, False), order.sets)
    alone = compute(run, computed.graph)
    takes = taken(alone)
    try:
        after = planned.less(takes, column, order.sets).solved(solve).gain
    except Impossible:
        raise UsageFault(
            f"{' in '.join(order.names[:2])}: the month has no room for {order.sets:g}, even if nothing else is made."
        ) from None
    displaces = max(0.0, before - after)
    spent = float(alone["profit"][0, column] - takes.brings[0, column])  # own hours and overhead, below 0
    cost = float(alone["unit_cost"][0])
    if cost <= 0:
        raise UsageFault(f"{' in '.join(order.names[:2])} costs nothing to make, so no price can be told for it.")
    markup = (displaces / order.sets + spent) / cost
    asked = compute(asking(run, order.names[2], [{"asks_solving": True, "asked_markup": markup}]), computed.graph)
    return Rush(
        sku=order.names[0],
        alloy=order.names[1],
        channel=order.names[2],
        sets=order.sets,
        displaces=displaces,
        price=float(asked["required_price"][0, column]),
        in_force=float(computed["price"][row, column]),
    )


def _variant(computed: Computed, names: tuple[str, ...]) -> tuple[int, int]:
    sku, alloy, channel = names
    variants = computed.resolved.variants
    row = next((place for place, each in enumerate(variants) if (each.sku, each.alloy) == (sku, alloy)), None)
    if row is None or channel not in variants[row].sold_in:
        raise UsageFault(f"{sku} in {alloy} has no price in {channel}. Name another piece, alloy or channel.")
    return row, [each.name for each in computed.resolved.channels].index(channel)


@dataclass(frozen=True)
class _Row:
    """One row of the programme: how much there is, and by the places of columns what one of each uses.

    One without a kind is no limit of the month: it ties columns to each other.
    """

    kind: str
    name: str
    there_is: float
    places: np.ndarray
    uses: np.ndarray


class _Planned:
    """The programme of a month: columns for what may be sold, then flasks, kiln loads and grams bought."""

    def __init__(self, computed: Computed, month: Month, whole: bool):
        self.computed, self.month, self.whole = computed, month, whole
        self.takes = taken(computed)
        self.spots = [(row, place) for row, each in enumerate(computed.resolved.variants) for place in each.sold_places]
        if not self.spots:
            raise UsageFault("nothing is sold anywhere. State channels and prices first.")
        self.rows, self.columns = (np.array(each) for each in zip(*self.spots, strict=True))
        kinds = self.takes.flask_kinds
        self.machines = tuple(dict.fromkeys(machine for _, _, loads in kinds for machine, _ in loads))
        self.flasks_from = len(self.spots)
        self.loads_from = self.flasks_from + len(kinds)
        self.bought_from = self.loads_from + len(self.machines)
        self.width = self.bought_from + len(self.takes.metal_kinds)
        self.limits: list[_Row] = []
        self._check_names()
        self._hours()
        self._flasks()
        self._metal()
        self._sales()

    # ---- limits

    def _limit(self, kind: str, name: str, there_is: float, uses: np.ndarray, start: int = 0, out: int = -1) -> None:
        """A limit on what columns from `start` on use; `out` is a column that takes one of it off."""
        places = np.flatnonzero(uses)
        row = _Row(kind, name, there_is, places + start, np.asarray(uses, dtype=float)[places])
        if out >= 0:
            row = replace(row, places=np.append(row.places, out), uses=np.append(row.uses, -1.0))
        self.limits.append(row)

    def _hours(self) -> None:
        if self.month.hours is not None:
            self._limit("hours", "", self.month.hours, self.takes.own_hours[self.rows, self.columns])
        for place, role in enumerate(self.computed.resolved.roles):
            if role.name in self.month.roles:
                uses = self.takes.roles[self.rows, self.columns, place]
                self._limit("hours", role.name, self.month.roles[role.name], uses)

    def _flasks(self) -> None:
        kinds = self.takes.flask_kinds
        for place in range(len(kinds)):
            self._limit("", "", 0.0, self.takes.flasks[self.rows, place], out=self.flasks_from + place)
        for name, there_is in self.month.flasks.items():
            of = np.array([name in ("", kind[1]) for kind in kinds], dtype=float)
            self._limit("flasks", name, there_is, of, self.flasks_from)
        for at, machine in enumerate(self.machines):
            shares = np.array([dict(loads).get(machine, 0.0) for _, _, loads in kinds])
            self._limit("", "", 0.0, shares, self.flasks_from, out=self.loads_from + at)
        for name, there_is in self.month.loads.items():
            of = np.array([name in ("", machine) for machine in self.machines], dtype=float)
            self._limit("loads", name, there_is, of, self.loads_from)

    def _metal(self) -> None:
        for place, (alloy, takes) in enumerate(self.takes.metal_kinds):
            kind = "grams" if self.month.cash is not None and takes == "cast" else ""
            uses, lies = self.takes.grams[self.rows, place], self._lies((alloy, takes))
            self._limit(kind, alloy, lies, uses, out=self.bought_from + place)
        if self.month.cash is not None:
            self._limit("cash", "", self.month.cash, self.takes.metal_prices, self.bought_from)

    def _sales(self) -> None:
        for each in self.month.most:
            self._limit("most", ":".join(each.names), each.sets, self._named("--most", each.names).astype(float))
        for each in self.month.least:
            self._limit("least", ":".join(each.names), -each.sets, -self._named("--least", each.names).astype(float))
        if self.month.each_most is not None:
            for row in dict.fromkeys(self.rows.tolist()):
                variant = self.computed.resolved.variants[row]
                of = (self.rows == row).astype(float)
                self._limit("each", f"{variant.sku}:{variant.alloy}", self.month.each_most, of)

    def _named(self, option: str, names: Sequence[str]) -> np.ndarray:
        """Whether each spot has all of these names."""
        variants, channels = self.computed.resolved.variants, self.computed.resolved.channels
        found = np.array(
            [
                all(
                    name in (variants[row].sku, variants[row].product, variants[row].alloy, channels[column].name)
                    for name in names
                )
                for row, column in self.spots
            ]
        )
        if not found.any():
            raise UsageFault(f"{option} {':'.join(names)}: nothing that is sold has all of these names.")
        return found

    def _check_names(self) -> None:
        resolved, month = self.computed.resolved, self.month
        known = {name for each in resolved.variants for name in (each.sku, each.product, each.alloy)}
        known |= {each.name for each in resolved.channels}
        kinds, metals = self.takes.flask_kinds, {each[0] for each in self.takes.metal_kinds}
        roles = [each.name for each in resolved.roles]
        for option, what, names, there in (
            ("--most", "piece, alloy or channel", [name for each in month.most for name in each.names], known),
            ("--least", "piece, alloy or channel", [name for each in month.least for name in each.names], known),
            ("--hours", "role", month.roles, roles),
            ("--flasks", "flask in use", month.flasks, {each[1] for each in kinds}),
            ("--loads", "kiln in use", month.loads, self.machines),
            ("--grams", "alloy in use", month.grams if month.cash is not None else (), metals),
        ):
            for name in names:
                if name and name not in there:
                    raise UsageFault(f'{option} {name}: no {what} "{name}". {did_you_mean(name, there)}')

    # ---- solving

    def less(self, takes: Taken, column: int, sets: float) -> _Planned:
        """The same month without what an order takes that is made on top."""
        month, roles = self.month, [each.name for each in self.computed.resolved.roles]
        left = replace(
            month,
            hours=None if month.hours is None else month.hours - sets * float(takes.own_hours[0, column]),
            roles={
                name: there_is - sets * float(takes.roles[0, column, roles.index(name)])
                for name, there_is in month.roles.items()
            },
            flasks={
                name: there_is
                - sets
                * sum(float(takes.flasks[0, at]) for at, kind in enumerate(takes.flask_kinds) if name in ("", kind[1]))
                for name, there_is in month.flasks.items()
            },
            loads={
                name: there_is
                - sets
                * sum(
                    float(takes.flasks[0, at]) * share
                    for at, kind in enumerate(takes.flask_kinds)
                    for machine, share in kind[2]
                    if name in ("", machine)
                )
                for name, there_is in month.loads.items()
            },
        )
        made = _Planned(self.computed, left, self.whole)
        for place, kind in enumerate(takes.metal_kinds):
            made._take_metal(kind, sets * float(takes.grams[0, place]))
        return made

    def _take_metal(self, kind: tuple[str, str], grams: float) -> None:
        """Take so much from what lies in the drawer; more than that is bought."""
        at = self.bought_from + self.takes.metal_kinds.index(kind)
        place = next(place for place, each in enumerate(self.limits) if (each.uses[each.places == at] < 0).any())
        self.limits[place] = replace(self.limits[place], there_is=self.limits[place].there_is - grams)

    def solved(self, solver: Any) -> Best:
        check_solver()
        gains, whole = np.zeros(self.width), np.zeros(self.width, dtype=bool)
        gains[: len(self.spots)] = self.takes.brings[self.rows, self.columns]
        whole[: self.bought_from] = self.whole
        limits = np.array([each.there_is for each in self.limits])
        try:
            found: Best = solver(Programme(gains, self._uses(), limits, whole))
        except Boundless:
            raise UsageFault(
                "something takes nothing of what is limited, so there is no end of it. Say with --most how many sell."
            ) from None
        return replace(found, amounts=self._no_more_than_needed(found.amounts))

    def _uses(self) -> csr_array:
        """What each column uses of each limit; most use little of it all."""
        from scipy.sparse import csr_array

        ends = np.cumsum([0, *(len(each.places) for each in self.limits)])
        places, uses = (np.concatenate([getattr(each, part) for each in self.limits]) for part in ("places", "uses"))
        return csr_array((uses, places, ends), shape=(len(self.limits), self.width))

    def _no_more_than_needed(self, amounts: np.ndarray) -> np.ndarray:
        """With only the flasks, loads and grams that the sets ask for; where some is left it may take more."""
        sets, found = amounts[: len(self.spots)], amounts.copy()
        flasks = self._counted(self.takes.flasks[self.rows].T @ sets)
        found[self.flasks_from : self.loads_from] = flasks
        for at, machine in enumerate(self.machines):
            shares = np.array([dict(loads).get(machine, 0.0) for _, _, loads in self.takes.flask_kinds])
            found[self.loads_from + at] = self._counted(shares @ flasks)
        for place, kind in enumerate(self.takes.metal_kinds):
            needed = float(self.takes.grams[self.rows, place] @ sets)
            found[self.bought_from + place] = max(0.0, needed - self._lies(kind))
        return found

    def _counted(self, amounts: Any) -> Any:
        return np.ceil(amounts - NOISE) if self.whole else amounts

    def _lies(self, kind: tuple[str, str]) -> float:
        """Grams in the drawer of what is poured; sheet, wire and castings are bought."""
        return self.month.grams.get(kind[0], 0.0) if kind[1] == "cast" else 0.0

    # ---- telling

    def told(self, best: Best, overhead: float) -> Mix:
        choices = sorted(
            self._choices(best),
            key=lambda each: (-round(each.sets, 6), -(each.brings_an_hour or 0.0), each.sku, each.alloy, each.channel),
        )
        hours = float(self.takes.own_hours[self.rows, self.columns] @ best.amounts[: len(self.spots)])
        return Mix(
            tuple(choices),
            tuple(self._limits(best)),
            tuple(self._metal_told(best)),
            best.gain,
            overhead,
            hours,
            best.gap,
        )

    def _choices(self, best: Best) -> Iterator[Choice]:
        computed, grams = self.computed, self.takes.grams.sum(axis=1)
        for place, (row, column) in enumerate(self.spots):
            variant = computed.resolved.variants[row]
            yield Choice(
                sku=variant.sku,
                alloy=variant.alloy,
                channel=computed.resolved.channels[column].name,
                sets=float(best.amounts[place]) if best.amounts[place] > NOISE else 0.0,
                price=float(computed["price"][row, column]),
                brings=float(self.takes.brings[row, column]),
                hours=float(self.takes.own_hours[row, column]),
                flasks=float(self.takes.flasks[row].sum()),
                grams=float(grams[row]),
                earned_per_hour=number(computed["earned_per_hour"][row, column]),
                short=float(best.short[place]),
            )

    def _limits(self, best: Best) -> Iterator[Limit]:
        for row, worth in zip(self.limits, best.worth, strict=True):
            if not row.kind:
                continue
            sign = -1.0 if row.kind == "least" else 1.0
            used = sign * float(row.uses @ best.amounts[row.places])
            yield Limit(row.kind, row.name, sign * row.there_is, max(0.0, used), float(worth))

    def _metal_told(self, best: Best) -> Iterator[Metal]:
        sets = best.amounts[: len(self.spots)]
        rows = zip(self.limits, best.worth.tolist(), strict=True)
        over = {row.name: worth for row, worth in rows if row.kind == "grams"}
        for place, (alloy, takes) in enumerate(self.takes.metal_kinds):
            needed, lies = float(self.takes.grams[self.rows, place] @ sets), self._lies((alloy, takes))
            if needed <= NOISE:
                continue
            to_buy = max(0.0, needed - lies)
            price = float(self.takes.metal_prices[place])
            worth = price + (over.get(alloy, 0.0) if takes == "cast" else 0.0)
            yield Metal(alloy, takes, needed, lies, to_buy, to_buy * price, worth)
