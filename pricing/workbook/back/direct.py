"""Figures that stand in one place: of the workshop, its alloys, its channels with their fees and rounding."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pricing.costing import Costing
from pricing.folder.files import ALLOYS_FILE, CHANNELS_FILE
from pricing.folder.stated_at import place_of
from pricing.formulas.tables import INPUTS
from pricing.model.rows import ROWS, ContentRow, WorkshopRow
from pricing.model.stated import Stated
from pricing.workbook.back.changes import FolderChange, once
from pricing.workbook.back.matching import Typed

#: Tables whose figures stand in one place.
DIRECT = frozenset(
    row.table
    for row in ROWS
    if row.at is not None and row.at.partition(".")[0] in ("", "workshop", "alloys", "channels")
) - {"price"}
#: The ladder and its figures: it comes and goes as a whole.
LADDER = tuple(name for name, known in WorkshopRow.inputs.items() if known.path and known.path[0] == "ladder")


def direct_changes(costing: Costing, typed: Sequence[Typed]) -> Iterator[FolderChange]:
    """The changes to the workshop, its alloys and its channels."""
    ladder: list[Typed] = []
    contents: dict[str, list[Typed]] = {}
    for each in typed:
        if each.name in LADDER:
            ladder.append(each)
        elif INPUTS[each.name].listed:
            contents.setdefault(_alloy(costing, each), []).append(each)
        elif each.table in DIRECT:
            yield _change(costing, each)
    yield from _refund_costs(costing, typed)
    for alloy, switched in contents.items():
        yield from _content_lists(costing.folder.stated, alloy, switched)
    yield from _ladder(costing.folder.stated, ladder)


def _change(costing: Costing, typed: Typed) -> FolderChange:
    known = INPUTS[typed.name]
    file, path = place_of(known, costing.computed.resolved, typed.row.index)
    if typed.name == "step_size" and typed.row.row.applies_below is None:  # the last has no limit, and stands apart
        path = (*path[:-3], "step")
    return FolderChange(file, path, known.written(typed.before), known.written(typed.value), (typed.cell,))


def _refund_costs(costing: Costing, typed: Iterable[Typed]) -> Iterator[FolderChange]:
    """A share of refunds needs their cost beside it, also where that is the 0 that the sheet showed."""
    said = {(each.name, each.row.row.name) for each in typed if each.table == "channel"}
    for each in typed:
        if each.name == "refund_share" and each.value and ("refund_cost", each.row.row.name) not in said:
            name = each.row.row.name
            if costing.folder.stated.channels[name].refund_cost is None:
                path = ("channels", name, "refund_cost")
                yield FolderChange(CHANNELS_FILE, path, None, 0, (each.cell,), "refund_share needs it beside it")


def _alloy(costing: Costing, typed: Typed) -> str:
    return costing.computed.resolved.alloys[typed.row.index[0]].name


def _content_lists(stated: Stated, name: str, switched: list[Typed]) -> Iterator[FolderChange]:
    """Elements without value, and elements that the refiner pays for: two lists of an alloy."""
    alloy = stated.alloys[name]
    unpriced = [element for element in alloy.composition if element in alloy.unpriced]
    pays = [
        element
        for element in alloy.composition
        if element not in alloy.unpriced and (alloy.scrap_pays is None or element in alloy.scrap_pays)
    ]
    for known in (each for each in ContentRow.inputs.values() if each.listed):
        key, before = known.listed, unpriced if known.listed == "unpriced" else pays
        cells = [each for each in switched if each.name == known.name]
        if not cells:
            continue
        listed = {each.row.row.element: bool(each.value) == (key == "scrap_pays") for each in cells}
        after = [element for element in alloy.composition if listed.get(element, element in before)]
        old = before if key in alloy.model_fields_set else None
        yield FolderChange(ALLOYS_FILE, ("alloys", name, key), old, after, once([each.cell for each in cells]))


def _ladder(stated: Stated, typed: list[Typed]) -> Iterator[FolderChange]:
    """The ladder as a whole where it comes or goes, else its figures."""
    values = {each.name: each.value for each in typed}
    cells = once([each.cell for each in typed])
    ladder = stated.ladder
    whole, *figures = (WorkshopRow.inputs[name] for name in LADDER)
    if not values.get(whole.name, ladder is not None):
        if ladder is not None:
            yield FolderChange(CHANNELS_FILE, ("ladder",), ladder.model_dump(exclude_unset=True), None, cells)
        return
    old = {known.key: getattr(ladder, known.key) for known in figures} if ladder is not None else {}
    new = {known.key: known.written(values.get(known.name, old.get(known.key, known.unstated))) for known in figures}
    if ladder is None and typed:
        stated_keys = {key: value for key, value in new.items() if value is not None}
        yield FolderChange(CHANNELS_FILE, ("ladder",), None, stated_keys, cells)
    elif typed:
        for key, value in new.items():
            if value != old[key]:
                yield FolderChange(CHANNELS_FILE, ("ladder", key), old[key], value, cells)
