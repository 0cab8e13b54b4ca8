"""TOML text to a document; what `tomllib` refuses, told in a maker's words."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable
from typing import Any

from pricing.errors import Fault, Faults, Place
from pricing.folder.toml.number_meant import MINUS_SIGNS, as_fraction, proposed, readings
from pricing.folder.toml.places import Document
from pricing.folder.toml.text import shown, whole_file

_POSITION = re.compile(r"(?P<said>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", re.DOTALL)

#: Most lines of a file: an alloy has some fifteen, a step of a process some ten.
MOST_LINES = 50_000
#: Most commas of a file, and so items of its lists and tables in braces.
MOST_COMMAS = 100_000
#: A key of more parts than tables stand in each other; it begins where a part begins, so that each is looked at once.
_PART = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
_DEEP = re.compile(rf"(?<![A-Za-z0-9_-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{32}}")

#: How many points such a key has at least, all of them on its line.
_POINTS_OF_DEEP = 32
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

#: What stands before a value that TOML ends too soon, and the whole of it up to a comment or the end of the line.
_CUT_VALUE = re.compile(r"=\s*(?P<begun>[^\s=#\"'{\[][^=#\"'{\[]*)$")
_REST_OF_VALUE = re.compile(r"[^#]*")
#: A number with a comma in braces, where TOML takes what follows the comma for the next key.
_CUT_IN_BRACES = re.compile(r"=\s*(?P<number>[+-]?\d[\d.]*,\d[\d.,]*)\s*$", re.ASCII)
#: A number in braces that a sign of per cent follows.
_CUT_PERCENT = re.compile(r"=\s*(?P<number>[+-]?\d+(?:\.\d+)?)\s*$", re.ASCII)
#: Signs that word processors put in place of plain ones.
_CURLY = "“”„‟‘’‚‛«»‹›"
_NO_VALUES: tuple[tuple[str, Callable[[str], str]], ...] = (
    (r"([+-]?\.\d+)", lambda found: f"Write a digit before the point: {found.replace('.', '0.')}."),
    (r"(?i)(true|false)\b", lambda found: f"Write {found.lower()} in small letters."),
    (r"(?i)(yes|on)\b", lambda found: "Write true."),
    (r"(?i)(no|off)\b", lambda found: "Write false."),
    (r"([^\W\d][\w-]*)", lambda found: f'Text stands in quotes: "{found}".'),
)


def document(file: str, text: str, loads: Callable[[str], dict[str, Any]] | None = None) -> Document:
    """The document in this text; Faults for the place where it is not TOML, or is more than a file of a workshop.

    `loads` is `tomllib`'s, or one that comes to the very same.
    """
    if _may_be_deep(text) and (deep := _DEEP.search(text)):
        place = _place(file, text, deep.start())
        raise Faults([Fault(place, "", "this key has too many parts", "Write the name of a key, or a.b of a table.")])
    if (lines := text.count("\n")) > MOST_LINES:
        raise whole_file(file, f"this file has {lines:,} lines", f"A workshop's has at most {MOST_LINES:,}.")
    if (commas := text.count(",")) > MOST_COMMAS:
        raise whole_file(file, f"this file has {commas:,} commas", f"A workshop's has at most {MOST_COMMAS:,}.")
    try:
        return Document(file, text, (loads or tomllib.loads)(text))
    except tomllib.TOMLDecodeError as error:
        raise Faults([_fault_in_words(file, text, str(error))]) from None
    except RecursionError:
        raise whole_file(file, "lists or braces stand in each other too deep", "Write it flatter.") from None
    except ValueError:  # more digits than Python turns into a number
        match = re.search(r"[\d_]{1000,}", text)
        place = _place(file, text, match.start() if match else 0)
        raise Faults([Fault(place, "", "this number has too many digits", "Write a shorter one.")]) from None


def _may_be_deep(text: str) -> bool:
    """Whether any line has as many points as a key with too many parts; soon said of most files."""
    return text.count(".") >= _POINTS_OF_DEEP and any(line.count(".") >= _POINTS_OF_DEEP for line in text.split("\n"))


def _place(file: str, text: str, position: int) -> Place:
    """The place of a position in the text, which may be its end."""
    line = text.count("\n", 0, position)
    column = position - (text.rfind("\n", 0, position) + 1)
    content = text.split("\n")[line].removesuffix("\r")
    return Place(file, line + 1, min(column, len(content)) + 1, shown(content))


def _fault_in_words(file: str, text: str, message: str) -> Fault:
    match = _POSITION.fullmatch(message)
    said = match["said"] if match else message
    position = len(text)
    if match and match["line"]:
        before = text.split("\n")[: int(match["line"]) - 1]
        position = sum(len(line) + 1 for line in before) + int(match["column"]) - 1
    strange = _strange_sign(file, text, position)
    if strange is not None:
        return strange
    if _TWICE.match(said):
        return _twice(file, text, _place(file, text, position))
    if said == "Invalid value":
        return _no_value(_place(file, text, position))
    if said.startswith("Expected newline"):
        return _more_than_a_value(_place(file, text, position))
    if said.startswith("Expected '=' after a key") and (fault := _comma_in_braces(_place(file, text, position))):
        return fault
    if said.startswith("Unclosed inline table") and (fault := _percent_in_braces(_place(file, text, position))):
        return fault
    for pattern, problem, mend in _SENTENCES:
        if re.match(pattern, said):
            return Fault(_place(file, text, _where_to_look(text, position, problem)), "", problem, mend)
    place = _place(file, text, _behind_what_was_read(text, position))
    return Fault(place, "", f"this is not TOML ({said.lower()})", "Compare it with the lines around it.")


def _strange_sign(file: str, text: str, position: int) -> Fault | None:
    """A sign that looks like one of TOML's and is another: what word processors and web pages leave behind."""
    sign = text[position : position + 1]
    place = _place(file, text, position)
    if sign in _CURLY and sign:
        return Fault(place, "", "the quotes here are curly ones", 'Write straight ones: "…".')
    if sign in MINUS_SIGNS and sign:
        return Fault(place, "", "the minus sign here is not the plain one", "Write the one of the keyboard: -.")
    if sign.isspace() and not sign.isascii():
        return Fault(place, "", "the blank here is not a plain one", "Write one with the space bar.")
    if sign and unicodedata.category(sign) == "Cf":
        return Fault(place, "", "there is a sign here that cannot be seen", "Take it out.")
    return None


