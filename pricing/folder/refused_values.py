"""What pydantic refuses, told in a maker's words."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from datetime import date
from types import MappingProxyType
from typing import Any, NamedTuple

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from pricing.errors import did_you_mean, nearest
from pricing.folder.expected_keys import keys_of, table_at
from pricing.folder.toml.number_meant import as_fraction, proposed, readings
from pricing.folder.toml.places import KeyPath, written
from pricing.model.base import MOST_ON_TOP, SENSE

#: So many keys of one table are shown where an unknown one is like none of them.
MOST_KEYS = 40

#: So many things that a file's models refuse are told.
MOST_REFUSALS = 200

#: Where pydantic's path says that a key of a table is at fault and not its value.
_KEY = "[key]"


class Refusal(NamedTuple):
    """One thing that a model refused.

    `path` leads to what is at fault (for a missing key to where it would stand), `at` says whether its key or
    its value is, and `table` is the path of the innermost table that cannot be built for it.
    """

    path: KeyPath
    at: str
    problem: str
    mend: str
    kind: str
    table: KeyPath


def refusals(model: type[BaseModel], values: Any, error: ValidationError) -> list[Refusal]:
    """Everything that `model` refused in `values`, each thing once, in the order of the file's keys."""
    found: dict[tuple[KeyPath, str, str], Refusal] = {}
    choices: dict[KeyPath, list[ErrorDetails]] = {}
    for details in error.errors(include_url=False):
        if len(found) >= MOST_REFUSALS:
            break  # of a file that is none of ours the first are enough
        path, is_key = _path_in(values, details)
        if details["type"] == SENSE:
            for sense in details["ctx"]["senses"]:
                at = "key" if is_key else "value"
                refusal = Refusal((*path, *sense.key), at, sense.problem, sense.mend, SENSE, path)
                found.setdefault((refusal.path, at, refusal.problem), refusal)
            continue
        if details["type"] == "too_short" and details["input"]:
            continue  # pydantic counts only items that are right; those that are wrong are told themselves
        choices.setdefault(path, []).append(details)
        found[path, "", ""] = _refusal(model, path, is_key, choices[path])
    return list(found.values())


def _path_in(values: Any, details: ErrorDetails) -> tuple[KeyPath, bool]:
    """pydantic's path without what is no key of the file: names of alternatives, and the sign for a key."""
    path: KeyPath = ()
    here = values
    is_key = False
    for part in details["loc"]:
        if part == _KEY:
            is_key = True
        elif isinstance(here, Mapping) and part in here:
            here = here[part]
            path = (*path, part)
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here = here[part]
            path = (*path, part)
        elif details["type"] == "missing":
            path = (*path, part)
    return path, is_key


def _refusal(model: type[BaseModel], path: KeyPath, is_key: bool, choices: list[ErrorDetails]) -> Refusal:
    details = choices[-1]
    kind, value, bounds = details["type"], details["input"], details.get("ctx", {})
    if kind == "missing":
        key = str(path[-1])
        table = table_at(model, path[:-1])
        says = keys_of(table)[key].description if table else None
        return Refusal(path, "key", f"{key} is missing", f"Add it: {_begun_small(says or key)}", kind, path[:-1])
    if kind == "extra_forbidden":
        key = str(path[-1])
        return Refusal(path, "key", f'unknown key "{key}"', _unknown_key_mend(model, path), kind, path)
    at = "key" if is_key else "value"
    if len(choices) > 1:  # a number or a word
        problem, mend = _neither(value, choices)
    elif kind in _TOLD:
        problem, mend = _TOLD[kind](value, bounds)
    else:
        problem, mend = (
            f"{value_in_words(value)} does not belong here",
            "Compare it with the description of the folder.",
        )
    return Refusal(path, at, problem, mend, kind, path)


def _unknown_key_mend(model: type[BaseModel], path: KeyPath) -> str:
    """The nearest key of the table; for a key that slipped below a header, the table where it belongs."""
    key = str(path[-1])
    table = table_at(model, path[:-1])
    known = keys_of(table) if table else {}
    if nearest(key, known) is None:
        for length in range(len(path) - 2, -1, -1):
            around = table_at(model, path[:length])
            if around is not None and key in keys_of(around):
                where = written(path[:length]) if length else "the top of the file, above the first header"
                return f"It belongs to {where}; here it is a part of {written(path[:-1])}."
    return did_you_mean(key, known, most=MOST_KEYS)


