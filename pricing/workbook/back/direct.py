"""Figures that stand in one place: of the workshop, its alloys, its channels with their fees and rounding."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pricing.costing import Costing
from pricing.formulas.tables import INPUTS, place_of
from pricing.model.rows import ROWS
from pricing.model.stated import Stated
from pricing.workbook.back.changes import FolderChange, once
from pricing.workbook.back.matching import Typed

#: Tables whose figures stand in one place.
DIRECT = frozenset(
    row.table
    for row in ROWS
    if row.at is not None and row.at.partition(".")[0] in ("", "workshop", "alloys", "channels")
) - {"price"}
LADDER = ("has_ladder", "keystone", "one_retail_price")
CONTENTS = ("is_priced", "pays_as_scrap")


def direct_changes(costing: Costing, typed: Sequence[Typed]) -> Iterator[FolderChange]:
    """The changes to the workshop, its alloys and its channels."""
    ladder: list[Typed] = []
    contents: dict[str, list[Typed]] = {}
    for each in typed:
        if each.name in LADDER:
            ladder.append(each)
        elif each.name in CONTENTS:
            contents.setdefault(_alloy(costing, each), []).append(each)
        elif each.table in DIRECT:
            yield _change(costing, each)
    yield from _refund_costs(costing, typed)
    for alloy, switched in contents.items():
        yield from _content_lists(costing.folder.stated, alloy, switched)
    yield from _ladder(costing.folder.stated, ladder)


def _change(costing: Costing, typed: Typed) -> FolderChange:
    said = INPUTS[typed.name].said
    file, path = place_of(said, costing.computed.resolved, typed.row.index)
    if typed.name == "step_size" and typed.row.row.applies_below is None:  # the last has no limit, and stands apart
        path = (*path[:-3], "step")
    return FolderChange(file, path, said.written(typed.before), said.written(typed.value), (typed.cell,))


def _refund_costs(costing: Costing, typed: Iterable[Typed]) -> Iterator[FolderChange]:
    """A share of refunds needs their cost beside it, also where that is the 0 that the sheet showed."""
    said = {(each.name, each.row.row.name) for each in typed if each.table == "channel"}
    for each in typed:
        if each.name == "refund_share" and each.value and ("refund_cost", each.row.row.name) not in said:
            name = each.row.row.name
            if costing.folder.stated.channels[name].refund_cost is None:
                path = ("channels", name, "refund_cost")
                yield FolderChange("channels.toml", path, None, 0, (each.cell,), "refund_share needs it beside it")


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
    for key, column, before in (("unpriced", "is_priced", unpriced), ("scrap_pays", "pays_as_scrap", pays)):
        cells = [each for each in switched if each.name == column]
        if not cells:
            continue
        listed = {each.row.row.element: bool(each.value) == (key == "scrap_pays") for each in cells}
        after = [element for element in alloy.composition if listed.get(element, element in before)]
        old = before if key in alloy.model_fields_set else None
        yield FolderChange("alloys.toml", ("alloys", name, key), old, after, once([each.cell for each in cells]))


def _ladder(stated: Stated, typed: list[Typed]) -> Iterator[FolderChange]:
    """The ladder as a whole where it comes or goes, else its figures."""
    values = {each.name: each.value for each in typed}
    cells = once([each.cell for each in typed])
    ladder = stated.ladder
    stands = bool(values.get("has_ladder", ladder is not None))
    if not stands:
        if ladder is not None:
            yield FolderChange("channels.toml", ("ladder",), ladder.model_dump(exclude_unset=True), None, cells)
        return
    if not typed:
        return
    keystone = values.get("keystone", ladder.keystone if ladder else None) or None
    one = bool(values.get("one_retail_price", ladder.one_retail_price if ladder else False))
    if ladder is None:
        new = {**({"keystone": keystone} if keystone else {}), "one_retail_price": one}
        yield FolderChange("channels.toml", ("ladder",), None, new, cells)
        return
    for key, old, new in (("keystone", ladder.keystone, keystone), ("one_retail_price", ladder.one_retail_price, one)):
        if new != old:
            yield FolderChange("channels.toml", ("ladder", key), old, new, cells)
