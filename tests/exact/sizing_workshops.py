"""Draws the sizes of a product: ring sizes of every standard, and lengths."""

from __future__ import annotations

from decimal import Decimal

from .chooser import Chooser

LISTED = {
    "iso": ["50", "54", "47.5", "60", "44", "68.25"],
    "us": ["7", "6", "6.5", "9", "4.25", "0", "13"],
    "uk": ["M", "L½", "J", "P", "Z", "Z½", "Z+1", "Z+4½", "A"],
}
LENGTHS = {"S": 160, "M": 175, "L": 190, "45 cm": 450, "XL": Decimal("203.5")}


def sizes_tables(pick: Chooser) -> dict:
    """A `[sizes]` table, of rings or of things of stated lengths."""
    standard = pick.one([*LISTED, "lengths"])
    tables: dict = {}
    if standard == "lengths":
        names = pick.some(list(LENGTHS), least=1)
        tables["lengths"] = {name: LENGTHS[name] for name in names}
        tables["master"] = pick.one(names)
        if pick.chance(5):
            names = pick.some(names, least=1)
            tables["list"] = names
    else:
        names = pick.shuffled(pick.some(LISTED[standard], least=1))[:4]
        tables |= {"standard": standard, "list": names, "band_mm": pick.number("0.8", "6", 1)}
        tables["master"] = pick.one([*names, *LISTED[standard]])
    if pick.chance(5):
        tables["band_share"] = pick.number("0.05", "1", 2)
    if pick.chance(5):
        tables["sales"] = {name: pick.number("0.1", "9", 1) for name in pick.some(names, least=1)}
    if pick.chance(4):
        tables["each_priced"] = pick.chance(8)
    return tables


def cousin_sizes(pick: Chooser, sizes: dict) -> dict:
    """What a cousin states of its own: another master or another thickness, for the same sizes."""
    own = {"master": pick.one(list(sizes["lengths"]) if "lengths" in sizes else LISTED[sizes["standard"]])}
    if "lengths" not in sizes and pick.chance(5):
        own["band_mm"] = pick.number("0.8", "6", 1)
    return own
