"""A question with its options, and an answer: what the command line and the page make words, forms and tables of.

Nothing heavy is imported by this module: the help of the command line reads it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pricing.questions.option import Option

if TYPE_CHECKING:
    from pricing.errors import Fault
    from pricing.questions.subject import Subject
    from pricing.studies.pictures import Drawing


@dataclass(frozen=True)
class Table:
    """A table of texts: the first `left` columns are words, the others figures; `strong` are rows that stand out.

    `title` stands above it; `gap` is how many places a screen leaves between columns.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""
    left: int = 1
    strong: frozenset[int] = frozenset()
    gap: int = 2


@dataclass(frozen=True)
class Stairs:
    """A plot for a screen of text, one place a value; the picture of the answer shows the same."""

    title: str
    values: tuple[float, ...]


@dataclass(frozen=True)
class Answer:
    """What a question comes to.

    `blocks` are told in their order: sentences, tables, plots for a screen; the first says whose figures these are.
    `rows` are flat records of all figures in full, called `rows_named` in a document; `document` is what else a program
    reads; `drawing` the picture, `also` further ones by a word that tells them apart, `notes` and `warnings` what
    deserves a word.
    """

    blocks: tuple[str | Table | Stairs, ...]
    rows: Sequence[Mapping[str, Any]]
    rows_named: str = "rows"
    document: Mapping[str, Any] = field(default_factory=dict)
    drawing: Drawing | None = None
    also: Mapping[str, Drawing] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    warnings: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Question:
    """A question: `name` is its word on the command line, `title` its head on the page, `about` one line of help.

    `answer` takes the folder and what was said, by the names of the options; where `has_picture` the command line can
    write it to a file. `asked_prices` says whether prices may be those that the policies ask, `slow` what is said
    while it takes seconds.
    """

    name: str
    title: str
    about: str
    options: tuple[Option, ...]
    answer: Callable[[Subject, Mapping[str, Any]], Answer]
    has_picture: bool = True
    asked_prices: bool = True
    slow: str = ""
