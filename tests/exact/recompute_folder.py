"""Reads a workshop folder for the exact re-computation: plain tables with fractions in them.

Assumed where the contract is silent: a figure for one alloy that a cousin takes over still comes last, after
the cousin's own plain figure; a cousin of a scaled product starts again from scale 1.
"""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from pathlib import Path

GRAMS = {
    "g": Fraction(1),
    "kg": Fraction(1000),
    "t": Fraction(1000000),
    "ozt": Fraction("31.1034768"),
    "dwt": Fraction("31.1034768") / 20,
    "lb": Fraction("453.59237"),
}


@dataclass(frozen=True)
class Folder:
    """A workshop folder as read: plain tables with fractions, `like` already followed."""

    workshop: dict
    alloys: dict
    processes: dict
    channels: dict
    ladder: dict
    quotes: list
    products: list
    as_of: date


def read_toml(path: Path, number: type) -> dict:
    """A TOML file with every number a fraction."""
    return numbers(tomllib.loads(path.read_text(encoding="utf-8"), parse_float=number), number)


def numbers(value, number: type):
    """The same value with integers as fractions too, all the way down (so that no `/` makes a float)."""
    if isinstance(value, dict):
        return {key: numbers(inner, number) for key, inner in value.items()}
    if isinstance(value, list):
        return [numbers(inner, number) for inner in value]
    if isinstance(value, int) and not isinstance(value, bool):
        return number(value)
    return value


def read_folder(root: Path, as_of: date, number: type) -> Folder:
    """The files of a workshop folder."""
    with (root / "metal_prices.csv").open(encoding="utf-8", newline="") as lines:
        quotes = [
            line | {"date": date.fromisoformat(line["date"]), "price": number(line["price"])}
            for line in csv.DictReader(lines)
        ]
    channels = read_toml(root / "channels.toml", number)
    paths = sorted((root / "products").glob("*.toml"), key=lambda path: path.name)
    stated = [read_toml(path, number) for path in paths]
    by_sku = {product["sku"]: product for product in stated}
    return Folder(
        workshop=read_toml(root / "workshop.toml", number),
        alloys=read_toml(root / "alloys.toml", number)["alloys"],
        processes=read_toml(root / "processes.toml", number)["processes"],
        channels=channels["channels"],
        ladder=channels.get("ladder", {}),
        quotes=quotes,
        products=[follow_like(product, by_sku) for product in stated],
        as_of=as_of,
    )


def merged(base: dict, over: dict) -> dict:
    """`base` with what `over` states put in its place: tables key by key, lists and policies whole."""
    result = dict(base)
    for key, value in over.items():
        if key != "policy" and isinstance(value, dict) and isinstance(result.get(key), dict):
            result[key] = merged(result[key], value)
        else:
            result[key] = value
    return result


def follow_like(product: dict, by_sku: dict) -> dict:
    """A product with everything that it takes over from the product it is like; scale is not taken over."""
    if "like" not in product:
        return product
    taken = dict(follow_like(by_sku[product["like"]], by_sku))
    taken.pop("scale", None)
    return merged(taken, product)


def figures_of(product: dict, alloy: str) -> dict:
    """What holds for a product in one alloy: its own figures, those for this alloy last."""
    return merged(product, product.get("for_alloy", {}).get(alloy, {}))


def newest(folder: Folder, metal: str) -> dict:
    """The line in force for a metal or a currency: the newest to the as-of date, the last among equals."""
    found = None
    for line in folder.quotes:
        if line["metal"] == metal and line["date"] <= folder.as_of:
            if found is None or line["date"] >= found["date"]:
                found = line
    if found is None:
        raise LookupError(f"no price of {metal} on or before {folder.as_of}")
    return found


def rate_of(folder: Folder, currency: str):
    """One unit of a currency in the workshop's."""
    if currency == folder.workshop["currency"]:
        return Fraction(1)
    return newest(folder, currency)["price"]


def spot_per_g(folder: Folder, metal: str) -> Fraction:
    """Price of a metal, currency of the workshop per gram."""
    line = newest(folder, metal)
    return line["price"] / GRAMS[line["per"]] * rate_of(folder, line["currency"])
