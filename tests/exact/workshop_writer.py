"""A whole workshop folder as plain tables, and how it is written to disk.

Numbers are `Decimal` or `int`, so that the text, the exact fraction and the nearest float64 are all of one figure.
"""

from __future__ import annotations

import csv
import json
import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path

COLUMNS = ("date", "metal", "price", "per", "currency", "source")


@dataclass(frozen=True)
class Quotation:
    """One variant in one channel, for some quantities in any order."""

    sku: str
    alloy: str
    channel: str
    quantities: tuple[int, ...]
    charge_design: bool = False


@dataclass(frozen=True)
class Workshop:
    """A generated workshop and the questions that are put to it.

    `files` holds for every TOML file (by its name relative to the folder) its tables, and for
    `metal_prices.csv` its lines. `as_of`, `run` and `charge_design` are what `cost` is asked, `quotations` for what
    quantities a price is asked besides; `tie` says what falls exactly on an edge, where that was aimed at.
    """

    files: dict
    as_of: date
    run: int | None = None
    charge_design: bool = False
    tie: str = ""
    quotations: tuple[Quotation, ...] = ()


def write(workshop: Workshop, root: Path) -> Path:
    """Writes the folder's files below `root` (made where missing) and returns `root`."""
    for name, content in workshop.files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if name.endswith(".csv"):
            with path.open("w", encoding="utf-8", newline="") as lines:
                writer = csv.DictWriter(lines, COLUMNS, lineterminator="\n")
                writer.writeheader()
                writer.writerows(content)
        else:
            path.write_text(toml_text(content), encoding="utf-8")
    return root


def toml_text(tables: dict, path: str = "") -> str:
    """Tables as TOML: plain keys first, then a header for every inner table and list of tables.

    Tables that hold no table (`tax`, `policy`, …) and short lists are written inline, as a maker would.
    """
    inner = {key: value for key, value in tables.items() if wants_header(path, key, value)}
    lines = [f"{toml_key(key)} = {toml_value(value)}" for key, value in tables.items() if key not in inner]
    text = "".join(line + "\n" for line in lines)
    for key, value in inner.items():
        name = f"{path}.{toml_key(key)}" if path else toml_key(key)
        if isinstance(value, dict):
            header = f"[{name}]\n" if any(not wants_header(name, *item) for item in value.items()) or not value else ""
            text += header + toml_text(value, name)
        else:
            text += "".join(f"[[{name}]]\n{toml_text(row, name)}" for row in value)
    return text


def wants_header(path: str, key: str, value: object) -> bool:
    """Whether a value is written below a header of its own: process steps, and tables of the outer floors."""
    if isinstance(value, list):
        return path == "processes" and value != []
    return isinstance(value, dict) and key not in INLINE


INLINE = frozenset(("composition", "tax", "postage", "policy", "rounding"))


def toml_key(key: str) -> str:
    """A key, quoted where it is not bare."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key)


def toml_value(value: object) -> str:
    """A value on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, int):
        return str(value)
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(inner) for inner in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{toml_key(key)} = {toml_value(inner)}" for key, inner in value.items()) + " }"
    raise TypeError(f"not a value of a workshop file: {value!r}")
