"""What was answered: understood one question at a time, or a whole file of answers at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError

from pricing.errors import Fault, Faults, UsageFault, did_you_mean
from pricing.extremes import LARGEST, LOWEST_PRICE
from pricing.folder.refused_values import value_in_words
from pricing.folder.toml.number_meant import as_fraction, proposed, readings
from pricing.model.base import Name
from pricing.model.currency import currencies, currency_meant
from pricing.starting.library import the_library
from pricing.starting.questions import PRICE, Question, defaults, questions

#: What a person types who does not know.
UNKNOWN = ("", "?", "don't know", "i don't know")
#: The key of the workshop's name, which is asked by nobody: it is the folder's unless it is told.
NAME = "name"
#: Beyond these, a number and an amount of money are slips; in some moneys an ounce of gold costs hundreds of millions.
MOST = 1e7
MOST_MONEY = 1e12
#: Letters of an answer that are told again where it cannot be taken.
TOLD = 60
#: From here on nobody counts the zeros.
LONG = 1e15
_NUMBER = re.compile(r"\d+(?:\.\d+)?|\.\d+", re.ASCII)
_OF = re.compile(r"\s*(\d{1,15})\s*(?:of|/)\s*(\d{1,15})\s*", re.ASCII | re.IGNORECASE)


class Slip(NamedTuple):
    """Why an answer cannot be taken, and what to answer instead."""

    problem: str
    mend: str


class Of(NamedTuple):
    """So many good of so many begun."""

    good: int
    of: int

    @property
    def share(self) -> float:
        return self.good / self.of


@dataclass(frozen=True)
class Answers:
    """What is known (`said`, by key), with the questions that were asked; `slips` are those that could not be taken."""

    said: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    asked: tuple[Question, ...] = ()
    slips: Mapping[str, Slip] = field(default_factory=lambda: MappingProxyType({}))

    def __getitem__(self, key: str) -> Any:
        """The answer, or the guess where it is not known; None for what was not asked and has no guess."""
        if self.said.get(key) is not None:
            return self.said[key]
        guess = next((each.guess for each in self.asked if each.key == key), None)
        return guess if guess is not None else defaults(the_library()).get(key)

    def knows(self, key: str) -> bool:
        return self.said.get(key) is not None

    def question(self, key: str) -> Question:
        return next(each for each in self.asked if each.key == key)


#: The questions that the answers given so far leave to be asked.
Asking = Callable[[Mapping[str, Any]], Sequence[Question]]


def of_an_evening(said: Mapping[str, Any]) -> Sequence[Question]:
    """The questions of a new folder."""
    return questions(the_library(), said)


def answered(typed: Mapping[str, Any], asking: Asking = of_an_evening) -> Answers:
    """What was typed, by the keys of the questions, understood; what is not asked after all is left out."""
    said: dict[str, Any] = {}
    slips: dict[str, Slip] = {}
    if typed.get(NAME) is not None:
        name = _text(typed[NAME])
        if isinstance(name, Slip):
            slips[NAME] = name
        else:
            said[NAME] = name
    tried: set[str] = set()
    while True:  # an answer may lead to further questions
        asked = tuple(asking(said))
        now = next((each for each in asked if each.key not in tried), None)
        if now is None:
            return Answers(MappingProxyType(said), asked, MappingProxyType(slips))
        tried.add(now.key)
        found = understood(now, typed.get(now.key))
        if isinstance(found, Slip):
            slips[now.key] = found
        elif found is not None:
            said[now.key] = found


def read_answers(path: Path, also: Mapping[str, Any] = MappingProxyType({}), asking: Asking = of_an_evening) -> Answers:
    """The answers of a TOML file to these questions, `also` in the place of its own.

    Raises UsageFault where it cannot be read, Faults with every slip and its place.
    """
    from pricing.folder.toml.syntax import document
    from pricing.reading import NotRead, read_file

    try:
        text = read_file(path, 2**20).decode()
    except (NotRead, UnicodeDecodeError) as wrong:
        reason = getattr(wrong, "problem", "it is no text")
        raise UsageFault(f"{path} cannot be read ({reason}). Name a file of answers.") from None
    read = document(str(path), text)
    typed = dict(read.values)
    if isinstance(typed.get("piece-file"), str):
        typed["piece-file"] = str(path.parent / typed["piece-file"])
    typed.update(also)
    found = answered(typed, asking)
    keys = [NAME, *(each.key for each in found.asked)]
    faults = [
        Fault(read.place((key,)), key, slip.problem, slip.mend)
        for key, slip in found.slips.items()
    ]  # fmt: skip
    for key in typed:
        if key not in keys:
            problem, mend = _not_asked(key, keys)
            faults.append(Fault(read.place((key,), "key"), key, problem, mend))
    if faults:
        raise Faults(sorted(faults, key=lambda fault: fault.place.line or 0))
    return found


def _not_asked(key: str, keys: Iterable[str]) -> tuple[str, str]:
    known = {each.key for said in EVERYTHING for each in questions(the_library(), said)}
    if key in known or key.startswith(PRICE):
        return "this is not asked of a workshop with these answers", "Leave it out, or look at what the others say."
    return f'there is no question "{key}"', did_you_mean(key, list(dict.fromkeys([*keys, *known])))


#: Answers to which, one or the other, every question follows.
EVERYTHING: tuple[Mapping[str, Any], ...] = tuple(
    MappingProxyType(
        {
            "tax": 0.2,
            "metals": ("yellow-brass", "sterling", "gold-18ct-yellow"),
            "ways": ("printed-and-cast", "sheet-and-wire"),
            "channels": ("shop", "abroad"),
            **more,
        }
    )
    for more in ({}, {"piece-model": 1.0})
)


def understood(question: Question, typed: Any) -> Any:
    """The answer in the form of its kind; None for "I don't know", a Slip for what cannot be taken."""
    if typed is None or isinstance(typed, str) and typed.strip().casefold() in UNKNOWN:
        return None
    kinds: Mapping[str, Callable[[], Any]] = {
        "text": lambda: _text(typed),
        "currency": lambda: _currency(typed),
        "yes": lambda: _yes(typed),
        "share": lambda: _share(typed),
        "amount": lambda: _number(typed, least=None if question.is_quote else 0.0, most=MOST_MONEY),
        "number": lambda: _number(typed, most=question.most or MOST),
        "of": lambda: _of(typed),
        "one": lambda: _one(question, typed),
        "many": lambda: _many(question, typed),
        "mesh": lambda: _mesh(typed),
    }
    return kinds[question.kind]()


def _said(typed: Any) -> str:
    """What was typed, as a sentence names it: no more of it than one reads."""
    is_plain = isinstance(typed, (str, float)) or isinstance(typed, int) and abs(typed) <= LARGEST
    return f'"{_cut(str(typed))}"' if is_plain else value_in_words(typed)


def _cut(text: str) -> str:
    return text if len(text) <= TOLD else f"{text[: TOLD - 1]}…"


def _text(typed: Any) -> str | Slip:
    try:
        return TypeAdapter(Name).validate_python(typed)
    except ValidationError:
        said = repr(_cut(typed)) if isinstance(typed, str) else value_in_words(typed)
        return Slip(f"{said} is no name", "Write 1 to 120 letters on one line, without blanks at its ends.")


def _currency(typed: Any) -> str | Slip:
    if isinstance(typed, str) and typed in currencies():
        return typed
    return Slip(f"{_said(typed)} is no currency", currency_meant(typed if isinstance(typed, str) else ""))


def _yes(typed: Any) -> bool | Slip:
    if isinstance(typed, bool):
        return typed
    known = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
    said = typed.strip().casefold() if isinstance(typed, str) else ""
    return known.get(said, Slip(f"{_said(typed)} is neither yes nor no", 'Write "yes" or "no".'))


def _share(typed: Any) -> float | Slip:
    if isinstance(typed, str) and typed.strip().endswith("%"):
        typed = as_fraction(typed) or typed
    found = _number(typed, least=0.0)
    if isinstance(found, Slip):
        return found
    if found > 1:
        return Slip(f"{found:g} is more than the whole", f'Write {found / 100:g}, or "{found:g} %".')
    return found


def _number(typed: Any, least: float | None = None, most: float = MOST) -> float | Slip:
    if isinstance(typed, str):
        bare = typed.strip()
        meant = readings(bare)
        if not _NUMBER.fullmatch(bare.removeprefix("-")):
            return Slip(
                f"{_said(typed)} is no number", f"Write {proposed(meant)}." if meant else "Write it plain, as 12.50."
            )
        typed = float(bare)
    if isinstance(typed, bool) or not isinstance(typed, (int, float)) or typed != typed:
        return Slip(f"{_said(typed)} is no number", "Write it as 12.50.")
    is_beyond = isinstance(typed, int) and abs(typed) > LARGEST  # maybe more than a float holds
    if is_beyond or 0 < abs(typed) < LOWEST_PRICE:
        return Slip(f"this is {'larger' if is_beyond else 'smaller'} than anything in a workshop", "Look it up again.")
    if typed < 0 or (typed == 0 and least is None):
        return Slip(f"{typed:g} cannot be", "Write a number above 0." if least is None else "Write 0 or more.")
    if typed > most:
        return Slip(f"{_plain(typed)} cannot be", f"Write {_plain(most)} or less.")
    return float(typed)


def _plain(figure: float) -> str:
    """A large figure as a person writes it, as long as it is one."""
    return f"{figure:,.16g}" if abs(figure) < LONG else f"{figure:g}"


def _of(typed: Any) -> Of | Slip:
    found = _OF.fullmatch(typed) if isinstance(typed, str) else None
    if found is None:
        return Slip(f"{_said(typed)} does not say how many of how many", 'Write it as "40 of 46".')
    good, of = int(found[1]), int(found[2])
    if not 0 < good <= of <= MOST:
        return Slip(f"{good} of {of} cannot be", 'Write the good ones first: "40 of 46".')
    return Of(good, of)


def _one(question: Question, typed: Any) -> str | Slip:
    names = [name for name, _ in question.choices]
    if typed in names:
        return str(typed)
    like = _cut(typed) if isinstance(typed, str) else ""
    return Slip(f"there is no {_said(typed)} here", did_you_mean(like, names, most=len(names)))


def _many(question: Question, typed: Any) -> Mapping[str, float | None] | tuple[str, ...] | Slip:
    """Names, in their order; where something may be said of each (a machine's price), by its name."""
    priced = question.is_priced
    if isinstance(typed, str):
        typed = [each.strip() for each in typed.split(",") if each.strip()]
    if isinstance(typed, (list, tuple)) and all(isinstance(each, str) for each in typed):
        pairs = [each.partition("=") if priced else (each, "", "") for each in typed]
        typed = {name.strip(): price.strip() or None for name, _, price in pairs}
    if not isinstance(typed, Mapping) or not (priced or all(each is None for each in typed.values())):
        return Slip("this is no list of names", 'Write it as ["one", "another"].')
    found: dict[str, float | None] = {}
    for name, price in typed.items():
        chosen = _one(question, name)
        if isinstance(chosen, Slip):
            return chosen
        amount = None if price is None or price is True else _number(price, least=0.0, most=MOST_MONEY)
        if isinstance(amount, Slip):
            return Slip(f"{name}: {amount.problem}", amount.mend)
        found[name] = amount
    if priced:
        return MappingProxyType(found)
    return tuple(found) or Slip("nothing is named", did_you_mean("", [name for name, _ in question.choices], most=9))


def _mesh(typed: Any) -> Path | Slip:
    """A mesh that can be costed."""
    from pricing.meshes.measuring import volume_and_area

    if not isinstance(typed, (str, Path)):
        return Slip(f"{_said(typed)} is no file", 'Write its name: "knob.stl".')
    path = Path(typed)
    try:
        volume_and_area(path)
    except Faults as wrong:
        first = wrong.faults[0]
        return Slip(f"{_cut(path.name)}: {first.problem}", first.mend)
    return path
