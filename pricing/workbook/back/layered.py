"""A figure that several products may share: the narrowest place for it so that every row says what it shall.

What holds for a product in an alloy is the first that is stated of: its own figure in that alloy, or that of the
product that it is like, and so on; its own figure, or that of the product it is like, and so on; the process or the
channel. Figures are settled from the shared end: the file that all share only where all who take it from there agree,
then products before their cousins; whoever would be moved along without having been changed keeps a figure of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from pricing.folder.toml.places import KeyPath


class Variant(NamedTuple):
    """A product in an alloy."""

    sku: str
    alloy: str


class Slot(NamedTuple):
    """Where a figure may stand in a product's file: for all alloys (None) or for one."""

    sku: str
    alloy: str | None


@dataclass(frozen=True)
class Shared:
    """Where a figure stands that no product states: a file and a path in it."""

    file: str
    path: KeyPath


@dataclass(frozen=True)
class Settled:
    """A figure to be stated: in a slot of a product or in the shared file; `moved` are the variants that it is for.

    `kept` says that none of these was changed: it only stays what it was.
    """

    where: Slot | Shared
    value: Any
    moved: tuple[Variant, ...]
    kept: bool = False


def settle(
    wanted: Mapping[Variant, Any],
    now: Mapping[Variant, Any],
    slots: Mapping[Slot, Any],
    chain: Callable[[str], tuple[str, ...]],
    shared: Callable[[str], Shared | None],
) -> Iterator[Settled]:
    """The figures to be stated so that every variant holds what is wanted.

    `now` holds what each variant holds; `slots` what is stated in products; `chain` gives a product, the one it is
    like, and so on; `shared` where the product's figure stands if no product states it.
    """
    held, moved_shared = dict(slots), {}
    takers: dict[Shared | None, list[Variant]] = {}
    users: dict[Shared | None, set[str]] = {}
    for variant in now:
        users.setdefault(shared(variant.sku), set()).add(variant.sku)
        if slot_of(variant, held, chain) is None:
            takers.setdefault(shared(variant.sku), []).append(variant)
    for place, variants in takers.items():
        value = wanted[variants[0]]
        alike = all(wanted[each] == value and now[each] != value for each in variants)
        skus = {each.sku for each in variants}
        if place is not None and alike and (len(skus) > 1 or skus == users[place]):
            moved_shared[place] = value
            yield Settled(place, value, tuple(variants))

    def holds(variant: Variant) -> Any:
        slot = slot_of(variant, held, chain)
        if slot is not None:
            return held[slot]
        place = shared(variant.sku)
        return now[variant] if place is None else moved_shared.get(place, now[variant])

    by_sku: dict[str, list[Variant]] = {}
    for variant in now:
        by_sku.setdefault(variant.sku, []).append(variant)
    for sku in sorted(by_sku, key=lambda each: len(chain(each))):  # products before those that are like them
        variants = by_sku[sku]
        off = [each for each in variants if holds(each) != wanted[each]]
        if not off:
            continue
        free = [each for each in variants if not any(Slot(name, each.alloy) in held for name in chain(sku))]
        value = wanted[free[0]] if free else None
        if any(each in off for each in free) and all(wanted[each] == value for each in free):
            held[Slot(sku, None)] = value
            moved = tuple(each for each in free if each in off)
            yield Settled(Slot(sku, None), value, moved, all(wanted[each] == now[each] for each in moved))
            off = [each for each in off if each not in free]
        for each in off:
            held[Slot(sku, each.alloy)] = wanted[each]
            yield Settled(Slot(sku, each.alloy), wanted[each], (each,), wanted[each] == now[each])


def slot_of(variant: Variant, held: Mapping[Slot, Any], chain: Callable[[str], tuple[str, ...]]) -> Slot | None:
    """The slot from which a variant takes its figure."""
    skus = chain(variant.sku)
    candidates = [*(Slot(sku, variant.alloy) for sku in skus), *(Slot(sku, None) for sku in skus)]
    return next((slot for slot in candidates if slot in held), None)