def value_in_words(value: Any) -> str:
    """A value from the file as a sentence names it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"the text {json.dumps(value if len(value) <= 40 else value[:39] + '…', ensure_ascii=False)}"
    if isinstance(value, (int, float)):
        return f"{value:g}" if abs(value) < 1e300 else "a number of this size"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, (list, tuple)):
        return "a list"
    return f"the date {value}" if isinstance(value, date) else f"the time {value}"


def _begun_small(sentence: str) -> str:
    first = sentence.split(maxsplit=1)[0]
    return sentence[0].lower() + sentence[1:] if first[1:].islower() or len(first) == 1 else sentence


def _no_number(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    if isinstance(value, int) and not isinstance(value, bool):
        return "this number has too many digits", "Write a shorter one."
    mend = "Write a number, without quotes." if isinstance(value, str) else "Write a number."
    if isinstance(value, str) and value.rstrip().endswith("%"):
        fraction = as_fraction(value)
        mend = f"Write a fraction: {fraction}." if fraction else "Write a fraction, without quotes."
    elif isinstance(value, str) and (found := readings(value)):
        mend = f"Write it without the quotes: {proposed(found)}."
    return f"{value_in_words(value)} stands where a number belongs", mend


def _no_whole_number(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    if isinstance(value, float):
        return f"{value:g} stands where a whole number belongs", "Write it without a point."
    return _no_number(value, bounds)


def _no_text(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    return f"{value_in_words(value)} stands where text belongs", 'Put it in quotes: "…".'


def _too_little(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    least = bounds.get("ge", bounds.get("gt"))
    if "gt" in bounds:
        return f"{value_in_words(value)} is not above {least:g}", f"State a number above {least:g}."
    return f"{value_in_words(value)} is below {least:g}", f"State {least:g} or more."


def _too_much(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    most = bounds.get("le", bounds.get("lt"))
    if value == most:
        return f"{value_in_words(value)} leaves nothing", f"State a fraction below {most:g}."
    if most > MOST_ON_TOP:
        mend = f"State {most:g} or less."
    elif value <= 100 * most:
        mend = f"Write a fraction, not a percentage: {value:g} % is {value / 100:.6g}."
    elif value <= 1000 and most == 1:
        mend = f"Write a fraction: {value:g} parts per thousand is {value / 1000:.6g}."
    else:
        mend = f"Write a fraction, at most {most:g}."
    return f"{value_in_words(value)} is more than {most:g}", mend


def _no_choice(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    known = re.findall(r"'([^']*)'", bounds["expected"])
    if not known:
        return f"{value_in_words(value)} is not known here", f"Write {bounds['expected']}."
    if not isinstance(value, str):
        return f"{value_in_words(value)} stands where a word belongs", f"Write {_alternatives(known)}."
    mend = did_you_mean(value, known)
    return f'"{value}" is not known here', mend if mend.startswith("Did") else f"Write {_alternatives(known)}."


def _alternatives(known: list[str]) -> str:
    quoted = [f'"{word}"' for word in known]
    return " or ".join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def _neither(value: Any, choices: list[ErrorDetails]) -> tuple[str, str]:
    """For a key that takes a number or one word."""
    words = [
        word for details in choices for word in re.findall(r"'([^']*)'", details.get("ctx", {}).get("expected", ""))
    ]
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        number = next(details for details in choices if details["type"] != "literal_error")
        return _TOLD[number["type"]](value, number.get("ctx", {}))
    if isinstance(value, str) and not readings(value.rstrip().removesuffix("%")):
        return f'"{value}" is not known here', f"Write a number, or {_alternatives(words)}."
    return _no_number(value, {})


def _not_finite(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    """A number that TOML takes for endless, such as 1E+400, is written by a maker who typed too many noughts."""
    if value != value:
        return f"{value} is no number to count with", "Write a finite number."
    return "this number is too large to count with", "Write a smaller one."


def _empty(value: Any, bounds: Mapping[str, Any]) -> tuple[str, str]:
    return "nothing stands here", "Write at least one, or take the key out."


_TOLD: Mapping[str, Callable[[Any, Mapping[str, Any]], tuple[str, str]]] = MappingProxyType(
    {
        "float_type": _no_number,
        "int_type": _no_whole_number,
        "int_from_float": _no_whole_number,
        "finite_number": _not_finite,
        "bool_type": lambda value, bounds: (
            f"{value_in_words(value)} stands where true or false belongs",
            "Write true or false.",
        ),
        "string_type": _no_text,
        "string_too_short": lambda value, bounds: ("the text is empty", "Write something between the quotes."),
        "string_too_long": lambda value, bounds: (
            f"the text has {len(value)} letters, more than {bounds['max_length']}",
            "Write a shorter one.",
        ),
        "dict_type": lambda value, bounds: (
            f"{value_in_words(value)} stands where a table belongs",
            "Write { key = value }.",
        ),
        "model_type": lambda value, bounds: (
            f"{value_in_words(value)} stands where a table belongs",
            "Write { key = value }.",
        ),
        "tuple_type": lambda value, bounds: (
            f"{value_in_words(value)} stands where a list belongs",
            "Put it in brackets: [ … ].",
        ),
        "too_short": _empty,
        "greater_than": _too_little,
        "greater_than_equal": _too_little,
        "less_than": _too_much,
        "less_than_equal": _too_much,
        "literal_error": _no_choice,
        "date_type": lambda value, bounds: (
            f"{value_in_words(value)} stands where a day belongs",
            "Write it as 2026-11-20.",
        ),
    }
)
