"""Standard against actual: what the batches of a period cost beside what they should have, and why.

The *standard* is the engine's: what the good castings of a batch take by the figures of the folder, at the prices of
the day asked for. The *actual* is the log's: metal weighed, minutes spent, and what the metal had really cost (the
drawer's moving average; without a drawer the price of the day of the pour). The difference is split as textbooks split
it, so that the parts add up to it exactly:

- price: (what a gram had cost - the standard price) x the grams used up;
- loss: grams missing beyond the normal melt loss, at the standard price. Normal loss is a share of what comes out of
  the melt, so an abnormal gram bears its share of it: what process costing calls abnormal loss;
- usage: the other grams beyond the standard (rejects, pieces heavier than believed), at the standard price;
- time: (minutes spent - the standard minutes of the good castings) x what an hour of the step costs.

Only what was written down is compared: steps without minutes in a batch have no time variance, and what an hour costs
is the folder's. Above 0 more was spent than the standard. Source: material price and usage (quantity), labour
efficiency: Horngren, Datar and Rajan, Cost Accounting, chapter 7; normal and abnormal loss: any text on process
costing. Castings that are not through all their steps yet (`up_to`) count as good.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pricing.batches.model import Batch, Flask, Pieces
from pricing.drawer.state import Drawer
from pricing.drawer.worth import prices_per_g
from pricing.formulas.engine import Computed
from pricing.shown import Shown

#: A variant: sku, alloy and, where its sizes have one price, size.
Spot = tuple[str, str, str | None]
#: A line of a card with the row of its variant and its good sets.
_Found = tuple[Flask, Pieces, int, float]


@dataclass(frozen=True)
class MetalVariance:
    """Metal of one alloy in one batch, in grams used up (net of what came back) and money of the workshop.

    `price_paid` is what a gram had really cost, `price` the standard one.
    """

    number: int
    alloy: str
    standard_g: float
    actual_g: float
    loss_g: float
    price: float
    price_paid: float

    @property
    def standard(self) -> float:
        """What the metal of the good castings should have cost."""
        return self.standard_g * self.price

    @property
    def actual(self) -> float:
        """What the metal that was used up had cost."""
        return self.actual_g * self.price_paid

    @property
    def by_price(self) -> float:
        """Because a gram had cost more."""
        return (self.price_paid - self.price) * self.actual_g

    @property
    def by_loss(self) -> float:
        """Because more went missing than is normal."""
        return self.loss_g * self.price

    @property
    def by_usage(self) -> float:
        """Because more grams were used for other reasons."""
        return (self.actual_g - self.loss_g - self.standard_g) * self.price


@dataclass(frozen=True)
class TimeVariance:
    """Minutes of one step in one batch; `rate` is what an hour of it costs, overhead with it."""

    number: int
    step: str
    standard_minutes: float
    actual_minutes: float
    rate: float

    @property
    def standard(self) -> float:
        return self.standard_minutes / 60 * self.rate

    @property
    def actual(self) -> float:
        return self.actual_minutes / 60 * self.rate

    @property
    def by_time(self) -> float:
        """Because it took longer."""
        return self.actual - self.standard


@dataclass(frozen=True)
class Made:
    """What was made of one variant in the period: good sets, and what they cost more than the standard, by set."""

    spot: Spot
    row: int
    sets: float
    metal_more: float
    time_more: float


@dataclass(frozen=True)
class Variances:
    """All of a period; `left_out` says in words what could not be compared."""

    metal: tuple[MetalVariance, ...]
    time: tuple[TimeVariance, ...]
    made: tuple[Made, ...]
    left_out: tuple[str, ...] = field(default=())

    @property
    def standard(self) -> float:
        """What the batches should have cost."""
        return sum(each.standard for each in self.metal) + sum(each.standard for each in self.time)

    @property
    def actual(self) -> float:
        """What they cost."""
        return sum(each.actual for each in self.metal) + sum(each.actual for each in self.time)

    @property
    def causes(self) -> Mapping[str, float]:
        """The difference by its causes; together they are it."""
        return {
            "price": sum(each.by_price for each in self.metal),
            "usage": sum(each.by_usage for each in self.metal),
            "loss": sum(each.by_loss for each in self.metal),
            "time": sum(each.by_time for each in self.time),
        }


def variances(batches: Sequence[Batch], drawer: Drawer, computed: Computed) -> Variances:
    """What these batches cost beside what they should have; the drawer says what their metal had cost."""
    standard = _Standard(computed)
    metal: list[MetalVariance] = []
    time: list[TimeVariance] = []
    more: dict[int, list[float]] = {}
    sets: dict[int, float] = {}
    spots: dict[int, Spot] = {}
    left_out: list[str] = []
    for batch in batches:
        found = list(_rows(batch, standard, left_out))
        for alloy in batch.alloys:
            own = [(row, good) for flask, _, row, good in found if flask.alloy == alloy]
            flasks = [flask for flask in batch.flasks if flask.alloy == alloy]
            one = _metal(batch, alloy, flasks, own, drawer, standard)
            if isinstance(one, str):
                left_out.append(one)
                continue
            metal.append(one)
            grams: dict[int, float] = {}
            for row, good in own:
                grams[row] = grams.get(row, 0.0) + good * standard.used_up_g(row)
            _share(more, 0, one.actual - one.standard, grams)
        for step, actual, spent in _minutes(batch, found):
            needed = standard.needed(spent, step)
            rate = standard.rate_of(needed, step)
            if rate is None:
                left_out.append(f'batch {batch.number}: "{step}", which no piece that is known here has')
                continue
            one_step = TimeVariance(batch.number, step, sum(needed.values()), actual, rate)
            time.append(one_step)
            _share(more, 1, one_step.by_time, needed)
        for flask, pieces, row, good in found:
            sets[row] = sets.get(row, 0.0) + good
            spots[row] = (pieces.sku, flask.alloy, pieces.size)
    made = [
        Made(spots[row], row, good, *(part / good for part in more.get(row, [0.0, 0.0])))
        for row, good in sets.items()
        if good > 0
    ]
    return Variances(tuple(metal), tuple(time), tuple(made), tuple(dict.fromkeys(left_out)))


class _Standard:
    """What a good set takes, by the engine's own quantities."""

    def __init__(self, computed: Computed):
        self.computed, self.values = computed, computed.values
        resolved = computed.resolved
        self.rows: dict[Spot, int] = {}
        for row, variant in enumerate((*resolved.variants, *resolved.hidden)):
            if row < len(resolved.variants):
                self.rows[variant.sku, variant.alloy, None] = row
            if variant.size is not None and not variant.links:
                self.rows.setdefault((variant.product, variant.alloy, variant.size), row)
        self.variants = (*resolved.variants, *resolved.hidden)
        self.prices = prices_per_g(computed)
        self.roles = {role.name: place for place, role in enumerate(resolved.roles)}
        self.melt_loss = {row.name: row.melt_loss for row in resolved.alloys}

    def used_up_g(self, row: int) -> float:
        """Grams that a good set uses up: the charge less what comes back to be melted again."""
        return float(self.values["charge_g"][row] - self.values["returns_g"][row])

    def sets(self, row: int, castings: int) -> float:
        """So many castings as sets."""
        return castings / float(self.values["castings_per_set"][row] or 1.0)

    def _place(self, row: int, step: str) -> int | None:
        return next((place for place, each in enumerate(self.variants[row].steps) if each.name == step), None)

    def minutes(self, row: int, step: str) -> float:
        """Attended minutes of a step for a good set; 0 where it has none such."""
        place = self._place(row, step)
        return 0.0 if place is None else 60 * float(self.values["step_labour_hours"][row, place])

    def needed(self, spent: Sequence[_Found], step: str) -> dict[int, float]:
        """Minutes that the good castings of these lines should have taken, by the row of their variant."""
        found: dict[int, float] = {}
        for _, _, row, good in spent:
            found[row] = found.get(row, 0.0) + good * self.minutes(row, step)
        return found

    def rate_of(self, needed: Mapping[int, float], step: str) -> float | None:
        """What an hour of a step costs over these variants, each by the minutes that it should have taken."""
        rates = {row: rate for row in needed if (rate := self.rate(row, step)) is not None}
        whole = sum(needed[row] for row in rates)
        if whole > 0:
            return sum(needed[row] * rate for row, rate in rates.items()) / whole
        return sum(rates.values()) / len(rates) if rates else None

    def rate(self, row: int, step: str) -> float | None:
        """What an hour of the step costs, with the overhead that it carries; None where nobody attends to it."""
        place = self._place(row, step)
        role = None if place is None else self.variants[row].steps[place].role
        if role is None:
            return None
        return float(self.values["labour_rate"][self.roles[role]] + self.values["overhead_rate"])


