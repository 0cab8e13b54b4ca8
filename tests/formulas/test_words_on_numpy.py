"""The words on numpy: each against its plain meaning, number by number, and where they differ, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from pricing.formulas.numpy_words import FEW, NUMPY_WORDS
from pricing.words import WORDS

NUMBERS = (-2.5, -1.0, 0.0, 0.5, 3.0)


@pytest.mark.parametrize("word", ["ceil", "floor", "square", "cube"])
def test_a_word_of_one_number(word):
    found = NUMPY_WORDS[word](np.array(NUMBERS))
    assert found.tolist() == [WORDS[word](number) for number in NUMBERS]


@pytest.mark.parametrize("word", ["minimum", "maximum"])
def test_a_word_of_two_numbers(word):
    pairs = [(one, other) for one in NUMBERS for other in NUMBERS]
    found = NUMPY_WORDS[word](*np.array(pairs).T)
    assert found.tolist() == [WORDS[word](*pair) for pair in pairs]


def test_held():
    triples = [(amount, low, high) for amount in NUMBERS for low in NUMBERS for high in NUMBERS if low <= high]
    found = NUMPY_WORDS["held"](*np.array(triples).T)
    assert found.tolist() == [WORDS["held"](*triple) for triple in triples]


@pytest.mark.parametrize("places", range(1, FEW + 2))
def test_few_places_come_to_the_bit_to_what_the_library_makes_of_them(places):
    drawn = np.random.default_rng(places)
    amounts = drawn.normal(size=(3, 5, places)) * 10.0 ** drawn.integers(-9, 9, size=(3, 5, places))
    for each in (amounts, np.asfortranarray(amounts), np.broadcast_to(amounts[:, :1], amounts.shape), -0.0 * amounts):
        assert NUMPY_WORDS["total"](each).tobytes() == each.sum(axis=-1, keepdims=True).tobytes()
        assert np.array_equal(NUMPY_WORDS["largest"](each), each.max(axis=-1, keepdims=True, initial=0.0))
    counted = NUMPY_WORDS["total"](amounts > 0)
    assert counted.dtype == np.int64 and np.array_equal(counted, (amounts > 0).sum(axis=-1, keepdims=True))
    amounts[1, 2, 0] = np.nan
    assert np.isnan(NUMPY_WORDS["largest"](amounts)[1, 2, 0]) and np.isnan(NUMPY_WORDS["total"](amounts)).sum() == 1


@pytest.mark.parametrize(("word", "of_none"), [("total", 0.0), ("product", 1.0)])
def test_taken_together_along_the_last_axis(word, of_none):
    """Of two rows of three, of no rows, and of rows that hold nothing: one number for all of those."""
    rows = np.array([[1.0, 2.0, 4.0], [3.0, 5.0, 0.5]])
    assert NUMPY_WORDS[word](rows).tolist() == ([[7.0], [8.5]] if word == "total" else [[8.0], [7.5]])
    assert NUMPY_WORDS[word](np.zeros((0, 3))).shape == (0, 1)
    nothing = NUMPY_WORDS[word](np.zeros((2, 0)))
    assert nothing.tolist() == [[of_none]]


@pytest.mark.parametrize("word", ["both", "either"])
def test_a_word_of_two_conditions(word):
    pairs = [(one, other) for one in (True, False) for other in (True, False)]
    assert NUMPY_WORDS[word](*np.array(pairs).T).tolist() == [WORDS[word](*pair) for pair in pairs]


def test_where_and_opposite():
    conditions = np.array([True, False])
    assert NUMPY_WORDS["where"](conditions, 1, 2).tolist() == [1, 2]
    assert NUMPY_WORDS["opposite"](conditions).tolist() == [False, True]


@pytest.mark.parametrize(
    ("part", "whole", "ratio"),
    [
        ([1, 3, -5], [2, 4, -10], [0.5, 0.75, 0.5]),
        ([1, 3, 0], [2, 0, 0], [0.5, np.nan, np.nan]),
        ([1, 3], [0, 0], [np.nan, np.nan]),
        ([1.0], [1e-12], [np.nan]),  # float noise is nothing
        ([1.0], [2e-12], [5e11]),
        ([1.0], [-1e-12], [np.nan]),
        ([1.0, 1.0], [-2e-12, 0], [-5e11, np.nan]),
        ([1.0, 1.0], [1e-12, 2e-12], [np.nan, 5e11]),
        ([6], [2, 0, 3], [3, np.nan, 2]),  # one part of several wholes
        ([6, 4], [2], [3, 2]),
    ],
)
def test_a_ratio_is_undefined_where_there_is_no_whole(part, whole, ratio):
    found = NUMPY_WORDS["ratio"](np.array(part, dtype=float), np.array(whole, dtype=float))
    np.testing.assert_allclose(found, ratio, rtol=1e-15)


@pytest.mark.parametrize("word", ["total", "product", "largest"])
@pytest.mark.parametrize("rows", [[[1.0, 2.0, 4.0], [0.5, 3.0, 0.25]], [[-1.0, -2.0], [-3.0, 5.0]], [[2.0], [0.5]]])
def test_a_word_that_takes_the_last_axis_away_leaves_it_with_one_place(word, rows):
    found = NUMPY_WORDS[word](np.array(rows))
    plain = [[max(0.0, WORDS[word](row)) if word == "largest" else WORDS[word](row)] for row in rows]
    assert found.tolist() == plain  # the greatest is of what is there and of nothing


@pytest.mark.parametrize(("word", "of_none"), [("total", 0), ("product", 1), ("largest", 0)])
def test_of_none(word, of_none):
    found = NUMPY_WORDS[word](np.zeros((2, 0)))
    assert np.broadcast_to(found, (2, 1)).tolist() == [[of_none], [of_none]]  # one place may stand for all


@pytest.mark.parametrize("word", ["downstream", "upstream"])
def test_a_word_that_looks_along_the_last_axis(word):
    rows = [[2.0, 3.0, 5.0, 7.0], [0.5, 0.25, 4.0, 1.0]]
    assert NUMPY_WORDS[word](np.array(rows)).tolist() == [WORDS[word](row) for row in rows]
    deep = np.array([rows, rows[::-1]])
    assert NUMPY_WORDS[word](deep).tolist() == [[WORDS[word](row) for row in table] for table in deep.tolist()]
