"""The number that a source's JSON or CSV holds, and its day, as the texts that stand there."""

from __future__ import annotations

import csv
import io
import json
from typing import Any, NamedTuple

from pricing.errors import did_you_mean
from pricing.metal.faults import PullFault
from pricing.model.source import Source, path_parts


class Picked(NamedTuple):
    """A number and a day (None: none is asked for) as they are written."""

    number: str
    day: str | None


class _Number(str):
    """A number of a JSON text, as it is written there."""


def pick(content: bytes, source: Source) -> Picked:
    """What stands at the source's path or column. Raises PullFault where nothing does that could be a number."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PullFault("what it gives is no text in UTF-8", "Choose another source.") from None
    return _from_json(text, source) if source.json_path is not None else _from_csv(text, source)


def _from_json(text: str, source: Source) -> Picked:
    try:
        document = json.loads(text, parse_float=_Number, parse_int=_Number, parse_constant=_Number)
    except (ValueError, RecursionError):
        begun = "".join(letter if letter.isprintable() else " " for letter in text[:30]).strip()
        problem = f"what it gives is no JSON (it begins {begun!r})"
        raise PullFault(problem, "See whether the address is right.") from None
    number = _at(document, source.json_path or "")
    day = None if source.json_day is None else _at(document, source.json_day)
    if not isinstance(number, str):
        problem = f"at {source.json_path} stands {_kind(number)}, and no number"
        raise PullFault(problem, "Correct json_path.")
    if day is not None and not isinstance(day, str):
        raise PullFault(f"at {source.json_day} stands {_kind(day)}, and no day", "Correct json_day.")
    return Picked(str(number), None if day is None else str(day)[:10])


def _at(document: Any, path: str) -> Any:
    here, so_far = document, "the answer"
    for part in path_parts(path) or ():
        if isinstance(here, dict) and isinstance(part, str):
            if part not in here:
                raise PullFault(f'{so_far} has no "{part}"', did_you_mean(part, map(str, here)))
            here = here[part]
        elif isinstance(here, list) and isinstance(part, int):
            if not -len(here) <= part < len(here):
                raise PullFault(f"{so_far} has {len(here)} items, and none at [{part}]", "Places are counted from 0.")
            here = here[part]
        else:
            raise PullFault(f"{so_far} is {_kind(here)}, so that nothing stands at {path} in it", "Correct the path.")
        so_far = f'"{part}"' if isinstance(part, str) else f"[{part}]"
    return here


def _kind(value: Any) -> str:
    if isinstance(value, str):
        return "a number" if isinstance(value, _Number) else "a text"
    words = {dict: "a table", list: "a list", bool: "true or false", type(None): "null"}
    return words.get(type(value), "something else")


def _from_csv(text: str, source: Source) -> Picked:
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    try:
        records = [record for record in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter) if any(record)]
    except csv.Error as error:
        raise PullFault(f"what it gives is no CSV ({error})", "See whether it is the right file.") from None
    if not records:
        raise PullFault("what it gives is empty", "See whether it is the right file.")
    columns = [name.strip() for name in records[0]]
    for name in filter(None, (source.csv_column, source.csv_day, *source.csv_where)):
        if name not in columns:
            raise PullFault(f'no column is called "{name}"', did_you_mean(name, columns))
    lines = [dict(zip(columns, (field.strip() for field in record), strict=False)) for record in records[1:]]
    wanted = [line for line in lines if all(line.get(name) == word for name, word in source.csv_where.items())]
    if not wanted:
        which = " and ".join(f"{name} = {word}" for name, word in source.csv_where.items())
        raise PullFault(f"no line has {which}" if which else "there is no line below the names", "See what it gives.")
    last = wanted[-1]
    day = None if source.csv_day is None else last.get(source.csv_day, "")[:10]
    return Picked(last.get(source.csv_column or "", ""), day)
