"""The changes to products, to the steps of their processes and to what channels ask, told with their reasons."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pricing.costing import Costing
from pricing.errors import Fault
from pricing.folder.toml.places import KeyPath
from pricing.model.rows import VariantRow
from pricing.workbook.back.cells import ReadCell
from pricing.workbook.back.changes import FolderChange, differences, once
from pricing.workbook.back.family import Family, Question
from pricing.workbook.back.layered import Settled, Shared, Slot, Variant, settle
from pricing.workbook.back.matching import Typed
from pricing.workbook.back.part_figures import part_questions
from pricing.workbook.back.product_figures import figure_questions


def product_changes(costing: Costing, typed: Iterable[Typed]) -> tuple[list[FolderChange], list[Fault]]:
    """The changes to products, to the steps of processes and to what channels ask, and what cannot be stated."""
    family, typed = Family(costing), list(typed)
    if left := list(family.sizes_left(typed)):
        return [], left
    parts, faults = part_questions(family, typed)
    questions = (*figure_questions(family, typed), *parts)
    return [change for question in questions for change in changes_of(family, question)], faults


def is_bound(row: VariantRow, channel: str) -> bool:
    """Whether what a variant asks in a channel has an effect: it is sold there, or another price follows it."""
    return any(channel in (row.prices[place].channel, row.prices[place].followed) for place in row.sold_places)


def changes_of(family: Family, question: Question) -> Iterator[FolderChange]:
    """What is to be stated, and where, so that every variant holds what is asked."""
    now = question.now
    if question.path[0] == "in_channel":
        channel = str(question.path[1])
        now = {
            variant: value
            for variant, value in now.items()
            if variant in question.wanted or is_bound(family.variants[variant], channel)
        }
    slots = family.slots(question.path)
    if question.path == ("sold_in",):
        channels = [channel.name for channel in family.costing.computed.resolved.channels]
        slots = {slot: [name for name in channels if name in value] for slot, value in slots.items()}
    wanted = {**now, **question.wanted}
    for settled in settle(wanted, now, slots, family.chain, question.shared.get):
        yield from _changes_of(family, question, slots, settled)


def _changes_of(
    family: Family, question: Question, slots: Mapping[Slot, Any], settled: Settled
) -> Iterator[FolderChange]:
    where, first = settled.where, settled.moved[0]
    old = question.now[first]
    cells = once([cell for variant in settled.moved for cell in question.cells.get(variant, ())])
    if isinstance(where, Shared):
        skus = dict.fromkeys(variant.sku for variant in settled.moved)
        count = f"{len(skus)} products" if len(skus) > 1 else f"{first.sku}, the only product"
        yield from _apart(where.file, where.path, old, settled.value, cells, f"for {count} that take it from here")
        return
    file = family.costing.folder.product_file(where.sku)
    path = question.path if where.alloy is None else ("for_alloy", where.alloy, *question.path)
    if where in slots:
        yield from _apart(file, path, old, settled.value, cells, "")
        return
    if settled.value is None:
        return  # a product cannot say that it has none of what it takes from another
    before = _taken_from(family, question, slots, first)
    in_alloy = f" in {where.alloy}" if where.alloy else ""
    why = f"its own figure{in_alloy} from now on; so far {before}"
    if settled.kept:
        why = f"stays what it was, as its row says: {why}"
    yield FolderChange(file, path, old, settled.value, cells, why)


def _taken_from(family: Family, question: Question, slots: Mapping[Slot, Any], variant: Variant) -> str:
    """Where a variant took its figure from so far."""
    skus = family.chain(variant.sku)
    for slot in (*(Slot(sku, variant.alloy) for sku in skus), *(Slot(sku, None) for sku in skus)):
        if slot in slots:
            return f"that of {slot.sku}" if slot.sku != variant.sku else "one for all its alloys"
    shared = question.shared.get(variant.sku)
    if shared is None:
        return "none was stated"
    return f"that of the {'process' if shared.path[0] == 'processes' else 'channel'} {shared.path[1]}"


def _apart(
    file: str, path: KeyPath, old: Any, new: Any, cells: tuple[ReadCell, ...], why: str
) -> Iterator[FolderChange]:
    """A change of a table or a list in its place, as changes of what differs in it."""
    for inner, before, after in differences(old, new):
        yield FolderChange(file, (*path, *inner), before, after, cells, why)
