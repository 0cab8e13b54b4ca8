"""Price tags: swing tags that hang on a string, and ring tags that fold around a ring's shank."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from types import MappingProxyType
from typing import Any, Literal

from pricing.errors import UsageFault
from pricing.extras import missing
from pricing.lists.catalogue import code_of, collections, habit_in, metal_words, metals_named, size_of, sold_rows
from pricing.lists.cut_sheets import Cutting
from pricing.lists.number_habits import Habit
from pricing.lists.price_list import list_price
from pricing.lists.rendering import Paper
from pricing.studies.prices_out import PricesOut

#: Width and height in mm where the maker states none.
SIZES: Mapping[str, tuple[float, float]] = MappingProxyType({"swing": (40.0, 62.0), "ring": (62.0, 12.0)})
#: Smaller than this no code can be read and no price.
LEAST: Mapping[str, tuple[float, float]] = MappingProxyType({"swing": (28.0, 42.0), "ring": (48.0, 10.0)})
MOST_TAGS = 20_000


@dataclass(frozen=True)
class TagsAsked:
    """Which tags: `copies` of each variant sold in `channel`; `skip` places of the first page stay free."""

    kind: Literal["swing", "ring"]
    channel: str
    skus: tuple[str, ...]
    alloys: tuple[str, ...]
    copies: int = 1
    skip: int = 0


def tags(out: PricesOut, asked: TagsAsked, cut: Cutting, habit: Habit) -> Paper:
    """The tags, at the prices that go out, as a sheet for PDF.

    Raises UsageFault for a size on which nothing could be read.
    """
    least = LEAST[asked.kind]
    if cut.size[0] < least[0] or cut.size[1] < least[1]:
        raise UsageFault(f"a {asked.kind} tag is at least {least[0]:g} × {least[1]:g} mm, or its code cannot be read.")
    if asked.copies < 1 or asked.skip < 0:
        raise UsageFault("copies are 1 or more, and places to skip 0 or more.")
    costing = out.costing
    habit = habit_in(habit, costing, asked.channel)
    rows = sold_rows(costing, asked.channel, asked.skus, asked.alloys)
    if len(rows) * asked.copies > MOST_TAGS:
        raise UsageFault(f"that would be {len(rows) * asked.copies:,} tags; at most {MOST_TAGS:,} are made at once.")
    made: list[Any] = []
    codes: dict[str, Any] = {}
    for group in collections(costing, rows):
        for item in group.items:
            for row in item.rows:
                code = code_of(costing, row)
                codes[f"code-{len(codes) + 1}.svg"] = qr_code(code)
                marks = [each.mark for each in metals_named(costing, row)]
                tag = {
                    "name": ", ".join(filter(None, (item.product.name, size_of(costing, item, row)))),
                    "sold_as": item.sold_as,
                    "sku": costing.computed.resolved.variants[row].sku,
                    "code": code,
                    "picture": f"code-{len(codes)}.svg",
                    "alloy": metal_words(costing, row, habit),
                    "mark": marks[0] if len(marks) == 1 else "",
                    "marks": " ".join(filter(None, marks)),
                    "price": habit.money(list_price(costing, row, asked.channel)),
                }
                made.extend([tag] * asked.copies)
    document = {
        "title": f"{asked.kind.capitalize()} tags",
        "workshop": costing.folder.stated.workshop.name,
        "date": costing.computed.resolved.as_of.isoformat(),
        "kind": asked.kind,
        "cutting": cut.as_document(),
        "tags": [None] * (asked.skip % cut.on_a_page) + made,
    }
    return Paper("tags", document, codes)


def qr_code(text: str) -> bytes:
    """An SVG of a QR code (ISO/IEC 18004, error level M) with the four modules of quiet that it needs around it."""
    try:
        import segno
    except ImportError:
        raise missing("A code on a tag", "segno", "lists") from None
    written = BytesIO()
    segno.make(text, error="m", boost_error=False, micro=False).save(
        written, kind="svg", border=4, xmldecl=False, svgns=True
    )
    return written.getvalue()
