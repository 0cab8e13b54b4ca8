"""Forms made from models: what a key comes to, and that a form says what was typed."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

import pytest
from pydantic import Field as Key

from pricing.folder.shapes import shape_of
from pricing.model.base import AtLeastOne, Fraction, Names, StatedModel
from pricing.page.forms.fields import group_of, table_typed


class Peg(StatedModel):
    """A peg."""

    name: str = Key(description="Its name.")
    length: Annotated[float, Key(gt=0)] = Key(1.5, description="How long.")


class Board(StatedModel):
    """A board with pegs."""

    title: str = Key(description="Its title.")
    share: Fraction = Key(0.0, description="A share.")
    wood: Literal["oak", "ash"] | None = Key(None, description="Its wood.")
    painted: bool = Key(False, description="Whether it is painted.")
    uses: float | Literal["all"] | None = Key(None, description="How many uses.")
    marks: Names | None = Key(None, description="Its marks.")
    pegs: tuple[Peg, ...] = Key((), description="Its pegs.")
    by_name: dict[str, Peg] = Key({}, description="Pegs by name.")
    weights: dict[str, float] = Key({}, description="Weights by name.")
    words: dict[str, str] = Key({}, description="Words by name.")
    best: Peg | None = Key(None, description="The best peg.")


@pytest.mark.parametrize(
    ("annotation", "kind", "limits"),
    [
        (float, "number", ""),
        (Fraction, "number", "from 0 to 1"),
        (AtLeastOne | None, "number", "from 1"),
        (bool, "switch", ""),
        (str | None, "text", ""),
        (Literal["a", "b"], "choice", ""),
        (float | Literal["flask"] | None, "either", ""),
        (Names, "names", ""),
        (Peg | None, "table", ""),
        (tuple[Peg, ...], "list", ""),
        (dict[str, Peg], "tables", ""),
        (dict[str, float], "figures", ""),
        (dict[str, tuple[Peg, ...]], "lists", ""),
    ],
)
def test_what_may_stand_under_a_key(annotation, kind, limits):
    shape = shape_of(annotation)
    assert (shape.kind, shape.limits) == (kind, limits)


def test_the_fields_of_a_table():
    group = group_of(Board, {"title": "Long", "marks": ["a", "b"], "pegs": [{"name": "left"}]}, ("board",), "Board")
    fields = {field.key: field for field in group.fields}
    assert fields["title"].name == "board.title" and fields["title"].required and fields["title"].value == "Long"
    assert fields["marks"].value == "a\nb"
    assert fields["share"].limits == "from 0 to 1; 0 if left empty"
    assert fields["wood"].options == ("oak", "ash")
    heads = [inner.head for inner in group.groups]
    assert heads == ["pegs: left", "pegs: a further one", "by_name: a further one", "weights", "words", "best"]


OLD = {"title": "Long", "marks": ["a", "b"], "pegs": [{"name": "left", "length": 2.0}, {"name": "right"}],
       "by_name": {"x y": {"name": "z"}}, "weights": {"Ag": 0.5}, "words": {"unit": "g"},
       "best": {"name": "left"}}  # fmt: skip


def fields(group, found=None) -> dict[str, str]:
    found = {} if found is None else found
    found |= {field.name: field.value for field in group.fields}
    for inner in group.groups:
        fields(inner, found)
    return found


def typed(**changes: str) -> dict:
    form = fields(group_of(Board, OLD, ("board",), "Board"))
    return table_typed(Board, OLD, ("board",), form | changes)


def test_what_was_not_touched_is_the_very_same():
    assert typed() == OLD


@pytest.mark.parametrize(
    ("name", "value", "where", "expected"),
    [
        ("board.title", "Short", ("title",), "Short"),
        ("board.share", "0.50", ("share",), Decimal("0.50")),
        ("board.share", "much", ("share",), "much"),
        ("board.uses", "all", ("uses",), "all"),
        ("board.uses", "3", ("uses",), Decimal("3")),
        ("board.painted", "true", ("painted",), True),
        ("board.marks", "a, or c\r\n\r\n d \r\n", ("marks",), ["a, or c", "d"]),  # a line of an address
        ("board.pegs[0].length", "3", ("pegs", 0, "length"), Decimal("3")),
        ("board.pegs[2].name", "middle", ("pegs", 2), {"name": "middle"}),
        ('board.by_name."x y".name', "w", ("by_name", "x y", "name"), "w"),
        ("board.weights.Ag", "0.75", ("weights", "Ag"), Decimal("0.75")),
        ("board.words.unit", "12", ("words", "unit"), "12"),
        ("board.best.length", "9", ("best", "length"), Decimal("9")),
    ],
)
def test_what_was_typed_is_said(name, value, where, expected):
    found = typed(**{name: value})
    for part in where:
        found = found[part]
    assert found == expected and type(found) is type(expected)


@pytest.mark.parametrize(
    ("changes", "key", "left"),
    [
        ({"board.title": ""}, "title", None),
        ({"board.marks": " "}, "marks", None),
        ({"remove board.pegs[0]": "yes"}, "pegs", [{"name": "right"}]),
        ({'remove board.by_name."x y"': "yes"}, "by_name", {}),
        ({"board.weights.Ag": ""}, "weights", {}),
        ({"remove board.best": "yes"}, "best", None),
        ({"new name of board.weights": "Cu", 'board.weights."+"': "0.5"}, "weights", {"Ag": 0.5, "Cu": Decimal("0.5")}),
        (
            {"new name of board.by_name": "n", 'board.by_name."+".name': "m"},
            "by_name",
            {"x y": {"name": "z"}, "n": {"name": "m"}},
        ),
    ],
)
def test_what_is_taken_out_or_added(changes, key, left):
    assert typed(**changes).get(key) == left
