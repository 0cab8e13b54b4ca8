"""The common ground of the stated models: one base class, the kinds of figures, and how sense is told.

A model refuses unknown keys, text or a truth value where a number belongs, and what is not finite.
Rules that bind several keys of one table are told by `senses`; what lies between tables of different
files is the business of `pricing.folder.checks.between_files`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date
from functools import lru_cache
from typing import Annotated, Any, NamedTuple, Self, TypeVar, get_type_hints

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    Strict,
    StringConstraints,
    create_model,
    model_validator,
)
from pydantic_core import PydanticCustomError

from pricing.extremes import LARGEST, SMALLEST, beyond

#: The error type under which pydantic carries faults told in the maker's own words.
SENSE = "sense"


class Sense(NamedTuple):
    """Something in one table that does not make sense.

    `key` is the path of the key at fault inside the table (empty for the table as a whole), `problem` one
    sentence without a full stop, `mend` what to do about it.
    """

    key: tuple[str | int, ...]
    problem: str
    mend: str = ""


def refusal(*senses: Sense) -> PydanticCustomError:
    """The error that carries these faults through pydantic; the reading of a folder unpacks it."""
    told = "; ".join(f"{'.'.join(map(str, sense.key))}: {sense.problem}".removeprefix(": ") for sense in senses)
    return PydanticCustomError(SENSE, "{told}", {"told": told, "senses": senses})


class StatedModel(BaseModel):
    """Base of every stated model: frozen, strict, closed to unknown keys, finite numbers only."""

    model_config = ConfigDict(
        strict=True,
        frozen=True,
        extra="forbid",
        allow_inf_nan=False,
        defer_build=True,  # most are checked as parts of others, and never by themselves
    )

    def having(self, stated: Mapping[str, Any], said: Collection[str] | None = None) -> Self:
        """The same with these checked values in place of its own; whether they make sense together is not asked.

        `said` are the keys of them that a maker has stated, all where nothing else is told.
        """
        made = type(self).__new__(type(self))
        put = object.__setattr__  # made as pydantic's own copies are; frozen to everybody else
        put(made, "__dict__", {**self.__dict__, **stated})
        put(made, "__pydantic_fields_set__", self.__pydantic_fields_set__.union(stated if said is None else said))
        put(made, "__pydantic_extra__", None)
        put(made, "__pydantic_private__", None)
        return made

    def senses(self) -> Iterator[Sense]:
        """What in this table does not make sense although every key by itself is right."""
        return iter(())

    def _has_extremes(self) -> bool:
        """Whether there are any; nearly never, so that it is asked first."""
        held = self.__dict__
        for key in self.__pydantic_fields_set__:
            value = held[key]
            kind = type(value)
            if kind is float:
                if not (SMALLEST <= value <= LARGEST or value == 0 or SMALLEST <= -value <= LARGEST):
                    return True
            elif kind is dict:
                if any(map(beyond, value.values())):
                    return True
            elif kind is date and beyond(value):
                return True
        return False

    def _extremes(self) -> Iterator[Sense]:
        """Numbers and days beyond all bounds, in this table and in its plain tables of numbers."""
        held = self.__dict__
        for key in self.model_fields_set:
            value = held[key]
            kind = type(value)
            if kind is dict:
                for name, item in value.items():
                    if problem := beyond(item):
                        yield Sense((key, name), problem, "Look it up again.")
            elif (kind is float or kind is date) and (problem := beyond(value)):
                yield Sense((key,), problem, "Look it up again.")

    @model_validator(mode="after")
    def _make_sense(self) -> Self:
        if self._has_extremes() or next(self.senses(), None) is not None:
            raise refusal(*self._extremes(), *self.senses())
        return self


def own_figures(of: type[StatedModel], keys: Iterable[str], **later: Any) -> Any:
    """The base of a table whose figures take the place of another's: these keys of it, each of which may be left out.

    `later` are the names in its annotations that are not defined yet.
    """
    hints = get_type_hints(of, localns=later, include_extras=True)
    fields: dict[str, Any] = {}
    for key in keys:
        info = of.model_fields[key]
        if info.default_factory is dict:  # where nothing is stated, the table is empty
            fields[key] = (hints[key], Field(default_factory=dict, description=info.description))
        else:
            fields[key] = (hints[key] | None, Field(None, description=info.description))
    return create_model(f"Own{of.__name__}", __base__=StatedModel, __module__=of.__module__, **fields)


Item = TypeVar("Item")


@lru_cache(maxsize=2**14)  # of a name in many places once; what is refused is told each time
def _without_edges(text: str) -> str:
    if text != text.strip() or not text.isprintable():
        raise refusal(Sense((), "it has blanks at its ends or signs that cannot be seen", "Write it without them."))
    return text


def _can_be_seen(text: str) -> str:
    if not all(letter.isprintable() or letter == "\n" for letter in text):
        raise refusal(Sense((), "signs that cannot be seen stand in it", "Write it without them."))
    return text


def _each_once(items: tuple[Item, ...]) -> tuple[Item, ...]:
    for index, item in enumerate(items):
        if item in items[:index]:
            raise refusal(Sense((index,), f'"{item}" is there twice', "Leave one of them out."))
    return items


#: A list in the file, a tuple in the model.
List = Annotated[tuple[Item, ...], Strict(False)]
#: Text on one line, not empty.
Name = Annotated[str, StringConstraints(min_length=1, max_length=120), AfterValidator(_without_edges)]
#: A remark, also on several lines, also empty.
Note = Annotated[str, StringConstraints(max_length=2000), AfterValidator(_can_be_seen)]
#: A list of names, each once and at least one.
Names = Annotated[tuple[Name, ...], Strict(False), Field(min_length=1), AfterValidator(_each_once)]

#: The same, which may be empty.
NamesOrNone = Annotated[tuple[Name, ...], Strict(False), AfterValidator(_each_once)]

#: Any finite number.
Number = Annotated[float, Field()]
#: A number above 0.
Positive = Annotated[float, Field(gt=0)]
#: A number of 0 or more.
NotNegative = Annotated[float, Field(ge=0)]
#: A number of 1 or more.
AtLeastOne = Annotated[float, Field(ge=1)]
#: A fraction from 0 to 1; never a percentage.
Fraction = Annotated[float, Field(ge=0, le=1)]
#: A fraction of which 1 would leave nothing to divide by: losses, shrinkage, discount, margin.
FractionBelowOne = Annotated[float, Field(ge=0, lt=1)]
#: A fraction that must leave something: what comes out good.
FractionAboveZero = Annotated[float, Field(gt=0, le=1)]
#: A fraction that comes on top and may exceed 1, but above this is surely a percentage; `ON_TOP` says what it is.
MOST_ON_TOP = 3
ON_TOP = "a fraction on top"
Surcharge = Annotated[float, Field(ge=0, le=MOST_ON_TOP), ON_TOP]
#: Most that a rounded amount of money is written as; more is a slip, and would overflow further on.
MOST_MONEY = 1e12
#: An amount of money that prices are rounded by, above 0.
Money = Annotated[float, Field(gt=0, le=MOST_MONEY)]
