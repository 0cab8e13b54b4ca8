"""Compositions, marks of fineness, melting ranges."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from pricing.model.alloy import Alloy
from pricing.model.metals import ELEMENTS


def alloy(**stated) -> Alloy:
    plain = {"name": "A", "density": 10.0, "priced_by": "content", "melt_loss": 0.01}
    return Alloy.model_validate({**plain, **stated})


@pytest.mark.parametrize(
    ("composition", "mark"),
    [
        ({"Ag": 0.925, "Cu": 0.075}, "925"),
        ({"Au": 0.585, "Ag": 0.2, "Cu": 0.215}, "585"),
        ({"Au": 22 / 24, "Cu": 2 / 24}, "916"),
        ({"Au": 22 / 24, "Cu": 2 / 24}, "917"),  # 0.91667: marks are written in whole parts per thousand
        ({"Au": 9 / 24, "Ag": 0.5, "Cu": 0.125}, "375"),  # the mark is the gold's, though there is more silver
        ({"Au": 0.75, "Pd": 0.15, "Ag": 0.1}, "750"),
        ({"Pt": 0.95, "Ru": 0.05}, "950"),
        ({"Pd": 0.5, "Ag": 0.5}, "500"),
        ({"Au": 0.9999, "Cu": 0.0001}, "999.9"),
        ({"Cu": 0.63, "Zn": 0.37}, "CuZn37"),  # no fineness
        ({"Au": 0.5, "Cu": 0.5}, "14K"),
    ],
)
def test_marks_that_hold(composition, mark):
    assert alloy(composition=composition, mark=mark).mark == mark


@pytest.mark.parametrize(
    ("composition", "mark", "short"),
    [
        ({"Au": 14 / 24, "Cu": 10 / 24}, "585", "Au is 0.583333 of the alloy, short of the 0.585 "),
        ({"Ag": 0.9, "Cu": 0.1}, "925", "Ag is 0.9 of the alloy, short of the 0.925 "),
        ({"Au": 0.35, "Ag": 0.5, "Cu": 0.15}, "375", "Au is 0.35 of the alloy, short of the 0.375 "),
        ({"Pd": 0.48, "Pt": 0.02, "Cu": 0.5}, "500", "Pd is 0.48 of the alloy, short of the 0.5 "),
    ],
)
def test_marks_that_promise_too_much(composition, mark, short):
    with pytest.raises(ValidationError, match=short):
        alloy(composition=composition, mark=mark)


@pytest.mark.parametrize(("copper", "holds"), [(0.073, True), (0.077, True), (0.0729, False), (0.0771, False)])
def test_fractions_sum_to_one_within_two_thousandths(copper, holds):
    """0.925 + 0.073 = 0.998 and 0.925 + 0.077 = 1.002 are the edges."""
    if holds:
        assert alloy(composition={"Ag": 0.925, "Cu": copper})
    else:
        with pytest.raises(ValidationError, match="the fractions sum to"):
            alloy(composition={"Ag": 0.925, "Cu": copper})


def test_every_element_and_no_other():
    """118 elements are named (IUPAC, periodic table of 2022); symbols are one or two letters."""
    assert len(ELEMENTS) == 118
    assert all(symbol[0].isupper() and symbol[1:].islower() or len(symbol) == 1 for symbol in ELEMENTS)


def test_melting_ranges():
    silver = {"Ag": 0.925, "Cu": 0.075}
    assert alloy(composition=silver, solidus_c=802, liquidus_c=899, pour_c=960).pour_c == 960
    assert alloy(composition={"Ag": 1.0}, solidus_c=961.8, liquidus_c=961.8).solidus_c == 961.8  # a pure metal
    with pytest.raises(ValidationError, match="not above the solidus"):
        alloy(composition=silver, solidus_c=802, pour_c=700)


def test_a_quote_and_its_name_go_together():
    brass = {"Cu": 0.63, "Zn": 0.37}
    assert alloy(composition=brass, priced_by="quote", quote="brass-grain").quote == "brass-grain"
    with pytest.raises(ValidationError, match="quote is missing"):
        alloy(composition=brass, priced_by="quote")
    with pytest.raises(ValidationError, match="no effect"):
        alloy(composition=brass, quote="brass-grain")
