"""Which input cells may be changed: figures and switches that have an effect where they stand.

What a word of the folder decides (how a step is counted, which way a policy asks, where metal comes in) is locked,
and so is a figure that the folder would refuse there: minutes of a step that has no role, a margin where the
policy is a markup.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from pricing.formulas.sheet_layout import LongRow
from pricing.formulas.tables import ROW_OF
from pricing.workbook.sheets.labels import Words, stated_way, used_way

#: Inputs that follow from words of the folder: they stand among the hidden columns.
WORDS_BEHIND: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        table: tuple(known.name for known in row.figures.values() if known.unit and not known.typed)
        for table, row in ROW_OF.items()
    }
)

#: The figures that each way of asking has.
POLICY_FIGURES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "margin": ("asked_margin",),
        "markup": ("asked_markup",),
        "earn": ("asked_earnings",),
        "multiple": ("unit_multiple",),
        "metal_and_work": ("metal_multiple", "work_multiple"),
        "keystone_of": ("follow_multiple",),
        "fixed": ("fixed_price",),
    }
)


def is_editable(words: Words, table: str, name: str, row: LongRow) -> bool:
    """Whether the cell of an input may be changed."""
    if name in WORDS_BEHIND.get(table, ()):
        return False
    rule = _RULES.get(table)
    return rule is None or rule(words, name, row)


def _currency(words: Words, name: str, row: LongRow) -> bool:
    return row.row.name != words.resolved.currency


def _content(words: Words, name: str, row: LongRow) -> bool:
    if words.stated.alloys[words.resolved.alloys[row.index[0]].name].priced_by == "quote":
        return False
    return name == "mass_fraction" or row.row.metal is not None


def _casting(words: Words, name: str, row: LongRow) -> bool:
    if name in ("casting_count", "area_cm2"):
        return True
    stated = stated_way(row.row)
    return name == stated or (stated, name) == ("model_g", "model_density")


def _finding(words: Words, name: str, row: LongRow) -> bool:
    return name != "finding_metal_g" or row.row.finding_alloy is not None


def _use(words: Words, name: str, row: LongRow) -> bool:
    return not row.row.takes_flask_powder and name == used_way(row.row)


def _step(words: Words, name: str, row: LongRow) -> bool:
    step = row.row
    if name == "from_g":
        return step.from_g > 0
    if step.from_g > 0 and name in ("good", "metal_loss", "caught", "rework", "rework_minutes"):
        return False
    if name in ("step_minutes", "rework", "rework_minutes"):
        return step.role is not None
    if name == "machine_minutes":
        return step.machine is not None
    return step.is_from_metal or name not in ("metal_loss", "caught")


def _variant(words: Words, name: str, row: LongRow) -> bool:
    variant = row.row
    if name == "pieces_per_flask":
        return variant.flask is not None
    return name != "expected_sales" or any(step.is_design for step in variant.steps)


def _channel(words: Words, name: str, row: LongRow) -> bool:
    return name != "order_minutes" or row.row.role is not None


def _price_step(words: Words, name: str, row: LongRow) -> bool:
    return name == "step_size" or row.row.applies_below is not None


def _price(words: Words, name: str, row: LongRow) -> bool:
    return name in ("sold", "least_price", *POLICY_FIGURES[row.row.policy_kind])


_RULES = MappingProxyType(
    {
        "currency": _currency,
        "content": _content,
        "casting": _casting,
        "finding": _finding,
        "use": _use,
        "step": _step,
        "variant": _variant,
        "channel": _channel,
        "price_step": _price_step,
        "price": _price,
    }
)
