"""The parcel to the assay office: which finished pieces must be marked, and how many to hold back to fill one.

What must be marked, what it costs and how many go into a parcel is what the processes state: the steps that are done
only from a mass upward (`from_g`), and of these the ones that take several `together`. Nothing is stated twice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pricing.costing import Costing
from pricing.errors import UsageFault, did_you_mean
from pricing.made_of import contents_of
from pricing.model.rows import StepRow
from pricing.parcels.exemption import metal_under_law, must_be_marked


@dataclass(frozen=True)
class Marked:
    """A product in a precious alloy: what of it is marked, by which steps, at what cost of one set.

    `pieces` are the articles of a set: its castings where it is sold as a pair or set, else one; `piece_g` is the
    precious metal of one: bronze that silver is joined to does not count. `law` says whether the published limits ask
    for a mark (None: of an alloy below every least fineness, or of several precious metals, where the law goes by the
    article).
    """

    sku: str
    alloy: str
    pieces: float
    piece_g: float
    steps: tuple[str, ...]
    cost: float
    law: bool | None

    @property
    def is_marked(self) -> bool:
        return bool(self.steps)

    @property
    def differs(self) -> bool:
        """Whether the files mark what the law exempts, or leave unmarked what it does not."""
        return self.law is not None and self.law != self.is_marked


@dataclass(frozen=True)
class Parcel:
    """One kind of parcel: a step, how many go into one (`holds`, counted by `per`), and what sending one costs.

    `lying` is what of it lies ready, by product in alloy; `takes` names the products that go into it.
    """

    step: str
    per: str
    holds: float
    each: float
    lying: Mapping[tuple[str, str], float]
    takes: tuple[tuple[str, str], ...]

    @property
    def ready(self) -> float:
        return sum(self.lying.values())

    @property
    def full(self) -> int:
        """Parcels that are full."""
        return int(self.ready / self.holds + 1e-9)

    @property
    def left(self) -> float:
        """What is left beside the full ones."""
        return max(0.0, self.ready - self.full * self.holds)

    @property
    def to_fill(self) -> int:
        """How many more fill the next one."""
        return math.ceil(self.holds - self.left - 1e-9) if self.left or not self.full else 0

    def cost_of_each(self, sent: float) -> float:
        """What one costs to send where so many go in one parcel."""
        return self.each / sent

    @property
    def when_full(self) -> float:
        return self.each / self.holds


def marked(costing: Costing) -> tuple[Marked, ...]:
    """Every product in a precious alloy; of one in sizes with one price, as the mean of its sizes."""
    computed, alloys = costing.computed, costing.folder.stated.alloys
    products = costing.folder.goods
    found = []
    for row, variant in enumerate(computed.resolved.variants):
        metals = contents_of(computed, row).metals
        counted = {each.alloy: metal_under_law(alloys[each.alloy].composition) for each in metals}
        if not any(counted.values()):
            continue
        apart = (products[variant.sku].sold_as or "each") != "each" and not variant.parts
        pieces = float(computed["castings_per_set"][row]) if apart and variant.castings else 1.0
        piece_g = sum(each.grams for each in metals if counted[each.alloy]) / pieces
        steps = [place for place in range(len(variant.steps)) if marks(costing, row, place)]
        named = {metal for metal in counted.values() if metal}
        law = must_be_marked(named.pop(), piece_g) if len(named) == 1 else None
        found.append(
            Marked(
                variant.sku, variant.alloy, pieces, piece_g, tuple(variant.steps[place].name for place in steps),
                sum(_cost(costing, row, place) for place in steps), law,
            )
        )  # fmt: skip
    return tuple(found)


def marks(costing: Costing, row: int, place: int) -> bool:
    """Whether a step marks a product: it is one that is done from a mass upward only, it is done, and it costs.

    A product whose own figures take the cost of it away is not marked.
    """
    step: StepRow = costing.computed.resolved.variants[row].steps[place]
    return step.from_g > 0 and _cost(costing, row, place) > 0


def _cost(costing: Costing, row: int, place: int) -> float:
    """What a step costs of one set: its fee, and the time it takes."""
    computed = costing.computed
    names = ("step_fee_cost", "step_labour_cost", "step_overhead_cost", "step_machine_cost", "step_material_cost")
    return sum(float(computed[name][row, place]) for name in names)


def parcels(costing: Costing, lying: Mapping[tuple[str, str], float]) -> tuple[Parcel, ...]:
    """The kinds of parcels that the processes state, with what lies ready for each, in sets by product and alloy.

    Raises UsageFault for a product in an alloy that there is not, and for one that is not marked.
    """
    computed = costing.computed
    kinds: dict[tuple[str, float, float], list[tuple[int, int]]] = {}
    for row, variant in enumerate(computed.resolved.variants):
        for place, step in enumerate(variant.steps):
            if step.together > 1 and marks(costing, row, place):
                kinds.setdefault((step.name, step.together, step.step_fee), []).append((row, place))
    _check(costing, lying, {_name(costing, row) for rows in kinds.values() for row, _ in rows})
    found = []
    for (name, together, _), rows in kinds.items():
        first, place = rows[0]
        step = computed.resolved.variants[first].steps[place]
        own = {}
        for row, _ in rows:
            count = lying.get(_name(costing, row), 0.0)
            if count:
                own[_name(costing, row)] = count * (float(computed["castings_per_set"][row]) if step.is_piece else 1.0)
        each = _cost(costing, first, place) / float(computed["times"][first, place])
        names = tuple(_name(costing, row) for row, _ in rows)
        found.append(Parcel(name, "piece" if step.is_piece else "set", together, each, own, names))
    return tuple(found)


def _name(costing: Costing, row: int) -> tuple[str, str]:
    variant = costing.computed.resolved.variants[row]
    return variant.sku, variant.alloy


def _check(costing: Costing, lying: Mapping[tuple[str, str], float], sent: set[tuple[str, str]]) -> None:
    known = [_name(costing, row) for row in range(len(costing.computed.resolved.variants))]
    for name in lying:
        words = ":".join(name)
        if name not in known:
            raise UsageFault(f'there is no "{words}". {did_you_mean(words, [":".join(each) for each in known])}')
        if name not in sent:
            raise UsageFault(f"{words} goes into no parcel: no step of its process that marks takes several together.")


def lying_of(texts: Sequence[str]) -> dict[tuple[str, str], float]:
    """`hare:sterling=12` and the like. Raises UsageFault for anything else."""
    found: dict[tuple[str, str], float] = {}
    for text in texts:
        what, mark, count = text.rpartition("=")
        sku, colon, alloy = what.strip().rpartition(":")
        if not (mark and colon and sku and count.strip().isdecimal() and count.strip().isascii() and len(count) < 7):
            raise UsageFault(f'"{text}" is no count of pieces: write SKU:ALLOY=COUNT, as silver-hare:sterling=12.')
        found[sku, alloy.strip()] = found.get((sku, alloy.strip()), 0.0) + int(count)
    return found
