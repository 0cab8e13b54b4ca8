"""Where things are stated: the file and the path of a figure of a row, and of the names that rows go by."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from pricing.folder.files import FILE_OF
from pricing.folder.toml.places import KeyPath
from pricing.formulas.tables import CHILDREN, OUTERMOST, ROW_OF
from pricing.model.given import Input
from pricing.model.rows import Resolved, Row


def place_of(known: Input, resolved: Resolved, index: tuple[int, ...]) -> tuple[str, tuple[str | int, ...]]:
    """The file and the path in it where a figure of the row at `index` is stated."""
    above = [known.table]
    while above[0] in CHILDREN:
        above.insert(0, CHILDREN[above[0]][0])
    here: Row | Resolved = resolved
    named = []
    for table, place in zip(above, index, strict=True) if index else ():
        here = getattr(here, CHILDREN[table][1] if table in CHILDREN else OUTERMOST[table])[place]
        named.append(next((name for key in ("name", "element") if (name := getattr(here, key, None))), place))
    assert known.leaf is not None and known.path is not None, f"{known.name} is stated nowhere"
    stars = iter(
        name if kind is dict else place for name, place, kind in zip(named, index, known.leaf.stars, strict=True)
    )
    at = [part for part in (ROW_OF[known.table].at or "").split(".") if part]
    head, *path = (*at, *known.path)
    file, top = FILE_OF[head]
    return file, (*top, *(next(stars) if part == "*" else part for part in path))


def table_of(row: type[Row]) -> tuple[str, tuple[str, ...]]:
    """The file and the table in it where rows with names of their own are stated."""
    head, *path = (row.at or "").removesuffix(".*").split(".")
    file, top = FILE_OF[head]
    return file, (*top, *path)


#: Where the names of a kind are defined: the file, and the table in it.
DEFINED: Mapping[str, tuple[str, KeyPath]] = MappingProxyType(
    {kind: table_of(ROW_OF[kind]) for kind in ("alloy", "channel", "role", "machine", "material", "flask")}
    | {"process": FILE_OF["processes"]}
)
