"""Which tables there are, how they are nested, and which keys lead from one to another.

A table's `axes` say what its rows are counted by: a step is the k-th of a variant, so its axes are
(variant, step). A `key` names a row of another table: a variant's alloy, a step's role. Two kinds of
name reach a table's own siblings: a key into the same table (`followed_price` of a price row) and the
prefix `other_` (all the rows that share everything but the last axis).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pricing.model.resolved import ROWS


@dataclass(frozen=True)
class Table:
    """One index set: its name, its axes from the outside in, its keys as name -> table, and what it is nested in."""

    name: str
    axes: tuple[str, ...]
    keys: Mapping[str, str] = field(default_factory=dict)
    inside: tuple[str, ...] = ()  # the nearest first


TABLES: Mapping[str, Table] = MappingProxyType(
    {
        table.name: table
        for table in (
            Table("workshop", ()),
            Table("currency", ("currency",)),
            Table("metal", ("metal",), {"currency": "currency"}),
            Table("alloy", ("alloy",)),
            Table("content", ("alloy", "content"), {"metal": "metal"}, inside=("alloy",)),
            Table("role", ("role",)),
            Table("machine", ("machine",)),
            Table("material", ("material",)),
            Table("flask", ("flask",)),
            Table("variant", ("variant",), {"alloy": "alloy", "flask": "flask"}),
            Table("casting", ("variant", "casting"), {"in_alloy": "alloy"}, inside=("variant",)),
            Table("finding", ("variant", "finding"), {"finding_alloy": "alloy"}, inside=("variant",)),
            Table("step", ("variant", "step"), {"role": "role", "machine": "machine"}, inside=("variant",)),
            Table("use", ("variant", "step", "use"), {"material": "material"}, inside=("step", "variant")),
            Table("channel", ("channel",), {"role": "role"}),
            Table("fee", ("channel", "fee"), inside=("channel",)),
            Table("price_step", ("channel", "price_step"), inside=("channel",)),
            Table("price", ("variant", "channel"), {"followed": "price"}, inside=("variant", "channel")),
        )
    }
)

#: Where the rows of a nested table hang on the row of the table above: attribute names of the resolved model.
CHILDREN: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "content": ("alloy", "contents"),
        "casting": ("variant", "castings"),
        "finding": ("variant", "findings"),
        "step": ("variant", "steps"),
        "use": ("step", "uses"),
        "fee": ("channel", "fees"),
        "price_step": ("channel", "price_steps"),
        "price": ("variant", "prices"),
    }
)
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
        "variant": "variants",
        "channel": "channels",
    }
)


@dataclass(frozen=True)
class Input:
    """One thing that the formulas take from the maker: a column of a table.

    `optional` inputs may be left open; `stated` is the name of the input whose `_stated` companion this is.
    """

    name: str
    table: str
    unit: str
    meaning: str
    idle: float
    optional: bool = False
    stated: str | None = None

    @property
    def is_switch(self) -> bool:
        return self.unit == "switch"


def _inputs() -> dict[str, Input]:
    inputs: dict[str, Input] = {}
    for row in ROWS:
        for name, field_info in row.model_fields.items():
            extra = field_info.json_schema_extra
            if not extra:
                continue
            optional = type(None) in getattr(field_info.annotation, "__args__", ())
            meaning = field_info.description or ""
            inputs[name] = Input(name, row.table, extra["unit"], meaning, extra["idle"], optional)
            if optional:
                companion = f"{name}_stated"
                meaning = f"Whether {name} is stated."
                inputs[companion] = Input(companion, row.table, "switch", meaning, 0.0, stated=name)
    return inputs


INPUTS: Mapping[str, Input] = MappingProxyType(_inputs())


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