def _rows(batch: Batch, standard: _Standard, left_out: list[str]) -> Iterator[_Found]:
    for flask in batch.flasks:
        for pieces in flask.pieces:
            row = standard.rows.get((pieces.sku, flask.alloy, pieces.size))
            if row is None:
                left_out.append(f"batch {batch.number}: {pieces.sku} in {flask.alloy}, which is not made here any more")
            else:
                yield flask, pieces, row, standard.sets(row, pieces.good)


def _metal(
    batch: Batch,
    alloy: str,
    flasks: Sequence[Flask],
    own: Sequence[tuple[int, float]],
    drawer: Drawer,
    standard: _Standard,
) -> MetalVariance | str:
    """The metal of one alloy in a batch, or a sentence about why it cannot be compared."""
    price = standard.prices.get(alloy, {}).get("fresh")
    if price is None:
        return f"batch {batch.number}: {alloy}, of which no price is known"
    if len(own) < sum(len(flask.pieces) for flask in flasks) or not all(flask.pieces for flask in flasks):
        return f"batch {batch.number}: the {alloy} of it, since not every flask says which castings it held"
    charge = sum(flask.charge_g for flask in flasks)
    back = sum(flask.back_g + flask.rejected_g for flask in flasks)
    came_out = back + sum(flask.castings_g for flask in flasks)
    needed = sum(good * standard.used_up_g(row) for row, good in own)
    loss = charge - came_out / (1 - standard.melt_loss[alloy])
    return MetalVariance(batch.number, alloy, needed, charge - back, loss, price, _paid(batch, alloy, drawer, price))


