"""Within which bounds an input lies: read off the stated models, so that a sheet refuses what the folder would."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import BaseModel, TypeAdapter

from pricing.formulas.sheet_formula import literal
from pricing.formulas.tables import INPUTS
from pricing.model.base import MOST_ON_TOP

#: Limits from here on guard against overflow; no maker needs to be told.
BEYOND_WORDS = 1e9


@dataclass(frozen=True)
class Bounds:
    """Limits of an input; `open_low` and `open_high` say that the limit itself is not allowed."""

    low: float | None = None
    high: float | None = None
    open_low: bool = False
    open_high: bool = False
    whole: bool = False

    def words(self) -> str:
        """The limits as people read them."""
        low, high = (None if limit is None or abs(limit) >= BEYOND_WORDS else limit for limit in (self.low, self.high))
        kind = "a whole number" if self.whole else "a number"
        if low is None and high is None:
            return kind
        least = "" if low is None else f"{'above' if self.open_low else 'from'} {low:g}"
        most = "" if high is None else f"{'below' if self.open_high else 'to'} {high:g}"
        return " ".join(part for part in (kind, least, most) if part)

    def test(self, address: str) -> str:
        """A formula that is true where the cell holds a number within the limits."""
        tests = [f"ISNUMBER({address})"]
        if self.low is not None:
            tests.append(f"{address}{'>' if self.open_low else '>='}{literal(self.low)}")
        if self.high is not None:
            tests.append(f"{address}{'<' if self.open_high else '<='}{literal(self.high)}")
        if self.whole:
            tests.append(f"INT({address})={address}")
        return f"=AND({','.join(tests)})" if len(tests) > 1 else f"={tests[0]}"


@cache
def bounds_of(name: str) -> Bounds | None:
    """The bounds of an input that is a number; None for one that nobody states."""
    known = INPUTS[name]
    if known.bounds is not None:
        return Bounds(*known.bounds)
    leaf = known.leaf
    if leaf is None or known.is_switch:
        return None
    return stated_bounds(leaf.model, leaf.key) if leaf.info else _bounds(TypeAdapter(leaf.kind).json_schema())


@cache
def stated_bounds(model: type[BaseModel], key: str) -> Bounds:
    """The bounds of a number that a stated model has, whether any row holds it or not."""
    return _bounds(_schema(model)["properties"][key])


def is_share(name: str) -> bool:
    """Whether an input is a fraction: a number without a unit that is nowhere near a count."""
    known = INPUTS.get(name)
    bounds = bounds_of(name) if known and known.unit == "1" else None
    return bounds is not None and bounds.high is not None and bounds.high <= MOST_ON_TOP


@cache
def _schema(model: type[BaseModel]) -> dict[str, Any]:
    return model.model_json_schema()


def _bounds(schema: dict[str, Any]) -> Bounds:
    number = next(part for part in schema.get("anyOf", [schema]) if part.get("type") in ("number", "integer"))
    return Bounds(
        low=number.get("minimum", number.get("exclusiveMinimum")),
        high=number.get("maximum", number.get("exclusiveMaximum")),
        open_low="exclusiveMinimum" in number,
        open_high="exclusiveMaximum" in number,
        whole=number["type"] == "integer",
    )
