"""TOML text to a document; what `tomllib` refuses, told in a maker's words."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable

from pricing.errors import Fault, Faults, Place
from pricing.folder.places import Document
from pricing.folder.text import shown, whole_file

_POSITION = re.compile(r"(?P<said>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", re.DOTALL)

_NOT_CLOSED = "the text is not closed"

#: What tomllib says, what it means, and how to mend it; the first that fits counts.
_SENTENCES: tuple[tuple[str, str, str], ...] = (
    (
        r"Cannot mutate immutable namespace",
        "this adds to what is closed already",
        "Write all of it in one place: in the braces, in the brackets, or under headers.",
    ),
    (
        r"Expected '=' after a key",
        "an equals sign is missing after the key",
        'Write key = value, and a key with blanks in quotes: "key with blanks" = 1.',
    ),
    (
        r"Expected ']]?' at the end",
        "the header is not closed",
        'Close it, and write names with blanks in quotes: [a."b c"].',
    ),
    (
        r"Invalid initial character for a key",
        "a key is missing here",
        "Write one, or take out what leads to it.",
    ),
    (
        r"Invalid statement",
        "this is neither a key with a value nor a header",
        'Write key = value, [table], or begin a comment with "#".',
    ),
    (
        r"Unclosed array",
        "the list is not closed, or a comma is missing",
        'Write commas between the items and "]" after them.',
    ),
    (
        r"Unclosed inline table",
        "the braces are not closed, or a comma is missing",
        'Write commas between the keys and "}" after them, all on one line.',
    ),
    (
        r"Unterminated string|Expected ['\"]|(?:Illegal|Found invalid) character '\\n'",
        _NOT_CLOSED,
        "Put the same quotes behind it as before it.",
    ),
    (
        r"Unescaped '\\'|Invalid hex value|Escaped character",
        "a backslash begins a special sign here",
        "Write two backslashes for one, or use a slash in file names.",
    ),
    (r"Illegal character|Found invalid character", "there is a sign here that cannot be seen", "Take it out."),
    (r"Invalid date or datetime", "there is no such day or time", "Write a day of the calendar, as 2026-11-20."),
)
_TWICE = re.compile(r"Cannot overwrite a value|Duplicate inline table key|Cannot declare|Cannot redefine")

#: What stands before and after the place where a value should have ended, and what was meant.
_CUT_VALUES: tuple[tuple[str, str, Callable[[str, str], str]], ...] = (
    (r"=\s*[+-]?(\d+)$", r",(\d+)", lambda before, after: f"Write the number with a point: {before}.{after}."),
    (r"=\s*(\d+(?:\.\d+)?)\s*$", r"(%)", lambda before, after: f"Write a fraction: {float(before) / 100:.6g}."),
    (r"=\s*[+-]?(\d+)$", r"(\.)", lambda before, after: f"Write a digit behind the point: {before}.0."),
    (r"=\s*(\d{4})$", r"(-\d\d?-\d\d?)", lambda before, after: "Write a day of the calendar, as 2026-11-20."),
)
_NO_VALUES: tuple[tuple[str, Callable[[str], str]], ...] = (
    (r"\.(\d+)", lambda found: f"Write a digit before the point: 0.{found}."),
    (r"(?i)(true|false)\b", lambda found: f"Write {found.lower()} in small letters."),
    (r"(?i)(yes|on)\b", lambda found: "Write true."),
    (r"(?i)(no|off)\b", lambda found: "Write false."),
    (r"[£$€]\s*(\d+(?:\.\d+)?)", lambda found: f"Write the number alone: {found}."),
    (r"([^\W\d][\w-]*)", lambda found: f'Text stands in quotes: "{found}".'),
)


def document(file: str, text: str) -> Document:
    """The document in this text; Faults for the place where it is not TOML."""
    try:
        return Document(file, text, tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise Faults([_told(file, text, str(error))]) from None
    except RecursionError:
        raise whole_file(file, "lists or braces stand in each other too deep", "Write it flatter.") from None
    except ValueError:  # more digits than Python turns into a number
        match = re.search(r"[\d_]{1000,}", text)
        place = _place(file, text, match.start() if match else 0)
        raise Faults([Fault(place, "", "this number has too many digits", "Write a shorter one.")]) from None


def _place(file: str, text: str, position: int) -> Place:
    """The place of a position in the text, which may be its end."""
    line = text.count("\n", 0, position)
    column = position - (text.rfind("\n", 0, position) + 1)
    content = text.split("\n")[line].removesuffix("\r")
    return Place(file, line + 1, min(column, len(content)) + 1, shown(content))


def _told(file: str, text: str, message: str) -> Fault:
    match = _POSITION.fullmatch(message)
    said = match["said"] if match else message
    position = len(text)
    if match and match["line"]:
        before = text.split("\n")[: int(match["line"]) - 1]
        position = sum(len(line) + 1 for line in before) + int(match["column"]) - 1
    if _TWICE.match(said):
        return _twice(file, text, _place(file, text, position))
    if said == "Invalid value":
        return _no_value(_place(file, text, position))
    if said.startswith("Expected newline"):
        return _more_than_a_value(_place(file, text, position))
    for pattern, problem, mend in _SENTENCES:
        if re.match(pattern, said):
            return Fault(_place(file, text, _where_to_look(text, position, problem)), "", problem, mend)
    place = _place(file, text, _behind_what_was_read(text, position))
    return Fault(place, "", f"this is not TOML ({said.lower()})", "Compare it with the lines around it.")


def _where_to_look(text: str, position: int, problem: str) -> int:
    """Where a maker would look: at what was opened and never closed, else behind the last thing that was read."""
    if problem == _NOT_CLOSED and position == len(text):
        # nothing closes it, so that its quotes are the last of their kind in the file
        return max(text.rfind('"""'), text.rfind("'''"), text.rfind("'") if "'''" not in text else 0, 0)
    if problem.startswith("a backslash"):
        return text.rfind("\\", 0, position)
    return _behind_what_was_read(text, position) if "not closed" in problem else position


