"""Whether what an entry says is of the form that its series has: where it is not."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TypeVar

from pydantic import BaseModel, ValidationError

Model = TypeVar("Model", bound=BaseModel)


def from_json(model: type[Model], content: object) -> Model:
    """The model of what was read from JSON, by its strict rules there: a day is a text. Raises ValueError."""
    return model.model_validate_json(json.dumps(content, allow_nan=False))


def misshapen_by(built: Callable[[object], object], content: object) -> str:
    """Where `built` refuses the content of an entry, as `flasks[3].alloy`; "" where it does not."""
    try:
        built(content)
    except ValidationError as found:
        where = found.errors(include_url=False, include_context=False, include_input=False)[0]["loc"]
        return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in where).lstrip(".") or "entry"
    except (ValueError, RecursionError):  # a number that is not finite, nested too deeply
        return "entry"
    return ""
