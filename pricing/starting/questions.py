"""The questions of a first evening, which terminal, answers file and page read alike.

THE list of them is `templates/start/questions.toml`: a question is one table there, with its words, its unit, its
guess and its usual range. Here is said which of them are asked, by what was answered before. "I don't know" is always
an answer: the guess is written then, with the range as its doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

from pricing.model.metals import PRECIOUS
from pricing.starting.library import Library

Kind = Literal["text", "currency", "yes", "share", "amount", "number", "of", "one", "many", "mesh"]
#: The list, beside the other data of the library.
FILE = "questions.toml"
#: What a key begins with that asks for the price of a metal.
PRICE = "price-"
#: The part in which one design is asked about; `add` asks it of every other.
PIECE = "One piece to begin with"


@dataclass(frozen=True)
class Question:
    """One question.

    `kind` says what its answer is: text, currency, yes or no, a share, an amount of money, a number above 0, so many
    of so many (`of`), one or many of the `choices` (name and words), a mesh file. `guess` is what an unknown answer
    comes to (None: what `unknown` says), `low` and `high` the usual range; amounts in pounds; more than `most` cannot
    be. `part` is the heading that it stands under; `short` marks those that a first price needs most.
    """

    key: str
    part: str
    words: str
    kind: Kind
    unit: str = ""
    guess: Any = None
    low: float | None = None
    high: float | None = None
    most: float | None = None
    unknown: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    short: bool = False

    @property
    def is_list(self) -> bool:
        return self.kind == "many"

    @property
    def is_quote(self) -> bool:
        """Whether it asks for the price of a metal, which is written into the price history and never 0 there."""
        return self.key.startswith(PRICE)

    @property
    def is_priced(self) -> bool:
        """Whether an amount may be said with each of the many."""
        return self.is_list and bool(self.unit)


def questions(library: Library, said: Mapping[str, Any]) -> tuple[Question, ...]:
    """Every question that the answers given so far leave to be asked, in order, answered ones too."""
    return tuple(_Round(library, said).asked())


def of_a_piece(
    library: Library,
    said: Mapping[str, Any],
    metals: Sequence[tuple[str, str]],
    ways: Sequence[tuple[str, str]],
    by_surface: bool,
) -> tuple[Question, ...]:
    """The questions about one design, made in these metals in one of these ways (names with their words).

    `by_surface` says whether its process has a step that goes by the surface.
    """
    asked = _Round(library, said, tuple(metals), tuple(ways), by_surface).asked()
    return tuple(each for each in asked if each.part == PIECE)


def defaults(library: Library) -> Mapping[str, Any]:
    """What is taken of a workshop that says nothing, by the keys of the questions that have a guess in the list."""
    return {key: _plain(each["guess"]) for key, each in _records(library).items() if "guess" in each}


def models(library: Library) -> Mapping[str, Mapping[str, Any]]:
    """What models are made of: words and density, by name."""
    return dict(library.data(FILE)["models"])


def _records(library: Library) -> dict[str, dict[str, Any]]:
    return {each["key"]: each for each in library.data(FILE)["questions"]}


def _plain(guess: Any) -> Any:
    return tuple(guess) if isinstance(guess, list) else guess


@dataclass(frozen=True)
class _Round:
    """The questions after these answers; `metals` and `ways` are those of a folder that stands already."""

    library: Library
    said: Mapping[str, Any]
    metals: tuple[tuple[str, str], ...] = ()
    ways: tuple[tuple[str, str], ...] = ()
    by_surface: bool = False

    def _taken(self, key: str) -> Any:
        return self.said.get(key) or self._defaults.get(key)

    @cached_property
    def _defaults(self) -> Mapping[str, Any]:
        return defaults(self.library)

    @cached_property
    def _metals(self) -> tuple[tuple[str, str], ...]:
        return self.metals or tuple((name, self.library.alloy(name).name) for name in self._taken("metals"))

    @cached_property
    def _ways(self) -> tuple[tuple[str, str], ...]:
        return self.ways or tuple((name, self.library.title("processes", name)) for name in self._taken("ways"))

    @property
    def _money(self) -> str:
        return str(self._taken("currency"))

    @property
    def _abroad(self) -> str:
        return str(self.said.get("abroad") or ("EUR" if self._money == "USD" else "USD"))

    def _holds(self, when: str) -> bool:
        """Whether a question that is asked only `when` is asked now."""
        said, channels = self.said, self._taken("channels")
        rules: Mapping[str, Callable[[], bool]] = {
            "": lambda: True,
            "taxed": lambda: bool(said.get("tax")),
            "each metal": lambda: not self.metals,
            "precious": lambda: (
                not self.metals
                and any(set(self.library.alloy(name).composition) & set(PRECIOUS) for name in self._taken("metals"))
            ),
            "cast": lambda: (
                not self.metals and any(self.library.process(way).takes == "pour" for way in self._taken("ways"))
            ),
            "machines": lambda: not self.metals and bool(self.library.machines_of(self._taken("ways"))),
            "surface": lambda: self.by_surface and not said.get("piece-file"),
            "abroad": lambda: "abroad" in channels,
            "other money": lambda: "abroad" in channels and self._abroad != self._money,
            "several ways": lambda: len(self._ways) > 1,
            "no mesh": lambda: not said.get("piece-file"),
            "model": lambda: not said.get("piece-file") and bool(said.get("piece-model")),
            "no model": lambda: not said.get("piece-file") and not said.get("piece-model"),
            "several metals": lambda: (
                len(self._metals) > 1 and not said.get("piece-file") and not said.get("piece-model")
            ),
        }
        return rules[when]()

    def asked(self) -> Iterator[Question]:
        for record in _records(self.library).values():
            if not self._holds(record.get("when", "")):
                continue
            if record.get("when") == "each metal":
                yield from self._prices(record)
            else:
                yield self._one(record)

    def _one(self, record: Mapping[str, Any]) -> Question:
        words = {"money": self._money, "abroad": self._abroad}
        fields = {key: value for key, value in record.items() if key not in ("when", "choices", "words", "unit")}
        made = Question(
            **{**fields, "guess": _plain(record.get("guess"))},
            words=record["words"].format_map(words),
            unit=record.get("unit", "").format_map(words),
            choices=self._choices(record.get("choices", "")),
        )
        return self._with_guess(made)

    def _choices(self, kind: str) -> tuple[tuple[str, str], ...]:
        if kind == "ways":
            return self._ways
        if kind == "metals":
            return self._metals
        if kind == "models":
            return tuple((name, each["words"]) for name, each in models(self.library).items())
        if kind == "machines":
            used = self.library.machines_of(self._taken("ways"))
            return tuple(each for each in self.library.choices(kind) if each[0] in used)
        return self.library.choices(kind) if kind else ()

    def _with_guess(self, question: Question) -> Question:
        """With a guess that follows from the other answers."""
        if question.key == "abroad":
            return replace(question, guess="EUR" if self._money == "USD" else "USD")
        if question.key == "rate":
            rough = self.library.level(self._money) / self.library.level(self._abroad)
            low, guess, high = (float(f"{share * rough:.3g}") for share in (0.9, 1.0, 1.1))
            return replace(question, low=low, guess=guess, high=high)
        if question.key in ("machines", "piece-way", "piece-alloy"):
            names = tuple(name for name, _ in question.choices)
            return replace(question, guess=names if question.is_list else names[0])
        return question

    def _prices(self, record: Mapping[str, Any]) -> Iterator[Question]:
        for metal in self.library.priced_by(self._taken("metals")):
            price = self.library.metal_price(metal)
            words = {"money": self._money, "metal": metal, "name": price.name, "per": price.per}
            yield Question(
                record["key"].format_map(words),
                record["part"],
                record["words"].format_map(words),
                record["kind"],
                record["unit"].format_map(words),
                price.guess,
                price.low,
                price.high,
                short=record["short"],
            )
