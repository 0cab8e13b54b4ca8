"""A question as people see it: its usual range, what is taken where nobody knows, a file of answers to fill in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pricing.folder.toml.spelling import spelled
from pricing.starting.answers import EVERYTHING, NAME
from pricing.starting.library import Library, Setting, the_library
from pricing.starting.questions import Question, questions


def library_for(said: Mapping[str, Any]) -> Library:
    """The library in the money that was said so far."""
    return Library(Setting(currency=said.get("currency") or Setting().currency))


def usual(question: Question, library: Library) -> str:
    """Within which range the answer usually lies, with its unit; "" where nobody can say."""
    unit = f" {question.unit}" if question.unit else ""
    if question.low is None or question.high is None:
        return ""
    return f"{_figure(question, question.low, library)} to {_figure(question, question.high, library)}{unit}"


def taken(question: Question, library: Library) -> str:
    """What is taken where the answer is not known."""
    if question.unknown:
        return question.unknown
    if isinstance(question.guess, bool):
        return "yes" if question.guess else "no"
    if question.choices and question.guess is not None:
        names = question.guess if isinstance(question.guess, tuple) else (question.guess,)
        return ", ".join(words.partition(":")[0] for name, words in question.choices if name in names)
    if isinstance(question.guess, (int, float)):
        return _figure(question, question.guess, library)
    return str(question.guess)


def _figure(question: Question, value: float, library: Library) -> str:
    return library.amount(value).removesuffix(".00") if question.kind == "amount" else f"{value:.10g}"


def to_fill_in() -> str:
    """A file of answers with every question as a remark: what is left out is not known, and is guessed."""
    library = the_library()
    lines = [
        "# Answers for: troytag start FOLDER --answers this-file",
        "# Take away the mark before a line and put your own answer in. What is left out is guessed, and says so.",
        "",
        "# The workshop's name (if left out, the folder's).",
        f'# {NAME} = "Fernhollow Castings"',
    ]
    part = ""
    asked = {each.key: each for said in EVERYTHING for each in questions(library, said)}
    for each in asked.values():
        if each.part != part:
            part = each.part
            lines += ["", f"# ---- {part}"]
        range_, guess = usual(each, library), taken(each, library)
        lines += ["", f"# {each.words}." if not each.words.endswith("?") else f"# {each.words}"]
        if each.choices:
            lines += [f"#   {name:<20}{words}" for name, words in each.choices]
        lines += [
            f"# Usual: {range_}." if range_ else "# Not known: " + guess + ".",
            f"# {each.key} = {_example(each)}",
        ]
    return "\n".join(lines) + "\n"


def _example(question: Question) -> str:
    examples: Mapping[str, Any] = {
        "of": "40 of 46",
        "mesh": "knob.stl",
        "share": 0.2,
        "yes": True,
        "text": "Acorn knob",
    }
    if question.kind in examples:
        return spelled(examples[question.kind])
    if question.kind == "many" and question.unit:
        return spelled({name: 1000 for name in question.guess[:2]})
    value = question.guess if question.guess is not None else question.low
    if isinstance(value, float) and value == int(value):
        value = int(value)
    return spelled(list(value) if isinstance(value, tuple) else value)
