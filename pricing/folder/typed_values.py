"""What people type into fields and after commands, as the values of a model; what is no number stays text, and the
models say so."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from pricing.errors import Fault, Faults, Place
from pricing.folder.refused_values import refusals
from pricing.folder.toml.places import written
from pricing.units import GRAMS_PER

Model = TypeVar("Model", bound=BaseModel)
_NUMBER = re.compile(r"[+-]?\d{1,15}(?:\.\d{1,15})?")
_WITH_UNIT = re.compile(r"(?P<number>[^a-z]+?)\s*(?P<unit>[a-z]+)")


def figure(text: str) -> Decimal | str | None:
    """A number with its digits, None of an empty field, else the text as it was typed."""
    text = text.strip()
    if not text:
        return None
    return Decimal(text.removeprefix("+")) if _NUMBER.fullmatch(text) else text


def mass(text: str) -> float | str | None:
    """Grams of what the scale shows: `12.5` and `12.5 g` are grams, `12.5 dwt` pennyweights, `3 ozt` troy ounces.

    None of an empty field, else the text as it was typed; the units are those of `pricing.units`.
    """
    found = _WITH_UNIT.fullmatch(text.strip().lower())
    unit = found["unit"] if found else "g"
    number = figure(found["number"] if found else text)
    if number is None or isinstance(number, str) or unit not in GRAMS_PER:
        return word(text)
    return float(number) * GRAMS_PER[unit]


def count(text: str) -> int | str | None:
    """A whole number, None of an empty field, else the text as it was typed."""
    text = text.strip()
    return int(text) if re.fullmatch(r"[+-]?\d{1,15}", text, re.ASCII) else (text or None)


def word(text: str) -> str | None:
    """A text, None of an empty field."""
    text = text.strip()
    return text or None


def day_typed(text: str) -> date | str | None:
    """A day written as 2026-11-20, None of an empty field, else the text as it was typed."""
    text = text.strip()
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        return text


def built(model: type[Model], values: Mapping[str, Any]) -> Model:
    """The model of typed values. Raises Faults whose keys are paths in it, as `lines[0].grams`."""
    try:
        return model.model_validate(values)
    except ValidationError as refused:
        raise Faults(
            Fault(Place("what was typed"), written(each.path), each.problem, _without_quotes(each.mend))
            for each in refusals(model, values, refused)
        ) from None


def _without_quotes(mend: str) -> str:
    """Nobody types quotes here."""
    return mend.replace("Write it without the quotes: ", "Write ").replace(", without quotes.", ".")
