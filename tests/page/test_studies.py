"""The studies of the page: the terminal's options as a form, its answer as tables, what is off beside its field."""

from __future__ import annotations

import csv
import io
import re
import sys
from urllib.parse import urlencode

import pytest

from pricing.questions.every import QUESTIONS
from tests.page.served import DAY, Answer, Served

LOT = {"ask": "yes", "sku": "thimble", "alloy": "sterling", "channel": "stall", "up_to": "12"}


def asked(looking: Served, name: str, **said) -> Answer:
    return looking.get(f"/studies/{name}?{urlencode(said, doseq=True)}")


def test_every_question_is_listed_and_has_its_form(looking):
    listed = looking.get("/studies")
    for name, question in QUESTIONS.items():
        assert f'href="/studies/{name}"' in listed.text and question.about in listed.words
        form = looking.get(f"/studies/{name}")
        assert form.status == 200 and "The answer" not in form.text
        for option in question.options:
            assert (f'name="{option.name}"' in form.text) is option.on_page, option.name
            assert not option.on_page or option.called in form.words


def test_the_answer_is_the_terminals(looking, troytag):
    said = troytag("study", looking.root, "quantity", "--sku", "thimble", "--alloy", "sterling", "--channel", "stall",
                   "--up-to", "12", "--as-of", DAY).out  # fmt: skip
    answer = asked(looking, "quantity", **LOT)
    assert answer.status == 200
    words = answer.words.replace("\N{MINUS SIGN}", "-")
    for line in [line for line in said.splitlines() if line and line[0].isdigit()]:
        assert " ".join(line.split()) in words, line
    assert "Every lot up to 12 keeps" in words and "What the columns mean" in words


def test_pieces_and_alloys_have_their_names_in_tables(looking):
    """The sample's file calls `thimble` Bramble thimble and `sterling` Sterling silver; a channel has no other name."""
    sale = asked(looking, "sale", ask="yes", off="0.10", sku="thimble")
    cells = re.findall(r"<t[hd] [^>]*>([^<]*)</t[hd]>", sale.text)
    assert sale.status == 200 and "Bramble thimble" in cells and "Sterling silver" in {cell.strip() for cell in cells}
    assert not {"thimble", "sterling"} & {cell.strip() for cell in cells}
    drawn = sale.text[sale.text.index("<svg class=") : sale.text.rindex("</svg>")]
    assert "Least is left of Bramble thimble, " in drawn and "thimble, sterling" not in drawn
    mixed = asked(looking, "mix", ask="yes", hours="20")
    assert re.search(r">[A-Z][^<,]*, [A-Z][^<]*, [a-z]+<", mixed.text)


@pytest.mark.parametrize(
    ("name", "said", "sentence"),
    [
        ("alloy", {"sku": "thimble"}, "Bramble thimble in every alloy."),
        ("alloy", {"sku": "thimble"}, "Silicon bronze costs what Yellow brass does"),
        ("quantity", {**LOT, "up_to": "2"}, "Bramble thimble in Sterling silver, stall: "),
        ("map", {"sku": "thimble", "steps": "2"}, "Bramble thimble in Yellow brass, shop."),
    ],
)
def test_sentences_have_the_names_and_the_terminals_what_is_typed(looking, monkeypatch, name, said, sentence):
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    words = asked(looking, name, **{"ask": "yes", **said}).words
    assert sentence in words and "thimble in" not in words.replace("Bramble thimble in", "")
    assert not re.search(r"\(-\d", words)  # the sign for minus, as print has it


def test_the_picture_needs_no_style_that_the_page_forbids_and_tells_itself(looking):
    text = asked(looking, "quantity", **LOT).text
    drawn = text[text.index("<svg class=") : text.rindex("</svg>")]
    assert 'role="img" aria-labelledby="drawn-0-title drawn-0-desc"' in drawn and '<title id="drawn-0-title">' in drawn
    assert "style=" not in drawn and "<style" not in drawn and 'xlink:href="#drawn-0-' in drawn
    assert "var(--accent)" in drawn and "#0072b2" not in drawn.lower()
    named = re.findall(r'\bid="([^"]+)"', text)
    assert len(named) == len(set(named))


def test_figures_and_picture_as_files(looking):
    link = urlencode({key: value for key, value in LOT.items() if key != "ask"})
    table = looking.get(f"/studies/quantity/table.csv?{link}")
    rows = list(csv.DictReader(io.StringIO(table.text)))
    assert [row["quantity"] for row in rows] == [str(each) for each in range(1, 13)]
    picture = looking.get(f"/studies/quantity/picture.png?{link}")
    assert (
        picture.content.startswith(b"\x89PNG") and "fernhollow-quantity.png" in picture.headers["content-disposition"]
    )


@pytest.mark.parametrize(
    ("name", "said", "field", "sentence"),
    [
        ("quantity", {"sku": "", "up_to": "9"}, "sku", "Piece is not said. The product."),
        ("quantity", {"sku": "thimble", "up_to": "many"}, "up_to", "is no whole number"),
        ("quantity", {"sku": "thimble", "up_to": "0"}, "up_to", "Write a number from 1 to 2000."),
        ("quantity", {"sku": "thimble", "up_to": "900"}, "up_to", "900 takes long: 300 is the most here"),
        ("quantity", {"sku": "thimbel"}, "sku", "Did you mean"),
        ("mix", {"flasks": "medum=3"}, "flasks", "medum"),
        ("mix", {"cash": "-2"}, "cash", "Write 0 or more."),
        ("map", {"sku": "thimble", "across": "labour.benhc.rate=1..2"}, "across", "benhc"),
        ("year", {"months": "30"}, "", "ask for fewer with “Months”"),
    ],
)
def test_a_mistake_keeps_what_was_typed_and_stands_beside_its_field(looking, name, said, field, sentence):
    answer = asked(looking, name, ask="yes", **said)
    assert answer.status == 422 and sentence in answer.words and "Work it out" in answer.words
    for each in filter(None, said.values()):
        assert f'value="{each}"' in answer.text or f">{each}</textarea>" in answer.text
    if field:
        beside = re.search(rf'id="trouble-{field}">([^<]*)<', answer.text)
        assert beside and f'aria-describedby="trouble-{field}"' in answer.text
    else:
        assert 'class="trouble-box" role="alert"' in answer.text


def test_names_of_which_there_are_very_many_are_typed(looking, monkeypatch):
    from pricing.page.views import studies

    assert '<select id="f-sku"' in looking.get("/studies/quantity").text
    monkeypatch.setattr(studies, "MANY", 3)
    assert '<input id="f-sku"' in looking.get("/studies/quantity").text
    assert '<textarea id="f-sku"' in looking.get("/studies/sale").text
    answer = asked(looking, "sale", ask="yes", off="0.2", sku="thimble, beetle-pin", channel="stall")
    assert answer.status == 200 and "beetle-pin" in answer.words and "acorn-knob" not in answer.words


def test_what_is_not_installed_is_told_and_the_rest_shown(looking, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    answer = asked(looking, "quantity", **LOT)
    assert answer.status == 200 and "A plot needs matplotlib, which is not installed." in answer.words
    assert "Every lot up to 12 keeps" in answer.words and '<svg class="drawn' not in answer.text
    monkeypatch.setitem(sys.modules, "scipy.optimize", None)
    answer = asked(looking, "mix", ask="yes")
    assert answer.status == 422 and "needs scipy, which is not installed" in answer.words


def test_a_study_that_there_is_not(looking):
    for path in ("/studies/luck", "/studies/luck/table.csv"):
        answer = looking.get(path)
        assert answer.status == 404 and "There is no such study" in answer.words
