"""JSON written by columns is what the library writes of the records, to the sign."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from pricing import json_texts
from pricing.record_forms import AsDicts, AsJson, Form, columns_of

NUMBERS = [0.0, -0.0, 1.5, 1e-5, 9.99e-5, 0.0001, -2.5e-7, 1e15, 1e16, -1.5e300, 5e-324, 0.1 + 0.2, math.nan, math.inf]
NAMES = ['a "b" %s', "é\n銀", "\u202e", "", "x", "1e5", "%"]


def told(form: Form, depth: int) -> list:
    """Records with a list and an object in each, made in some form; the second has no size, the third no parts."""
    inner = form.records({"name": form.words(NAMES), "figure": form.figures(np.array(NUMBERS[:7]))}, depth + 2)
    return form.records(
        {
            "sku": form.words(["a", "b%", "c"]),
            **columns_of([{"size": "7"}, {}, {"size": None}], form),
            "parts": form.nested([[{"a": [1, {}]}], [], None], depth + 1),
            "steps": form.lists(inner, [2, 0, 5], depth + 1),
            "prices": form.objects(form.words(NAMES), inner, [0, 6, 1], depth + 1),
        },
        depth,
    )


@pytest.mark.parametrize("depth", [0, 1, 2])
def test_records_by_columns_are_those_of_the_library(depth):
    records = told(AsDicts(), depth)
    assert [list(record) for record in records] == [
        ["sku", "size", "parts", "steps", "prices"], ["sku", "parts", "steps", "prices"],
        ["sku", "size", "steps", "prices"],
    ]  # fmt: skip
    for text, record in zip(told(AsJson(), depth), records, strict=True):
        assert json.loads(text) == record
        assert text == json_texts.value(record, depth)


def test_numbers_are_written_as_python_writes_them():
    finite = NUMBERS[:-2]
    assert json_texts.numbers(np.array(NUMBERS)) == [*map(repr, finite), "null", "null"]
    assert json_texts.numbers(np.zeros(0)) == []


def test_what_is_written_stands_in_its_document():
    written = json_texts.Written(told(AsJson(), 2))
    document = {"ä": {"b": [1e-5]}, "rows": told(AsDicts(), 2), "none": []}
    assert json_texts.document({**document, "rows": written}) == json_texts.document(document)
    assert json_texts.in_ascii(json_texts.document(document)) == json.dumps(document, indent=1)
    assert json_texts.document({"rows": json_texts.Written([])}) == '{\n "rows": []\n}'
