"""Which input cells may be changed: figures and switches that have an effect where they stand.

What a word of the folder decides (how a step is counted, which way a policy asks, where metal comes in) is locked,
and so is a figure that the folder would refuse there: minutes of a step that has no role, a margin where the
policy is a markup. What is stated of another row (a piece by itself, a product with all its sizes) is shown only.
"""

from __future__ import annotations

from types import MappingProxyType

from pricing.formulas.sheet_layout import LongRow
from pricing.formulas.tables import INPUTS
from pricing.model.given import Input
from pricing.model.product import VOLUME_KEYS
from pricing.model.rows import PriceRow
from pricing.workbook.sheets.labels import Words, stated_way, used_way

#: The field without which nothing of a plated layer has an effect.
PLATING = "plating_alloy"


def is_editable(words: Words, table: str, name: str, row: LongRow) -> bool:
    """Whether the cell of an input may be changed."""
    known, rule = INPUTS[name], _RULES.get(table)
    if not words.twins.is_stated_here(table, name, row.index):
        return False
    return known.typed and known.has_effect(row.row) and (rule is None or rule(words, name, row))


def _currency(words: Words, name: str, row: LongRow) -> bool:
    return bool(row.row.name != words.resolved.currency)


def _content(words: Words, name: str, row: LongRow) -> bool:
    if words.stated.alloys[words.resolved.alloys[row.index[0]].name].priced_by == "quote":
        return False
    return not INPUTS[name].listed or row.row.metal is not None


def _casting(words: Words, name: str, row: LongRow) -> bool:
    """Of the ways to state a volume only the one that is stated counts; what stands beside every way always does."""
    way, key = stated_way(row.row), INPUTS[name].key
    of_ways = [keys for keys in VOLUME_KEYS if key in keys]
    return not of_ways or any(way in keys for keys in of_ways)


def _use(words: Words, name: str, row: LongRow) -> bool:
    """Of the ways to take a material the one that is stated; what belongs to a plated layer, where there is one."""
    if row.row.takes_flask_powder:
        return False
    return name == used_way(row.row) or PLATING in INPUTS[name].needs


def _price(words: Words, name: str, row: LongRow) -> bool:
    """A figure of a policy counts where the policy asks that way, and one of an order where the product has its own."""
    known: Input = PriceRow.inputs[name]
    if name == "own_sets_per_order":  # where none is stated, the channel's stands with the channel
        return row.row.own_sets_per_order is not None
    if not known.path or known.path[0] != "policy":
        return True
    return known in row.row.asked_by


def _size(words: Words, name: str, row: LongRow) -> bool:
    """How much of a size is sold counts where one price holds for several."""
    return words.variant(row).size is None


_RULES = MappingProxyType(
    {"size": _size, "currency": _currency, "content": _content, "casting": _casting, "use": _use, "price": _price}
)
