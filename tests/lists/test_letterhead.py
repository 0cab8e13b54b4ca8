"""Who sends a paper: name, lines, how to be reached, and the logo, in HTML and PDF."""

from __future__ import annotations

import re
import shutil

import pytest
from lxml import html

from pricing.costing import asked_for, cost
from pricing.errors import Faults
from pricing.lists.price_list import ListAsked, price_list
from pricing.lists.quotation import quotation
from pricing.lists.quoted import QuoteAsked, quoted
from pricing.resources import sample_catalog
from pricing.studies.prices_out import prices_out
from tests.lists.fernhollow import AS_OF, british, everything
from tests.lists.pdfs import page_texts

CONTACT = """\
[contact]
name = "Fernhollow Castings & Daughters"
lines = ["The Old Forge", "Fernhollow"]
email = "hello@example.org"
telephone = "0113 496 0000"
tax_number = "GB 000 0000 00"
logo = "photos/logo.svg"
"""
#: The sample's own table of it.
STATED = re.compile(r"^\[contact\]\n(?:\w.*\n)+", re.M)
LOGO = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><circle cx="5" cy="5" r="4"/></svg>'


@pytest.fixture
def folder(tmp_path):
    root = shutil.copytree(sample_catalog(), tmp_path / "fernhollow")
    (root / "photos").mkdir(exist_ok=True)
    (root / "photos" / "logo.svg").write_text(LOGO, encoding="utf-8")
    state(root, CONTACT)
    return root


def state(root, contact: str) -> None:
    """Put this in the place of the sample's own contact."""
    path = root / "workshop.toml"
    text, places = STATED.subn(contact, path.read_text(encoding="utf-8"))
    assert places == 1
    path.write_text(text, encoding="utf-8")


def papers(root):
    costing = cost(root, asked_for(AS_OF))
    habit = british(costing)
    yield price_list(prices_out(costing), ListAsked("shops", *everything(costing)), habit, None)
    asked, out = QuoteAsked("thimble", (3,)), prices_out(costing)
    yield quotation(out, asked, quoted(out, asked), habit, None)


def test_list_and_quotation_bear_the_contact_and_the_logo(folder):
    for paper in papers(folder):
        head = html.document_fromstring(paper.laid_out(".html").decode()).find(".//header")
        said = " ".join(head.text_content().split())
        pdf = " ".join(page_texts(paper.laid_out(".pdf"))[0].split())
        for words in ("Castings & Daughters", "The Old Forge", "hello@example.org", "0113 496 0000", "GB 000 0000 00"):
            assert words in said and words in pdf
        assert head.find("img").get("src").startswith("data:image/svg+xml;base64,")


def test_without_a_contact_the_workshop_s_name_stands_alone(tmp_path):
    root = shutil.copytree(sample_catalog(), tmp_path / "fernhollow")
    state(root, "")
    costing = cost(root, asked_for(AS_OF))
    paper = price_list(prices_out(costing), ListAsked("shops", *everything(costing)), british(costing), None)
    head = html.document_fromstring(paper.laid_out(".html").decode()).find(".//header")
    assert head.find("address") is None and head.find("img") is None
    assert head.findtext("p") == "Fernhollow Castings"


@pytest.mark.parametrize(
    ("logo", "said"),
    [
        ("photos/nothing.svg", "there is no file"),
        ("../logo.svg", "leads out of the folder"),
        ("alloys.toml", "no picture"),
    ],
)
def test_a_logo_that_cannot_be_is_told_with_its_place(folder, logo, said):
    path = folder / "workshop.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("photos/logo.svg", logo), encoding="utf-8")
    with pytest.raises(Faults) as found:
        cost(folder, asked_for(AS_OF))
    (fault,) = found.value.faults
    assert said in fault.problem and fault.place.file == "workshop.toml" and "contact.logo" in fault.headline()
