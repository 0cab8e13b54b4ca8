"""Questions on the terminal, one after the other: Enter is "I don't know", and a slip is told and asked again."""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from pricing.errors import UsageFault
from pricing.starting.answers import Answers, Asking, Slip, answered, of_an_evening, understood
from pricing.starting.in_words import library_for, taken, usual
from pricing.starting.library import Library
from pricing.starting.questions import Question

#: The library by the answers given so far.
LibraryOf = Callable[[Mapping[str, Any]], Library]


def can_ask() -> bool:
    """Whether somebody sits before it."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def ask(
    known: Mapping[str, Any], asking: Asking = of_an_evening, library_of: LibraryOf = library_for
) -> dict[str, Any]:
    """What was answered, by the keys of the questions; what is `known` already is not asked.

    `library_of` gives the library, in whose money the usual range is told, by what was answered so far.

    Raises UsageFault where the answers end before the questions.
    """
    said, typed, part = dict(known), dict(known), ""
    tried = set(known)
    while True:
        library = library_of(said)
        now = next((each for each in asking(said) if each.key not in tried), None)
        if now is None:
            return typed
        if now.part != part:
            part = now.part
            _tell("", part, "-" * len(part))
        _put(now, library)
        tried.add(now.key)
        found = _answer(now)
        if found is not None:
            said[now.key] = typed[now.key] = found


def asked_through(
    known: Mapping[str, Any], asking: Asking = of_an_evening, library_of: LibraryOf = library_for
) -> Answers:
    """What is answered to all of these questions."""
    _tell("Enter or ? means: I don't know. A guess is taken then, and says so. Ctrl-C leaves, and nothing is written.")
    return answered(_as_typed(ask(known, asking, library_of)), asking)


def _as_typed(said: Mapping[str, Any]) -> dict[str, Any]:
    """Answers in a form in which they are understood once more."""
    return {key: f"{value.good} of {value.of}" if hasattr(value, "of") else value for key, value in said.items()}


def _put(question: Question, library: Library) -> None:
    range_ = usual(question, library)
    hint = f"usual: {range_}; if you don't know: {taken(question, library)}"
    hint = hint if range_ else hint.partition("; ")[2] if "; " in hint else hint
    unit = f", {question.unit}" if question.unit and not range_ and question.kind != "many" else ""
    _tell("", f"{question.words}{unit}" + ("" if question.words.endswith("?") else "."))
    for number, (_, words) in enumerate(question.choices, start=1):
        _tell(f"  {number:>2}  {words}", indent=6)
    if question.choices:
        several = "numbers with commas" if question.is_list else "a number"
        several += ", or with what it cost: 1 = 1200" if question.is_priced else ""
        hint = f"{several}; {hint}"
    _tell(f"({hint})")


def _answer(question: Question) -> Any:
    while True:
        sys.stderr.write("> ")
        sys.stderr.flush()
        try:
            line = input()
        except EOFError:
            raise UsageFault("The answers ended before the questions, and nothing was written.") from None
        found = understood(question, _named(question, line))
        if not isinstance(found, Slip):
            return found
        _tell(f"{found.problem}. {found.mend}")


def _named(question: Question, line: str) -> str:
    """What was typed, with names in the place of the numbers of choices."""
    if not question.choices:
        return line
    return (
        ", ".join(_one_named(question, each) for each in _parts(line))
        if question.is_list
        else _one_named(question, line)
    )


def _parts(line: str) -> Iterator[str]:
    for part in line.replace(";", ",").split(","):
        words = part.split()
        yield from words if words and all(word.isdigit() for word in words) else (part.strip(),)


def _one_named(question: Question, typed: str) -> str:
    number, equals, price = typed.partition("=")
    bare = number.strip()
    if bare.isdigit() and 1 <= int(bare) <= len(question.choices):
        return f"{question.choices[int(bare) - 1][0]}{equals}{price}"
    return typed.strip()


def _tell(*lines: str, indent: int = 3) -> None:
    width = min(int(os.environ.get("COLUMNS") or 80), 100)
    for line in lines:
        print(textwrap.fill(line, width, subsequent_indent=" " * indent) if line else "", file=sys.stderr)
