"""Which tables there are, how they are nested, and which keys lead from one to another.

A table's `axes` say what its rows are counted by: a step is the k-th of a variant, so its axes are
(variant, step). A `key` names a row of another table: a variant's alloy, a step's role. Two kinds of
name reach a table's own siblings: a key into the same table (`followed_price` of a price row) and the
prefix `other_` (all the rows that share everything but the last axis). The name of a key before a column that
the row has already (`piece_unit_cost` of a part, which lies in a variant itself) fetches it by that key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from pricing.model.given import Input
from pricing.model.rows import ROWS, Row

#: The row class of a table.
ROW_OF: Mapping[str, type[Row]] = MappingProxyType({row.table: row for row in ROWS})


def name_of(row: Row) -> str:
    """What keys of other tables know a row by; "" where none leads to it."""
    return str(getattr(row, "called", None) or getattr(row, "name", ""))


@dataclass(frozen=True)
class Table:
    """One index set: its name, its axes from the outside in, its keys as name -> table, and what it is nested in."""

    name: str
    axes: tuple[str, ...]
    inside: tuple[str, ...] = ()  # the nearest first

    @cached_property
    def keys(self) -> Mapping[str, str]:
        """Names of keys and the tables that they lead to; a table that the maker states nothing of has none."""
        row = ROW_OF.get(self.name)
        return {name: known.target for name, known in row.inputs.items() if known.target} if row else {}


TABLES: Mapping[str, Table] = MappingProxyType(
    {
        table.name: table
        for table in (
            Table("workshop", ()),
            Table("currency", ("currency",)),
            Table("metal", ("metal",)),
            Table("alloy", ("alloy",)),
            Table("content", ("alloy", "content"), inside=("alloy",)),
            Table("role", ("role",)),
            Table("machine", ("machine",)),
            Table("material", ("material",)),
            Table("flask", ("flask",)),
            Table("variant", ("variant",)),
            Table("casting", ("variant", "casting"), inside=("variant",)),
            Table("finding", ("variant", "finding"), inside=("variant",)),
            Table("step", ("variant", "step"), inside=("variant",)),
            Table("use", ("variant", "step", "use"), inside=("step", "variant")),
            Table("link", ("variant", "link"), inside=("variant",)),
            Table("part", ("variant", "part"), inside=("variant",)),
            Table("size", ("variant", "size"), inside=("variant",)),
            Table("channel", ("channel",)),
            Table("fee", ("channel", "fee"), inside=("channel",)),
            Table("price_step", ("channel", "price_step"), inside=("channel",)),
            Table("postage_tier", ("channel", "postage_tier"), inside=("channel",)),
            Table("price", ("variant", "channel"), inside=("variant", "channel")),
            Table("price_fee", ("variant", "channel", "fee"), inside=("price", "fee", "variant", "channel")),
        )
    }
)


def of_variants(table: str) -> bool:
    """Whether a table has rows for each variant."""
    return TABLES[table].axes[:1] == ("variant",)


def inner_axes(table: str) -> tuple[str, ...]:
    """A table's axes without the variant."""
    axes = TABLES[table].axes
    return axes[1:] if of_variants(table) else axes


#: Where the rows of a nested table hang on the row of the table above: attribute names of the resolved model.
CHILDREN: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "content": ("alloy", "contents"),
        "casting": ("variant", "castings"),
        "finding": ("variant", "findings"),
        "step": ("variant", "steps"),
        "use": ("step", "uses"),
        "link": ("variant", "links"),
        "part": ("variant", "parts"),
        "size": ("variant", "sizes"),
        "fee": ("channel", "fees"),
        "price_step": ("channel", "price_steps"),
        "postage_tier": ("channel", "postage_tiers"),
        "price": ("variant", "prices"),
    }
)
#: Tables that the maker states nothing of: each row is one of a table above for one of another beside it.
CROSSED: Mapping[str, tuple[str, str]] = MappingProxyType({"price_fee": ("price", "fee")})
#: Where the rows of an outermost table lie in the resolved model.
OUTERMOST: Mapping[str, str] = MappingProxyType(
    {
        "currency": "currencies",
        "metal": "metals",
        "alloy": "alloys",
        "role": "roles",
        "machine": "machines",
        "material": "materials",
        "flask": "flasks",
        "variant": "all_variants",
        "channel": "channels",
    }
)


def _inputs() -> Iterator[Input]:
    for known in (known for row in ROWS for known in row.inputs.values() if known.unit):
        yield known
        if known.optional:
            yield known.companion


#: Everything that the formulas take from the maker, by name; those that may be left open with their companions.
INPUTS: Mapping[str, Input] = MappingProxyType({known.name: known for known in _inputs()})


@dataclass(frozen=True)
class Path:
    """How a column of table `source` is fetched for a row of another table.

    `start` is the table (the row's own, or one it is nested in) whose first key is followed; `keys` are
    followed one after the other, as (table, key name). `extra` is the axis that the source has and the
    result lacks, None where there is none; `prefix` is "other" or the name of a key among siblings.
    """

    source: str
    keys: tuple[tuple[str, str], ...] = ()
    extra: str | None = None
    prefix: str | None = None


def path_between(result: str, source: str) -> Path | None:
    """The way from a row of `result` to a column of `source`, or None where there is none or more than one.

    Own and surrounding tables come first, then one axis further in, then keys: the nearest wins.
    """
    wanted, here = TABLES[source].axes, TABLES[result].axes
    if set(wanted) <= set(here):
        return Path(source)
    if len(set(wanted) - set(here)) == 1 and wanted[-1] not in here and wanted[:-1] != ():
        return Path(source, extra=wanted[-1])
    frontier: list[tuple[str, tuple[tuple[str, str], ...]]]
    frontier = [(table, ()) for table in (result, *TABLES[result].inside)]
    while frontier:
        found, further = [], []
        for table, keys in frontier:
            for key, target in TABLES[table].keys.items():
                if target == table:
                    continue
                step = (*keys, (table, key))
                if target == source:
                    found.append(Path(source, step))
                further.append((target, step))
        own = [path for path in found if path.keys[0][0] == result]
        if len(own) == 1:
            return own[0]
        if found:
            return found[0] if len(found) == 1 else None
        frontier = further
    return None


def path_among(result: str, source: str | None) -> Path | None:
    """The way from a row of `result` to all rows of `source` that share everything but the last axis with it.

    `source` is the table itself or one that it is nested in, with the same last axis; None for any other.
    """
    axes = TABLES[result].axes
    if (
        source not in (result, *TABLES[result].inside)
        or len(TABLES[source].axes) < 2
        or TABLES[source].axes[-1] != axes[-1]
    ):
        return None
    return Path(source, extra=f"other {axes[-1]}", prefix="other")
