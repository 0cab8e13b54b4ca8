"""How a product is sold, said where its name does not say it."""

from __future__ import annotations

import pytest

from pricing.model.product import Product, sold_together


@pytest.mark.parametrize(
    ("name", "sold_as", "word"),
    [
        ("Sunset brooch", "set", "set"),
        ("Repaired clasp", "pair", "pair"),
        ("Harbour set", "set", ""),
        ("Set, three spoons", "set", ""),
        ("Leaf studs (pair)", "pair", ""),
        ("Pairs of gull studs", "pair", ""),
        ("Sunset brooch", "each", ""),
        ("Sunset brooch", None, ""),
    ],
)
def test_a_word_of_its_own_says_how_it_is_sold(name, sold_as, word):
    assert sold_together(Product(sku="piece", name=name, sold_as=sold_as)) == word
