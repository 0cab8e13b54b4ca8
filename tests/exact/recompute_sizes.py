"""Sizes of a product in exact fractions: how long a band is and how much of it there is.

Assumed where the contract is silent: the master's length is reckoned by the same standard as the list's; a UK size
with ½ after the sign of a size over Z (`Z+1½`) is half a step more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

PI = Fraction(math.pi)
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class Size:
    """One size: its name, the length that grows with it in mm, and how much of the master's volume it has."""

    name: str
    length_mm: Fraction
    growth: Fraction
    sales: Fraction


def circumference_mm(standard: str, size: str, number: type = Fraction) -> Fraction:
    """Inner circumference of a ring."""
    if standard == "iso":
        return number(size)
    if standard == "us":
        return PI * (number("11.63") + number("0.8128") * number(size))
    if standard == "uk":
        return number("36.25") + number("1.25") * uk_steps(size)
    raise ValueError(f"no standard of ring sizes: {standard}")


def uk_steps(size: str) -> Fraction:
    """How many steps a UK size lies above the one before A."""
    half = Fraction(1, 2) if size.endswith("½") else Fraction(0)
    letter, _, over = size.removesuffix("½").partition("+")
    return LETTERS.index(letter) + 1 + Fraction(over or 0) + half


def length_mm(sizes: dict, size: str, number: type = Fraction) -> Fraction:
    """The length that grows with the size: the band's middle, or the stated one."""
    if "lengths" in sizes:
        return sizes["lengths"][size]
    return circumference_mm(sizes["standard"], size, number) + PI * sizes["band_mm"]


def sizes_of(product: dict, number: type = Fraction) -> list[Size]:
    """Every size of a product, in the order of its list; none where it is made in one size."""
    if "sizes" not in product:
        return []
    sizes = product["sizes"]
    master = length_mm(sizes, sizes["master"], number)
    share = sizes.get("band_share", Fraction(1))
    result = []
    for name in sizes.get("list", list(sizes.get("lengths", {}))):
        length = length_mm(sizes, name, number)
        growth = 1 + share * (length / master - 1)
        result.append(Size(name, length, growth, sizes.get("sales", {}).get(name, Fraction(1))))
    return result


def mean_growth(sizes: list[Size]) -> Fraction:
    """How much of the master's volume a piece of all sizes has in the mean; 1 where there are none."""
    if not sizes:
        return Fraction(1)
    sold = sum((size.sales for size in sizes), Fraction(0))
    return sum((size.sales * size.growth for size in sizes), Fraction(0)) / sold