def _paid(batch: Batch, alloy: str, drawer: Drawer, standard: float) -> float:
    """What a gram of a batch's charge had cost: by the drawer, else the price of its day, else the standard one."""
    used = [
        move
        for move in drawer.moves
        if move.entry.batch == batch.number and move.line.what == "used" and move.line.alloy == alloy
    ]
    costs = [move.cost for move in used if move.cost is not None]
    if used and len(costs) == len(used):
        return sum(costs) / sum(move.line.grams for move in used)
    metal = batch.metal.get(alloy)
    return standard if metal is None or metal.buy_price_per_g is None else metal.buy_price_per_g


def _minutes(batch: Batch, found: Sequence[_Found]) -> Iterator[tuple[str, float, list[_Found]]]:
    """Each step of which minutes were written down, the minutes, and the lines that they were spent on."""
    apart: dict[str, list[_Found]] = {}
    for each in found:
        for step in each[1].minutes:
            apart.setdefault(step, []).append(each)
    for step, spent in batch.minutes.items():
        alone = {id(each[1]) for each in apart.get(step, ())}
        yield step, spent, [each for each in found if id(each[1]) not in alone]
    for step, lines in apart.items():
        yield step, sum(each[1].minutes[step] for each in lines), lines


def _share(more: dict[int, list[float]], which: int, amount: float, needed: Mapping[int, float]) -> None:
    """An amount over variants, by what each should have taken of it."""
    whole = sum(needed.values())
    for row, part in needed.items():
        if whole > 0:
            more.setdefault(row, [0.0, 0.0])[which] += amount * part / whole


#: The columns of money, and those that are differences.
COLUMNS = ("standard", "price", "usage", "loss", "time", "actual")
SIGNED = frozenset({"price", "usage", "loss", "time"})


def flat(found: Variances) -> list[dict[str, Any]]:
    """A line for each alloy and each step of every batch."""
    metal = [
        {"batch": str(each.number), "of": each.alloy, "standard": each.standard, "price": each.by_price,
         "usage": each.by_usage, "loss": each.by_loss, "time": None, "actual": each.actual}
        for each in found.metal
    ]  # fmt: skip
    time = [
        {"batch": str(each.number), "of": each.step, "standard": each.standard, "price": None, "usage": None,
         "loss": None, "time": each.by_time, "actual": each.actual}
        for each in found.time
    ]  # fmt: skip
    return sorted([*metal, *time], key=lambda each: int(each["batch"]))


def in_words(found: Variances, shown: Shown, called: Callable[[str], str] = str) -> list[tuple[str, tuple[str, ...]]]:
    """The same lines and their sum as people read them: of which batch and of what, and the amounts of `COLUMNS`.

    `called` says what an alloy is called; whatever else it is given stays as it is.
    """
    whole = {"batch": "in all", "of": "", "standard": found.standard, **found.causes, "actual": found.actual}
    return [
        (
            f"{each['batch']} {called(each['of'])}".strip(),
            tuple("" if each[name] is None else shown.money(each[name], signed=name in SIGNED) for name in COLUMNS),
        )
        for each in [*flat(found), whole]
    ]
