"""Tags: laid out on the stated sheet, their codes read back from the printed page."""

from __future__ import annotations

import re

import pytest
import zxingcpp

from pricing.errors import UsageFault
from pricing.lists.catalogue import code_of, sold_rows
from pricing.lists.cut_sheets import PAPERS, cutting, paper_size
from pricing.lists.tags import LEAST, SIZES, TagsAsked, tags
from pricing.studies.prices_out import prices_out
from tests.lists.fernhollow import IN_EURO, british, changed_folder, costing_of, everything, habit_in
from tests.lists.pdfs import page_images, page_sizes_mm, page_texts

A4 = PAPERS["A4"]


def made(costing, kind="swing", cut=None, channel="shop", **asked):
    cut = cut or cutting(A4, SIZES[kind], 8, 3)
    return tags(prices_out(costing), TagsAsked(kind, channel, *everything(costing), **asked), cut, british(costing))


def read_codes(content: bytes) -> list[list[str]]:
    return [[found.text for found in zxingcpp.read_barcodes(image)] for image in page_images(content)]


@pytest.mark.parametrize("kind", ["swing", "ring"])
def test_the_codes_on_paper_say_sku_and_alloy(sample, kind):
    expected = [code_of(sample, row) for row in sold_rows(sample, "shop", *everything(sample))]
    read = [code for page in read_codes(made(sample, kind).laid_out(".pdf")) for code in page]
    assert sorted(read) == sorted(expected)


@pytest.mark.parametrize("kind", ["swing", "ring"])
def test_the_smallest_tags_can_still_be_read(sample, kind):
    sheet = tags(
        prices_out(sample),
        TagsAsked(kind, "shop", ("acorn-knob-large",), ("silicon-bronze",)),
        cutting(A4, LEAST[kind], 8, 3),
        british(sample),
    )
    assert read_codes(sheet.laid_out(".pdf")) == [["acorn-knob-large:silicon-bronze"]]


def test_every_tag_has_its_price_and_mark(sample):
    text = " ".join(page_texts(made(sample).laid_out(".pdf")))
    column = [channel.name for channel in sample.computed.resolved.channels].index("shop")
    for row in sold_rows(sample, "shop", *everything(sample)):
        assert f"£{sample.computed['price'][row, column]:,.2f}" in text
    for alloy in ("Sterling silver 925", "9 ct yellow gold 375", "14 ct yellow gold 585"):
        assert alloy in text


def test_the_euro_and_diacritics(tmp_path):
    root = changed_folder(tmp_path, {**IN_EURO, "products/thimble.toml": {"Bramble thimble": "Brombær på fingerbøl"}})
    costing = costing_of(root)
    asked, cut = TagsAsked("swing", "shop", ("thimble",), ("yellow-brass",)), cutting(A4, SIZES["swing"], 8, 3)
    (text,) = page_texts(tags(prices_out(costing), asked, cut, habit_in(costing, "de_DE")).laid_out(".pdf"))
    assert "Brombær på fingerbøl" in text and "28,50 €" in text


def test_as_many_as_fit(sample):
    """A4, 8 mm around, 3 mm between: 4 of 40 mm across (4·40 + 3·3 = 169 of 194), 4 of 62 mm down (257 of 281)."""
    cut = cutting(A4, SIZES["swing"], 8, 3)
    assert (cut.across, cut.down) == (4, 4)
    assert len(sold_rows(sample, "shop", *everything(sample))) == 38
    # The shop sells 38 variants: two copies and 7 places left free are 83 places on ⌈83/16⌉ = 6 sheets.
    pages = page_texts(made(sample, copies=2, skip=7).laid_out(".pdf"))
    assert [text.count("£") for text in pages] == [16 - 7, 16, 16, 16, 16, 3]


def test_nothing_is_lost_to_rounding_where_it_just_fits():
    assert (cutting((210, 297), (70, 29.7), 0, 0).across, cutting((210, 297), (70, 29.7), 0, 0).down) == (3, 10)


def test_sheets():
    assert paper_size("letter") == (215.9, 279.4)
    assert paper_size("105 x 148.5") == paper_size("105×148.5") == (105.0, 148.5)
    with pytest.raises(UsageFault, match='no sheet "A44". Did you mean "A4".* Or state it in mm'):
        paper_size("A44")


def test_the_page_is_the_sheet(sample):
    sheet = made(sample, cut=cutting((105, 148), SIZES["swing"], 5, 3))
    assert set(page_sizes_mm(sheet.laid_out(".pdf"))) == {(105, 148)}


@pytest.mark.parametrize(
    ("page", "size", "said"),
    [
        (A4, (300, 80), "300 × 80 mm does not fit on a sheet of 210 × 297 mm with a margin of 8 mm"),
        (A4, (0, 80), "above 0 mm"),
        ((20, 20), (40, 60), "does not fit"),
    ],
)
def test_what_does_not_fit_is_refused(page, size, said):
    with pytest.raises(UsageFault, match=re.escape(said)):
        cutting(page, size, 8, 3)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"copies": 0}, "copies are 1 or more"),
        ({"skip": -1}, "places to skip 0 or more"),
        ({"copies": 10_000}, "at most 20,000"),
        ({"cut": cutting(A4, (20, 20), 8, 3)}, "a swing tag is at least 28 × 42 mm"),
    ],
)
def test_senseless_tags_are_refused(sample, asked, said):
    with pytest.raises(UsageFault, match=re.escape(said)):
        made(sample, **asked)
