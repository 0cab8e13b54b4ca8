"""What deserves a word: each kind once, and scrap by what is poured together."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from pricing.advice import BelowCost, Decoration, TooManyReturns, advice, advice_in_words
from pricing.shown import Shown

SHOWN = Shown("GBP")


def test_hints_of_one_kind_are_told_once_with_a_count():
    hints = [
        BelowCost(0, "knob", "brass", "trade", 10.0, 3.0),
        BelowCost(1, "pin", "brass", "trade", 10.0, 2.0),
        BelowCost(2, "pin", "brass", "shop", 12.0, 1.0),
        BelowCost(3, "bell", "brass", "trade", 10.0, 0.5),
        Decoration(None, "shop"),
        Decoration(None, "fair"),
    ]
    assert advice_in_words(hints, SHOWN) == [
        "knob in brass: the price in trade, 10.00, is 3.00 short of what it costs, "
        "and so are 2 more in trade, none by so much",
        "pin in brass: the price in shop, 12.00, is 1.00 short of what it costs",
        "in shop and fair the ladder decides every price: what the policy of each asks is decoration",
    ]


def poured(*designs, composition):
    """Figures of designs in one alloy: returns and charge of a set in gram, sets over their lives, alloys."""
    variants, returns, charge = [], [], []
    for place, (back, whole, sets, alloys) in enumerate(designs):
        for number in range(alloys):
            alloy = "metal" if number == 0 else f"other-{number}"
            variants.append(
                SimpleNamespace(sku=f"d{place}", alloy=alloy, takes="cast", expected_sales=sets, sold_places=())
            )
            returns.append(back if number == 0 else 0.0)
            charge.append(whole)
    contents = [SimpleNamespace(element=name, mass_fraction=share) for name, share in composition.items()]
    names = dict.fromkeys(variant.alloy for variant in variants)
    alloys_rows = [SimpleNamespace(name=name, contents=contents) for name in names]
    resolved = SimpleNamespace(variants=variants, channels=(), alloys=alloys_rows)

    class Figures(dict):
        pass

    figures = Figures(
        returns_g=np.array(returns), charge_g=np.array(charge), return_limit=np.full(len(variants), 0.5),
        price=np.zeros((len(variants), 0)), profit=np.zeros((len(variants), 0)), binds=np.zeros((len(variants), 0)),
    )  # fmt: skip
    figures.resolved = resolved
    return figures


BRASS, SILVER = {"Cu": 0.65, "Zn": 0.35}, {"Ag": 0.925, "Cu": 0.075}


def test_what_one_design_has_too_much_of_another_takes():
    """60 of 100 g come back of the one, 20 of the other: of 200 g poured 80 do, 40 %, and half may go in again."""
    assert advice(poured((60, 100, 10, 1), (20, 100, 10, 1), composition=BRASS)) == []


@pytest.mark.parametrize(
    ("sets", "alloys", "share"),
    [
        (10, 1, 0.52),  # (40 · 60 + 10 · 20) / (40 · 100 + 10 · 100) = 2600 / 5000
        (20, 2, 0.52),  # 20 sets shared among two alloys are 10 in this one
    ],
)
def test_designs_count_by_what_is_expected_of_them(sets, alloys, share):
    (hint,) = advice(poured((60, 100, 40, 1), (20, 100, sets, alloys), composition=BRASS))
    assert isinstance(hint, TooManyReturns) and hint.share == pytest.approx(share)


@pytest.mark.parametrize(("composition", "goes"), [(BRASS, "is sold as scrap"), (SILVER, "goes to the refiner")])
def test_where_a_surplus_goes(composition, goes):
    (said,) = advice_in_words(advice(poured((60, 100, 1, 1), composition=composition)), SHOWN)
    assert said == (
        "metal, all its designs together: 60 % of what is poured comes back and only 50 % may go in again; "
        f"what is left over {goes}"
    )
