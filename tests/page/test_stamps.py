"""Stamps of alloys: from their data alone, no two of the sample alike, their letters to be read."""

from __future__ import annotations

from math import isclose

from pricing.costing import asked_for, cost
from pricing.page.stamps import contrast, stamp_of
from pricing.resources import sample_catalog
from tests.page.served import DAY


def test_every_alloy_of_the_sample_has_a_stamp_of_its_own_that_can_be_read():
    alloys = cost(sample_catalog(), asked_for(DAY)).folder.stated.alloys.values()
    stamps = [stamp_of(alloy) for alloy in alloys]
    assert len({(each.shape, each.letters) for each in stamps}) == len(stamps)
    assert min(contrast(each.ink, each.tint) for each in stamps) >= 4.5  # text, WCAG 2.2 AA
    for alloy, stamp in zip(alloys, stamps, strict=True):
        if alloy.mark is None:  # nobody strikes a fineness that is not stated
            assert not any(letter.isdigit() for letter in stamp.letters)


def test_letters_turn_light_on_a_dark_metal():
    alloy = next(iter(cost(sample_catalog(), asked_for(DAY)).folder.stated.alloys.values()))
    dark = stamp_of(alloy.model_copy(update={"tint": "#202428"}))
    assert dark.ink == "#ffffff" and contrast(dark.ink, dark.tint) >= 4.5


def test_contrast_is_that_of_the_guidelines():
    """Black on white is 21 : 1 (WCAG 2.2); #777777 on white 4.48 : 1, the known grey that just fails."""
    assert isclose(contrast("#000000", "#ffffff"), 21)
    assert isclose(contrast("#777777", "#ffffff"), 4.48, abs_tol=0.005)


def test_an_alloy_is_named_with_its_stamp_wherever_prices_are_looked_at(looking):
    """Nine hundred and twenty-five stands before sterling in every view that lists variants."""
    for view in ("/reprice?kind=all", "/break-even"):
        assert "925 Sterling silver" in looking.get(view).words, view


def test_golds_of_one_mark_are_told_apart_by_a_letter():
    """Make-ups as the trade has them, of yellow, rose and white gold of 9, 14 and 18 ct; silver needs no letter."""
    some = next(iter(cost(sample_catalog(), asked_for(DAY)).folder.stated.alloys.values()))
    golds = {
        "375": ({"Ag": 0.10, "Cu": 0.45, "Zn": 0.075}, {"Ag": 0.05, "Cu": 0.575}, {"Ag": 0.625}),
        "585": ({"Ag": 0.04, "Cu": 0.312, "Zn": 0.063}, {"Ag": 0.09, "Cu": 0.325}, {"Pd": 0.13, "Ag": 0.285}),
        "750": ({"Ag": 0.125, "Cu": 0.125}, {"Ag": 0.045, "Cu": 0.205}, {"Pd": 0.13, "Ag": 0.12}),
    }
    for mark, others in golds.items():
        made = ({"composition": {"Au": int(mark) / 1000, **rest}, "mark": mark, "tint": None} for rest in others)
        assert [stamp_of(some.model_copy(update=each)).hue for each in made] == ["Y", "R", "W"], mark
    silver = {"composition": {"Ag": 0.925, "Cu": 0.075}, "mark": "925", "tint": None}
    assert stamp_of(some.model_copy(update=silver)).hue == ""
