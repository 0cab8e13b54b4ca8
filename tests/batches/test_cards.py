"""Cards: from TOML, from a table, from options; what does not fit the folder is told with its place."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.batches.balance import balance_of, missing_in_all
from pricing.batches.cards import BlankFlask, blank_card, card_of_csv, card_of_toml, shared, shares
from pricing.batches.matching import slips
from pricing.batches.model import Batch, Flask, Metal
from pricing.errors import Faults
from pricing.folder.read import read_folder
from pricing.folder.toml.syntax import document
from tests.folder.workshops import MARK, Change, changed, write

CARD = """\
day = 2026-11-21
note = "cold flask"
[[flasks]]
alloy = "sterling"
fresh_g = 110
returned_g = 50.0
back_g = 70.5
castings_g = 78.0
rejected_g = 9.5
pieces = [{ sku = "acorn-knob", started = 18, good = 16, rejected = { pour = 2 }, minutes = { darken = 40 } }]
[[flasks]]
alloy = "yellow-brass"
fresh_g = 400.0
back_g = 150.0
castings_g = 238.0
pieces = [{ sku = "large-knob", started = 10, good = 10 }, { sku = "acorn-knob", started = 1, good = 1 }]
[minutes]
pour = 25
"""
TABLE = """\
flask,day,alloy,fresh_g,returned_g,back_g,castings_g,rejected_g,sku,started,good,rejected,minutes,note
1,2026-11-21,sterling,110,50,70.5,78,9.5,acorn-knob,18,16,pour=2,darken=40,cold flask
2,,yellow-brass,400,,150,238,,large-knob,10,10,,,
2,,,,,,,,acorn-knob,1,1,,,
"""


@pytest.fixture(scope="module")
def stated(tmp_path_factory):
    return read_folder(write(tmp_path_factory.mktemp("small"), changed())).stated


def of_toml(text: str, stated):
    return card_of_toml("card.toml", text.encode(), stated)


def told(read, *arguments) -> list[str]:
    with pytest.raises(Faults) as wrong:
        read(*arguments)
    return [f"{fault.place} {fault.key}: {fault.problem}" for fault in wrong.value.faults]


def test_a_table_says_the_same_as_a_file(stated):
    card = of_toml(CARD, stated)
    assert card == card_of_csv("card.csv", TABLE.encode(), stated).model_copy(update={"minutes": {"pour": 25.0}})
    assert (card.day, len(card.flasks), card.flasks[0].pieces[0].rejected) == (date(2026, 11, 21), 2, {"pour": 2})


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ('alloy = "sterling"', 'alloy = ▶"sterlin"', 'flasks[0].alloy: no alloy "sterlin"'),
        ('"large-knob"', '▶"huge-knob"', 'flasks[1].pieces[0].sku: no product "huge-knob"'),
        ("pour = 25", "por = ▶25", 'minutes.por: no product of this batch has a step "por"'),
        ("{ pour = 2", "{ burn = ▶2", 'flasks[0].pieces[0].rejected.burn: acorn-knob has no step "burn"'),
        ("{ pour = 2", '{ "burn out" = ▶2',
         'flasks[0].pieces[0].rejected."burn out": rejects at "burn out", and the steps from "pour" to "assay mark" '
         "are counted"),
        ("minutes = { darken = 40 }", 'up_to = ▶"burn out"',
         'flasks[0].pieces[0].up_to: "burn out" is done before "pour"'),
        ("started = 18", "started = ▶19",
         "flasks[0].pieces[0].started: 19 were started, and good and rejected add up to 18"),
        ("castings_g = 78.0", 'castings_g = ▶"78,0"',
         'flasks[0].castings_g: the text "78,0" stands where a number belongs'),
        ("fresh_g = 400.0", "fresh_g = ▶0.0", "flasks[1].fresh_g: no metal was weighed in"),
        ("[[flasks]]\nalloy = \"yellow-brass\"\nfresh_g = 400.0\nback_g = 150.0",
         "▶[[flasks]]\nalloy = \"yellow-brass\"\nfresh_g = 400.0", "flasks[1]: back_g is missing"),
        ('"acorn-knob", started = 1,', '▶"large-knob", started = 1,',
         'flasks[1].pieces[1].sku: "large-knob" is in this flask twice'),
        ("started = 10, good = 10", 'size = ▶"M", started = 10, good = 10',
         'flasks[1].pieces[0].size: large-knob has no size "M"'),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_told_with_its_place(stated, old, new, problem):
    """`▶` marks where the fault is expected to point; it is no part of the card."""
    marked = CARD.replace(old, new, 1)
    before = marked[: marked.index(MARK)]
    line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
    assert f"card.toml:{line}:{column} {problem}" in told(of_toml, marked.replace(MARK, ""), stated)


def test_of_sizes_that_are_each_priced_the_size_is_asked_for(tmp_path):
    sizes = 'sold_in = ["shop", "trade"]\n[sizes]\nlengths = { S = 160, M = 175 }\nmaster = "M"\neach_priced = true'
    ring = Change("products/acorn-knob.toml", 'sold_in = ["shop", "trade"]', sizes)
    stated = read_folder(write(tmp_path, changed(ring))).stated
    text = CARD.replace('"large-knob"', '"large-knob-S"')
    assert "acorn-knob has sizes that are each priced" in told(of_toml, text, stated)[0]
    sized = text.replace('sku = "acorn-knob"', 'sku = "acorn-knob", size = "M"', 1).replace(
        'sku = "acorn-knob", started = 1', 'sku = "acorn-knob-S", started = 1'
    )
    assert [each.size for flask in of_toml(sized, stated).flasks for each in flask.pieces] == ["M", None, None]


def test_a_mass_with_its_unit_is_read_as_grams(stated):
    """70.5 g and 78 g in pennyweights, of 24 grains of 0.06479891 g."""
    back, cast = (f"{grams / (24 * 0.06479891):.9f} dwt" for grams in (70.5, 78.0))
    text = CARD.replace("back_g = 70.5", f'back_g = "{back}"').replace("castings_g = 78.0", f'castings_g = "{cast}"')
    for card in (
        of_toml(text, stated),
        card_of_csv("card.csv", TABLE.replace("70.5,78,", f"{back},{cast},").encode(), stated),
    ):
        assert (card.flasks[0].back_g, card.flasks[0].castings_g) == pytest.approx((70.5, 78.0), abs=1e-7)
    wrong = told(of_toml, text.replace(back, "70.5 oz"), stated)
    assert any('back_g: the text "70.5 oz" stands where a number belongs' in each for each in wrong)


def test_earlier_rejects_are_taken_where_the_card_says_since(stated):
    since = CARD.replace("rejected = { pour = 2 }", 'since = "burn out", rejected = { "burn out" = 2 }')
    assert of_toml(since, stated).flasks[0].pieces[0].since == "burn out"


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("sku", "skuu", 'card.csv:1 : no column is called "skuu"'),
        (",yellow-brass,", ",yellow-bras,", 'card.csv:3 flasks[1].alloy: no alloy "yellow-bras"'),
        ("2,,,,,,,,acorn-knob", "2,,sterling,,,,,,acorn-knob",
         "card.csv:4 alloy: sterling stands here, and yellow-brass on the first line of this flask"),
        ("pour=2", "pour", 'card.csv flasks[0].pieces[0].rejected.pour: the text "" stands where a number belongs'),
        (TABLE, "", "card.csv : nothing stands in it"),
        (TABLE, "sku\n\"", "card.csv : there is no flask in it"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_table_is_told_with_its_line(stated, old, new, where):
    found = told(card_of_csv, "card.csv", TABLE.replace(old, new, 1).encode(), stated)
    assert any(each.startswith(where.partition(": there")[0]) for each in found), found


def test_shares_are_read_by_step():
    assert shares("pour=2; cut and grind = 1") == {"pour": 2, "cut and grind": 1}
    assert shares("pour=two; fit") == {"pour": "two", "fit": ""}
    assert shares("pour=12.5") == {"pour": 12.5}
    said = {"cut and grind": 12.5, "hallmark, silver": 3}
    assert shares(shared(said | {"fit": 0})) == said


def test_the_blank_card_reads_once_it_is_filled_in(stated):
    blank = blank_card(date(2026, 11, 21), [BlankFlask("sterling", 90.0, 0.0, (("acorn-knob", "", 2, "pour"),))])
    assert any("2 were started, and good and rejected add up to 0" in each for each in told(of_toml, blank, stated))
    filled = blank.replace("castings_g = 0.00", "castings_g = 88").replace("good = 0", "good = 2")
    card = of_toml(filled, stated)
    assert (card.day, card.flasks[0].charge_g, card.minutes) == (date(2026, 11, 21), 90, {"pour": 0})
    odd = BlankFlask('a "b"', 1.0, 2.0, (("x", "L½", 3, 'burn "out"'),))
    assert document("card.toml", blank_card(date(2026, 11, 21), [odd])).values["flasks"][0]["pieces"][0]["size"] == "L½"


# ---- the balance


def flask(**more) -> Flask:
    return Flask(**{"alloy": "sterling", "fresh_g": 110.0, "returned_g": 50.0, "back_g": 70.5, "castings_g": 78.0,
                    "rejected_g": 9.5, **more})  # fmt: skip


def test_what_is_missing_is_told_beside_the_melt_loss_that_was_expected():
    """160 g went in; 78 + 70.5 + 9.5 = 158 came out; 2 are missing, 1.6 = 1 % of 160 were expected: 0.4 beyond."""
    found = balance_of("sterling", [flask()], Metal(buy_price_per_g=1.25, melt_loss=0.01))
    assert found.charge_g == 160 and found.missing_g == pytest.approx(2)
    assert (found.expected_g, found.beyond_g) == (pytest.approx(1.6), pytest.approx(0.4))
    assert (found.missing_money, found.beyond_money) == (pytest.approx(2.5), pytest.approx(0.5))
    assert found.charge_g == pytest.approx(
        found.castings_g + found.back_g + found.rejected_g + found.missing_g, abs=1e-9
    )


def test_normal_and_abnormal_loss_of_a_process():
    """The usual textbook case of process costing (common practice; the figures here are worked out).

    1,000 kg of input, a normal loss of 10 %, 850 kg come out: the normal loss is 100, the abnormal one 50.
    """
    process = flask(fresh_g=1000.0, returned_g=0.0, back_g=0.0, castings_g=850.0, rejected_g=0.0)
    found = balance_of("sterling", [process], Metal(buy_price_per_g=None, melt_loss=0.1))
    assert (found.missing_g, found.expected_g, found.beyond_g) == (150, pytest.approx(100), pytest.approx(50))
    assert found.missing_money is None and found.beyond_money is None


def test_batches_of_one_alloy_add_up_and_one_without_a_price_has_no_sum_of_money():
    metal = {"sterling": Metal(buy_price_per_g=1.25, melt_loss=0.01)}
    kept = {"day": date(2026, 11, 21), "flasks": (flask(),), "recorded": "", "currency": "GBP", "form": 1,
            "previous": None}  # fmt: skip
    one, other = Batch(number=1, metal=metal, **kept), Batch(number=2, metal=metal, **kept)
    (both,) = missing_in_all([one, other])
    assert (both.missing_g, both.beyond_g, both.missing_money) == tuple(map(pytest.approx, (4.0, 0.8, 5.0)))
    (some,) = missing_in_all([one, Batch(number=2, **kept)])
    assert (some.missing_g, some.expected_g, some.missing_money) == (pytest.approx(4.0), None, None)


def test_slips_of_the_scale_are_told(stated):
    card = of_toml(CARD, stated)
    assert list(slips(card, date(2026, 11, 21))) == []
    assert list(slips(card, date(2026, 11, 20))) == ["2026-11-21 has not come yet"]
    more = of_toml(CARD.replace("castings_g = 78.0", "castings_g = 87.0"), stated)
    assert list(slips(more, card.day)) == ["flask 1: 7.00 g more came out than the 160.00 g of the charge"]
    less = of_toml(CARD.replace("castings_g = 238.0", "castings_g = 23.8"), stated)
    assert list(slips(less, card.day)) == ["flask 2: 226.20 g of the 400.00 g of the charge are missing"]
    knob = {("acorn-knob", "sterling"): 5.0, ("large-knob", "yellow-brass"): 21.6, ("acorn-knob", "yellow-brass"): 19.6}
    assert list(slips(card, card.day, knob)) == []  # 87.5 g of 18 at 5 g; 238 g of 10 at 21.6 and 1 at 19.6
    assert list(slips(card, card.day, knob | {("acorn-knob", "sterling"): 24.0})) == [
        "flask 1: 18 castings should weigh 432.00 g, and 87.50 g were weighed"
    ]
