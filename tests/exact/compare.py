"""Compares what `cost --json` gives (floats) with the exact re-computation (fractions).

**Ties.** A price that falls exactly on a rounding step, and a count that is exactly whole, do not depend
on float noise: the contract looks 1e-9 below (`ceil(x - 1e-9)`, `x + 1/2 + 1e-9`), so the decision lies 1e-9
away from the tie, and noise is some 1e-15 of the number. Noise can decide in three cases only:

- a number that lies 1e-9 beside a tie, within noise ("edge"): it takes figures of ten digits to get there;
- a tie at a large number: from about 30,000 on, 1e-9 is no longer far above the noise of a long calculation,
  from 10,000,000 on it is below the last bit of a float64 ("edge" too; `nearest` reckons in steps, so there
  the number of steps counts);
- an exact equality for which the contract states no tolerance ("tie"): finished_g = from_g; the number being
  rounded = the `below` of a band of steps; required_price = least_price; price = keystone; two retail prices that
  are equal on different grids (these three move only `binds`, and with `nearest` a least price also the price);
  a price of exactly 0 made of an ending less some steps (margin is None). An engine that looks 1e-9 to the side
  which the exact rule takes (from_g reached, band left, not bound, price 0) agrees with the fractions on every
  such tie; one that compares floats bare does not.

`recompute(..., close_calls=found)` lists such decisions. `differences(..., close_calls=found)` then leaves out the
prices of a variant with a close call in a channel (what they leave of every size too), and the whole variant if it is
in a step; a quotation with a close call in it is not compared. Leave out
the "edge" calls; keep the "tie" calls in unless the engine is meant to be without tolerance there.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from .left_of import size_of
from .recompute import CloseCall

NEAR_ZERO = Fraction(1, 10**9)


def differences(
    got: list[dict],
    exact: list[dict],
    relative: float = 1e-9,
    close_calls: Iterable[CloseCall] = (),
    absolute: float = 1e-9,
) -> list[str]:
    """Every quantity that differs, each with its path and both values; empty where all agree.

    `got` is the `variants` of the JSON, `exact` the answer of `recompute`. Numbers agree within `relative` of the
    exact one or within `absolute`; None agrees with None only; texts, step names and channels must be equal.
    Variants are paired by (sku, alloy), steps, parts, sizes and offers by position, prices by channel.
    """
    found: list[str] = []
    got_by_key = keyed(got, found)
    exact_by_key = keyed(exact, found)
    calls = list(close_calls)
    for key in {**exact_by_key, **got_by_key}:
        path = f"{key[0]} in {key[1]}"
        if key not in got_by_key:
            found.append(f"{path}: missing")
        elif key not in exact_by_key:
            found.append(f"{path}: not expected")
        else:
            got_variant, exact_variant = dict(got_by_key[key]), dict(exact_by_key[key])
            where = {call.where for call in calls if (call.sku, call.alloy) == key}
            if any(place.startswith("steps: ") for place in where):
                continue
            if where:
                for part in ("prices", "sizes"):  # what is left of a price is told of every size
                    got_variant.pop(part, None), exact_variant.pop(part, None)
            compare(path, got_variant, exact_variant, (Fraction(relative), Fraction(absolute)), found)
    return found


def keyed(variants: list[dict], found: list[str]) -> dict[tuple[str, str], dict]:
    """Variants by (sku, alloy); a second one of the same key is a difference."""
    result: dict[tuple[str, str], dict] = {}
    for variant in variants:
        key = (variant["sku"], variant["alloy"])
        if key in result:
            found.append(f"{key[0]} in {key[1]}: given twice")
        result[key] = variant
    return result


def compare(path: str, got: object, exact: object, within: tuple[Fraction, Fraction], found: list[str]) -> None:
    """Appends to `found` what differs between two values of the JSON's form."""
    if isinstance(exact, dict) and isinstance(got, dict):
        for key in {**exact, **got}:
            if key not in got:
                found.append(f"{path}: {key} is missing")
            elif key not in exact:
                found.append(f"{path}: {key} is not expected")
            else:
                compare(f"{path}: {key}", got[key], exact[key], within, found)
    elif isinstance(exact, list) and isinstance(got, list):
        got_names, exact_names = [row_name(row) for row in got], [row_name(row) for row in exact]
        if got_names != exact_names:
            found.append(f"{path}: {got_names} instead of {exact_names}")
            return
        for got_row, exact_row, name in zip(got, exact, exact_names, strict=True):
            compare(f"{path}: {name}", got_row, exact_row, within, found)
    elif is_number(exact) and is_number(got):
        if not agree(got, exact, *within):
            found.append(f"{path}: {got!r} instead of {float(exact)!r}")
    elif type(got) is not type(exact) or got != exact:
        found.append(f"{path}: {got!r} instead of {exact!r}")


def row_name(row: dict) -> str | None:
    """What a row of a list is called: a step by its name, a size by its size, a part by its sku and alloy."""
    if "sku" in row:
        return f"{row['sku']} in {row['alloy']}"
    if "quantity" in row:
        return f"{float(row['quantity']):g} sets"
    return row.get("name", row.get("size"))


def is_number(value: object) -> bool:
    """A number of the JSON; true and false are none."""
    return isinstance(value, int | float | Fraction) and not isinstance(value, bool)


def agree(
    got: int | float | Fraction, exact: int | float | Fraction, relative: Fraction, absolute: Fraction = NEAR_ZERO
) -> bool:
    """Within the relative tolerance, or near zero within the absolute one; NaN and infinities never.

    What is left of larger sums is weighed by their size (`left_of.py`): that is as near as floats can come.
    """
    if got != got or got in (float("inf"), float("-inf")):
        return False
    return abs(Fraction(got) - Fraction(exact)) <= max(absolute, relative * size_of(exact))
