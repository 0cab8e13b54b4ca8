"""The drawer and the log on the page: weighed in, a batch written down, both shown; slips are asked about."""

from __future__ import annotations

import re
from html import unescape

import pytest

from pricing.batches.read import read_log
from pricing.drawer.on_hand import on_hand
from pricing.drawer.read import read_every_entry
from pricing.page.views.log import _field

BOUGHT = {"what": "bought", "alloy": "sterling", "form": "", "grams": "600", "money": "560", "currency": "",
          "day": "2026-11-19", "note": "grain"}  # fmt: skip
CARD = {"day": "2026-11-20", "alloy": "sterling", "fresh_g": "520", "returned_g": "", "back_g": "102.3",
        "castings_g": "383", "rejected_g": "25.4", "lemel_g": "", "pieces-0-sku": "acorn-knob",
        "pieces-0-started": "16", "pieces-0-rejected": "pour=1; fit=1", "minutes": "pour=12; fit=60", "note": "",
        "stock": "yes"}  # fmt: skip


def test_a_makers_day(served):
    assert "Nothing lies in the drawer" in served.get("/drawer").words
    assert "No batch is written down yet" in served.get("/log").words
    assert served.post("/drawer", BOUGHT).headers["location"] == "/drawer"
    shown = served.get("/drawer")
    assert "There are 600.00 g of fresh Sterling silver now" in shown.words and "0.9333" in shown.words  # 560 / 600
    added = served.post("/log", CARD)
    assert added.headers["location"] == "/log?batch=1", added.words
    shown = served.get("/log?batch=1").words
    assert "1 Acorn drawer knob 16 14" in shown and "Sterling silver: 9.30 g" in shown and "acorn-knob 16" not in shown
    assert "Its metal was taken from the drawer" in shown and "1 at fit, 1 at pour" in shown
    assert "9.30 g of 520.00 g are missing" in shown  # 520 - 102.3 - 383 - 25.4
    assert (on_hand(served.root)["sterling"].fresh_g, len(read_log(served.root))) == (80.0, 1)
    taken = served.post("/drawer", BOUGHT | {"what": "used", "grams": "81", "money": "", "day": "2026-11-20"})
    assert taken.status == 422 and "81.00 g of fresh sterling are taken where" in taken.words
    counted = {"what": "counted", "grams": "79.5", "money": "", "day": "2026-11-20"}
    assert served.post("/drawer", BOUGHT | counted).status == 303
    assert "−0.50" in served.get("/drawer").words
    lines = served.get("/log").text
    assert '<td role="cell" class="num none" data-head="time"></td>' in lines  # metal takes no time: no head without it
    metal = re.search(r"1 Sterling silver ([\d.]+) ([+−][\d.]+) ([+−][\d.]+) ([+−][\d.]+) ([\d.]+)", shown)
    assert float(metal[5]) == pytest.approx((520 - 102.3 - 25.4) * 560 / 600, abs=0.005)
    parts = sum(float(each.replace("−", "-")) for each in metal.groups()[:4])
    assert parts == pytest.approx(float(metal[5]), abs=0.021)  # four figures, each rounded to a penny
    again = served.get("/log?correct=1")
    assert "Correct batch 1" in again.words and again.value_of("pieces-0-rejected") == "fit=1; pour=1"
    fields = {name: again.value_of(name) for name in CARD if name not in ("alloy", "pieces-0-sku")}
    fields |= {"alloy": "sterling", "pieces-0-sku": "acorn-knob", "corrects": again.value_of("corrects")}
    assert served.post("/log", fields | {"back_g": "105.3"}).headers["location"] == "/log?batch=2"
    assert [batch.corrects for batch in read_log(served.root)] == [1]
    assert read_log(served.root)[0].minutes == {"pour": 12.0, "fit": 60.0}
    assert served.get("/drawer?correct=1").value_of("money") == "560"
    assert served.post("/log/strike", {"number": "2"}).status == 303
    assert "its metal lies in the drawer again" in served.get("/log").words and read_log(served.root) == ()
    assert served.post("/drawer/strike", {"number": "3"}).status == 303
    assert read_every_entry(served.root)[-1].corrects == 3
    assert "there is no entry 99" in served.post("/drawer/strike", {"number": "99"}).words


@pytest.mark.parametrize(
    ("address", "typed", "words"),
    [
        ("/drawer", {"grams": "3,5"}, 'the text "3,5" stands where a number belongs. Write 3.5.'),
        ("/drawer", {"money": ""}, "what was paid is missing"),
        ("/drawer", {"alloy": "<b>tin</b>"}, 'no alloy "<b>tin</b>"'),
        ("/log", {"back_g": ""}, "back_g is missing"),
        ("/log", {"castings_g": "83"}, "309.30 g of the 520.00 g of the charge are missing"),
        ("/log", {"pieces-0-rejected": "por=1; fit=1"}, 'acorn-knob has no step "por". Did you mean "pour"?'),
        ("/log", {"pieces-0-started": "x"}, 'the text "x" stands where a number belongs'),
        ("/log", {"pieces-0-rejected": "pour=19"}, "good and rejected add up to 19"),
        ("/log", {"minutes": "sing=3"}, 'no product of this batch has a step "sing"'),
        ("/log", {"day": "2026-12-24"}, "2026-12-24 has not come yet"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_written(looking, address, typed, words):
    answer = looking.post(address, (BOUGHT if address == "/drawer" else CARD) | typed)
    assert answer.status == 422 and words in answer.words, answer.words
    assert not (looking.root / "log").exists() and not (looking.root / "stock").exists()
    for name, value in typed.items():  # what was typed stands there still
        assert not value or re.search(rf'name="{name}"', answer.text)


@pytest.mark.parametrize(
    ("key", "field"),
    [("flasks[0].back_g", "back_g"), ("flasks[0].pieces[2].rejected.fit", "pieces-2-rejected"),
     ("minutes.sing", "minutes"),
     ("flasks[0].pieces[1].good", "pieces-1-started"), ("flasks[0]", "fresh_g"), ("day", "day")],
)  # fmt: skip
def test_a_fault_stands_beside_its_field(key, field):
    assert _field(key) == field


def test_a_pour_that_was_planned_leads_to_its_card(looking):
    planned = looking.get("/pour?wants=acorn-knob%3Asterling%3D5").text
    (address, *_) = re.findall(r'href="(/log\?[^"]*)"', planned)
    card = looking.get(unescape(address).partition("#")[0])
    made = int(card.value_of("pieces-0-started"))
    charge = sum(float(card.value_of(name)) for name in ("fresh_g", "returned_g"))
    assert made >= 10 and charge > made * 20  # a knob is some 24 g of silver, and there are sprues
    assert '<option value="acorn-knob" selected>' in card.text and 'value="yes" checked' not in card.text
