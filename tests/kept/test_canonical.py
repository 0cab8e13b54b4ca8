"""One document is written in one way only, and read back to the very same values."""

from __future__ import annotations

import hashlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.kept.canonical import canonical, digest

PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text()
DOCUMENTS = st.recursive(PLAIN, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=30)


@given(DOCUMENTS)
def test_it_is_read_back_as_it_was_and_written_again_as_it_stood(document):
    written = canonical(document)
    read = json.loads(written)
    assert read == document
    assert canonical(read) == written


@settings(max_examples=30)
@given(st.dictionaries(st.text(), DOCUMENTS, min_size=2))
def test_the_order_of_keys_changes_nothing(document):
    assert canonical(dict(reversed(document.items()))) == canonical(document)


def test_what_holds_plain_values_only_stands_on_one_line():
    assert canonical({"b": [1, 2.0], "a": {"y": None, "x": [[], {}]}}) == (
        b'{\n "a": {\n  "x": [\n   [],\n   {}\n  ],\n  "y": null\n },\n "b": [1, 2.0]\n}\n'
    )


def test_the_hash_is_that_of_the_bytes():
    assert digest(["£"]) == hashlib.sha256('["£"]\n'.encode()).hexdigest()


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_what_json_does_not_know_is_refused(number):
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical({"price": number})