def _behind_what_was_read(text: str, position: int) -> int:
    """The position; the end of the last line with something on it, where only blanks lie between."""
    nothing_yet = not text[:position].rpartition("\n")[2].strip()
    return len(text[:position].rstrip()) if nothing_yet else position


def _no_value(place: Place) -> Fault:
    rest = (place.text or "")[(place.column or 1) - 1 :]
    if not rest.strip() or rest.lstrip().startswith("#"):
        return Fault(place, "", "the value is missing", "Write one after the equals sign, or take the key out.")
    for pattern, mend in _NO_VALUES:
        match = re.match(pattern, rest)
        if match:
            return Fault(place, "", "this is no value", mend(match[1]))
    return Fault(place, "", "this is no value", 'Write a number, true, false, or text in quotes: "…".')


def _more_than_a_value(place: Place) -> Fault:
    content, cut = place.text or "", (place.column or 1) - 1
    for before, after, mend in _CUT_VALUES:
        left, right = re.search(before, content[:cut]), re.match(after, content[cut:])
        if left and right:
            whole = Place(place.file, place.line, left.start(1) + 1, content)
            return Fault(whole, "", "this is no value", mend(left[1], right[1]))
    mend = 'Put it on a line of its own, or begin a comment with "#".'
    return Fault(place, "", "there is more on the line than one value", mend)


def _twice(file: str, text: str, place: Place) -> Fault:
    """A repetition is told where it stands, with the place where the first one stood."""
    repeats = Document(file, text, {}).repeats()
    found = next((repeat for repeat in repeats if repeat[0].line == place.line), None)
    again, other = (found[0], (found[1],)) if found else (place, ())
    if (place.text or "").lstrip().startswith("["):
        mend = "Put all of it under one header; of several alike, each has double brackets: [[a.b]]."
        return Fault(again, "", "the name of this table is taken already", mend, other)
    return Fault(again, "", "this key is there twice", "Keep one of the two.", other)
