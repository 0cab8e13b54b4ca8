"""The view of a pour: the same plan that the terminal prints, drawn; what is off is told beside what was typed."""

from __future__ import annotations

import re
from urllib.parse import urlencode

import pytest

from pricing.costing import asked_for, cost
from pricing.pouring.plan import plan
from pricing.pouring.wants import want_of
from tests.page.served import DAY, Served

WANTS = ("thimble:sterling=12", "cloak-clasp:sterling=5")


def test_the_plan_of_what_is_typed_and_counted(looking):
    """12 and 5 typed and counted come to the plan that the planning itself makes of them."""
    made = plan(cost(looking.root, asked_for(DAY)), [want_of(text) for text in WANTS])
    answer = looking.get(
        f"/pour?{urlencode({'wants': WANTS[0], 'n:cloak-clasp:sterling': '5', 'n:thimble:sterling': '0'})}"
    )
    assert answer.status == 200 and "\n".join(WANTS) in answer.text
    names = {"thimble": "Bramble thimble", "cloak-clasp": "Ivy cloak clasp"}  # as their files have them
    for flask in made.flasks:
        assert f"{flask.charge_g:,.2f} g" in answer.words and f"{flask.powder_g:,.0f} g" in answer.words
        for each in flask.holds:
            assert f"{each.castings} {names[each.design.sku]}" in answer.words
    heights = [float(height) for height in re.findall(r'<rect x="8" [^>]*height="([\d.]+)"', answer.text)]
    assert heights[:2] == [40.0, 40.0]  # 12 of 24 and 15 of 30 castings: half of a drawing that is 80 high, each
    assert "bone dry" in answer.words and "Print the cards" in answer.words


def test_the_cards_of_a_plan(looking):
    pytest.importorskip("typst")
    answer = looking.get(f"/pour/cards?{urlencode({'wants': 'thimble:sterling=2', 'sure': 'mean'})}")
    assert answer.status == 200 and answer.content.startswith(b"%PDF-")
    assert "fernhollow-pour-cards.pdf" in answer.headers["content-disposition"]


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"wants": "thimbel:sterling=2"}, 'no product "thimbel". Did you mean "thimble"?'),
        ({"wants": "thimble:sterling=some"}, '"some" is no quantity'),
        ({"wants": "thimble:sterling=5001"}, "more than 200 things or 5,000 pieces at once"),
        ({"wants": "thimble:sterling=2", "sure": "12"}, "is none of the chances: 75, 90, 95, 99"),
    ],
)
def test_what_is_off_is_told_beside_what_was_typed(looking, asked, told):
    for path in ("/pour", "/pour/cards"):
        answer = looking.get(f"{path}?{urlencode(asked)}")
        assert answer.status == 422 and told in answer.words and asked["wants"] in answer.text


def test_an_empty_view_asks_what_is_wanted(looking: Served):
    answer = looking.get("/pour")
    assert answer.status == 200 and "Count them in a list" in answer.words and "The flasks" not in answer.words
    assert looking.get("/pour/cards").status == 422