def _comma_in_braces(place: Place) -> Fault | None:
    content = place.text or ""
    match = _CUT_IN_BRACES.search(content[: (place.column or 1) - 1])
    found = readings(match["number"]) if match else ()
    if match is None or not found:
        return None
    whole = Place(place.file, place.line, match.start("number") + 1, content)
    return Fault(whole, "", "this is no value", _number_mend(match["number"], found))


def _percent_in_braces(place: Place) -> Fault | None:
    """A percentage, at whose sign TOML takes the braces for open."""
    content, at = place.text or "", (place.column or 1) - 1
    match = _CUT_PERCENT.search(content[:at])
    if match is None or not content[at:].lstrip().startswith("%"):
        return None
    whole = Place(place.file, place.line, match.start("number") + 1, content)
    number = match["number"]
    return Fault(whole, "", "this is no value", f"Write {number} % as a fraction: {float(number) / 100:g}.")


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
    alone = _REST_OF_VALUE.match(rest)
    number = (alone[0] if alone else "").strip()
    if unicodedata.category(number[0]) == "Sc" and (found := readings(number)):
        return Fault(place, "", "this is no value", f"Write the number alone: {proposed(found)}.")
    for pattern, mend in _NO_VALUES:
        match = re.match(pattern, rest)
        if match:
            return Fault(place, "", "this is no value", mend(match[1]))
    return Fault(place, "", "this is no value", 'Write a number, true, false, or text in quotes: "…".')


def _more_than_a_value(place: Place) -> Fault:
    content, cut = place.text or "", (place.column or 1) - 1
    begun, rest = _CUT_VALUE.search(content[:cut]), _REST_OF_VALUE.match(content[cut:])
    mend = _cut_mend(f"{begun['begun']}{rest[0] if rest else ''}".strip()) if begun else None
    if begun and mend:
        return Fault(Place(place.file, place.line, begun.start("begun") + 1, content), "", "this is no value", mend)
    mend = 'Put it on a line of its own, or begin a comment with "#".'
    return Fault(place, "", "there is more on the line than one value", mend)


def _cut_mend(value: str) -> str | None:
    """What was meant by a value that TOML would cut in two; None where nobody can say."""
    if value.endswith("%"):
        fraction = as_fraction(value)
        return f"Write a fraction: {fraction}." if fraction else "Write a fraction."
    if re.fullmatch(r"\d{4}-\d\d?-\d\d?", value, re.ASCII):
        return "Write a day of the calendar, as 2026-11-20."
    found = readings(value)
    if not found:
        return None
    if re.fullmatch(r"[+-]?\d+\.", value, re.ASCII):
        return f"Write a digit behind the point: {found[0]}.0."
    return _number_mend(value, found)


def _number_mend(value: str, found: tuple[str, ...]) -> str:
    decimal_comma = re.fullmatch(r"[+-]?\d+,\d+", value, re.ASCII) and len(found) == 1
    return f"Write the number with {'a point' if decimal_comma else 'digits and a point only'}: {proposed(found)}."


def _twice(file: str, text: str, place: Place) -> Fault:
    """A repetition is told where it stands, with the place where the first one stood."""
    repeats = Document(file, text, {}).repeats()
    found = next((repeat for repeat in repeats if repeat[0].line == place.line), None)
    again, other = (found[0], (found[1],)) if found else (place, ())
    if (place.text or "").lstrip().startswith("["):
        mend = "Put all of it under one header; of several alike, each has double brackets: [[a.b]]."
        return Fault(again, "", "the name of this table is taken already", mend, other)
    return Fault(again, "", "this key is there twice", "Keep one of the two.", other)
