"""What a maker decided is what every paper says: publish, silver moves, hold two, raise one, print everything."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from lxml import html

from pricing.editions.chain import read
from pricing.resources import sample_catalog
from tests.cli.test_metal_moves import read_until
from tests.folders import small_sample
from tests.lists.pdfs import page_texts
from tests.waiting import LONG

CHECKOUT = Path(__file__).parents[2]
BEFORE, AFTER = ("--as-of", "2026-11-20"), ("--as-of", "2026-11-21")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return small_sample(tmp_path_factory.mktemp("decided") / "fernhollow", "caddy-spoon")


@pytest.fixture
def decided(folder, troytag):
    """Edition 1 of 20 November; silver a fifth dearer; edition 2 holds the thimble's prices and takes the spoon's."""
    if not (folder / "editions" / "000002.json").exists():
        assert troytag("reprice", folder, *BEFORE, "--publish").code == 0
        metal = ("add", "Ag", "46.08", "--per", "ozt", "--currency", "USD", "--date", "2026-11-21")
        assert troytag("metal", folder, *metal).code == 0
        words = ("--hold", "thimble:sterling", "--hold", "beetle-pin:sterling", "--accept", "caddy-spoon:sterling")
        ran = troytag("reprice", folder, *AFTER, *words, "--publish", "--json")
        assert json.loads(ran.out)["published"] == 2
    return folder


def edition(folder: Path, number: int) -> dict[tuple[str, str, str], float]:
    """The prices as they stand in the file of an edition."""
    return {(row["sku"], row["alloy"], row["channel"]): row["price"] for row in read(folder, number).content["prices"]}


def uploaded(troytag, folder: Path, to: Path, *words) -> dict[tuple[str, str, str], float]:
    assert troytag("export", folder, "csv", *AFTER, "--to", to, "--force", *words).code == 0
    rows = list(csv.DictReader(io.StringIO(to.read_text(encoding="utf-8"))))
    first = next(iter(rows[0])) if rows else ""
    return {tuple(row[first].split(":")): float(row["Price"]) for row in rows}


def test_the_decisions_made_differ_from_what_is_asked(decided, troytag):
    """Else nothing below would be seen."""
    asked = {
        (record["sku"], record["alloy"], channel): prices["price"]
        for record in json.loads(troytag("cost", decided, *AFTER, "--json").out)["variants"]
        for channel, prices in record["prices"].items()
    }
    published = edition(decided, 2)
    assert published.keys() == asked.keys()
    different = {name for name, price in published.items() if price != asked[name]}
    assert ("thimble", "sterling", "shop") in different and len(different) > 5
    assert published["caddy-spoon", "sterling", "shop"] == asked["caddy-spoon", "sterling", "shop"]
    assert published["caddy-spoon", "sterling", "shop"] > edition(decided, 1)["caddy-spoon", "sterling", "shop"]
    assert published["thimble", "sterling", "shop"] == edition(decided, 1)["thimble", "sterling", "shop"]


def test_the_upload_sheet_is_the_edition_to_the_letter(decided, troytag, tmp_path):
    to = tmp_path / "upload.csv"
    assert uploaded(troytag, decided, to) == edition(decided, 2)
    assert uploaded(troytag, decided, to, "--edition", "1") == edition(decided, 1)
    assert uploaded(troytag, decided, to, "--asked") != edition(decided, 2)


def test_a_shop_system_is_fed_what_changed_only(decided, troytag, tmp_path):
    first, second = edition(decided, 1), edition(decided, 2)
    changed = {name: price for name, price in second.items() if first.get(name) != price}
    assert uploaded(troytag, decided, tmp_path / "since.csv", "--changed-since", "1") == changed
    earlier = tmp_path / "earlier.csv"
    uploaded(troytag, decided, earlier, "--edition", "1")
    assert uploaded(troytag, decided, tmp_path / "new.csv", "--changed-since", str(earlier)) == changed
    ran = troytag(
        "export", decided, "csv", *AFTER, "--to", tmp_path / "x.csv", "--changed-since", tmp_path / "none.csv"
    )
    assert ran.code == 2 and "cannot be read" in ran.err


def test_the_list_for_buyers_is_the_edition_to_the_letter(decided, troytag, tmp_path):
    to = tmp_path / "list.html"
    assert troytag("export", decided, "list", "--for", "buyers", *AFTER, "--to", to, "--no-pictures").code == 0
    page = html.document_fromstring(to.read_text(encoding="utf-8"))
    shown = sorted(cell.text for body in page.iter("tbody") for cell in body.xpath(".//td[contains(@class, 'strong')]"))
    assert shown == sorted(f"{price:,.2f}" for name, price in edition(decided, 2).items() if name[2] == "shop")
    said = " ".join(page.text_content().split())
    assert "edition 2" in said and "silver 46.08 USD/ozt of 21 Nov 2026" in said


def test_a_list_of_the_first_edition_stands_on_its_own_metal(decided, troytag, tmp_path):
    to = tmp_path / "list.pdf"
    ran = troytag("export", decided, "list", *AFTER, "--to", to, "--no-pictures", "--edition", "1")
    text = " ".join(" ".join(page_texts(to.read_bytes())).split())
    assert ran.code == 0 and "edition 1" in text and "silver 38.40 USD/ozt of 20 Nov 2026" in text


def test_tags_and_cards_are_the_edition_to_the_letter(decided, troytag, tmp_path):
    published = edition(decided, 2)
    words = ("export", decided, "tags", *AFTER, "--sku", "thimble", "--alloy", "sterling")
    tags, cards = tmp_path / "tags.pdf", tmp_path / "cards.pdf"
    assert troytag(*words, "--to", tags).code == 0
    assert f"£{published['thimble', 'sterling', 'shop']:.2f}" in " ".join(page_texts(tags.read_bytes()))
    assert troytag(*words, "--kind", "card", "--channel", "stall", "--to", cards).code == 0
    text = " ".join(page_texts(cards.read_bytes()))
    assert f"one {published['thimble', 'sterling', 'stall']:.2f}" in text and "edition 2" in text
    ran = troytag(*words, "--kind", "card", "--to", tmp_path / "other.pdf")
    assert ran.code == 2 and "which of shop, marketplace, stall, abroad is the stall?" in ran.err


def test_the_workbook_s_price_list_is_the_edition_to_the_letter(decided, troytag, tmp_path):
    to = tmp_path / "book.xlsx"
    assert troytag("export", decided, "xlsx", *AFTER, "--to", to).code == 0
    sheet = openpyxl.load_workbook(to, data_only=True)["Price list"]
    channels = [cell.value for cell in sheet[5][4:9]]
    shown = sorted(
        (channel, row[4 + place].value)
        for row in sheet.iter_rows(min_row=8)
        if isinstance(row[3].value, float)
        for place, channel in enumerate(channels)
        if isinstance(row[4 + place].value, int | float)
    )
    assert shown == sorted((channel, price) for (_, _, channel), price in edition(decided, 2).items())


def test_what_is_sold_and_not_published_is_named_and_left_out(decided, troytag, tmp_path):
    folder = shutil.copytree(decided, tmp_path / "fernhollow")
    text = (folder / "products" / "thimble.toml").read_text(encoding="utf-8")
    (folder / "products" / "thimble-small.toml").write_text(
        'sku = "thimble-small"\nname = "Bramble thimble, small"\nlike = "thimble"\nscale = 0.9\n', encoding="utf-8"
    )
    assert "thimble" in text
    to = tmp_path / "upload.csv"
    ran = troytag("export", folder, "csv", *AFTER, "--to", to)
    assert "not in edition 2 and left out: thimble-small in" in " ".join(ran.err.split())
    assert "thimble-small" not in to.read_text(encoding="utf-8")
    assert ("thimble-small", "sterling", "shop") in uploaded(troytag, folder, to, "--asked")


def test_cost_shows_both_on_the_screen_in_json_and_in_csv(decided, troytag):
    published = edition(decided, 2)
    for words in (("cost", decided, *AFTER), ("cost", decided, *AFTER, "--edition", "1")):
        document = json.loads(troytag(*words, "--json").out)
        found = {
            (record["sku"], record["alloy"], channel): prices["price_in_force"]
            for record in document["variants"]
            for channel, prices in record["prices"].items()
        }
        assert found == (published if "--edition" not in words else edition(decided, 1))
        rows = csv.DictReader(io.StringIO(troytag(*words, "--csv").out))
        assert {(row["sku"], row["alloy"], row["channel"]): float(row["price_in_force"]) for row in rows} == found
    card = troytag("cost", decided, *AFTER, "--sku", "thimble", "--alloy", "sterling").out
    (line,) = [line.split() for line in card.splitlines() if line.startswith("shop ")]
    assert line[1] == f"{published['thimble', 'sterling', 'shop']:.2f}" and line[1] != line[6]
    assert "Prices in force: edition 2 of 2026-11-21" in card
    asked = troytag("cost", decided, *AFTER, "--sku", "thimble", "--alloy", "sterling", "--asked").out
    assert "in force" not in asked and f"{line[6]}" in asked
    listed = troytag("cost", decided, *AFTER, "--alloy", "sterling", "--channel", "shop").out
    assert f"{line[1]}*" in listed


def test_before_anything_is_published_the_paper_says_so(troytag, tmp_path):
    to = tmp_path / "list.html"
    ran = troytag("export", sample_catalog(), "list", *BEFORE, "--to", to, "--no-pictures")
    assert "not published yet" in to.read_text(encoding="utf-8") and "not published yet" in ran.err
    ran = troytag("export", sample_catalog(), "list", *BEFORE, "--to", to, "--no-pictures", "--force", "--asked")
    assert "not published yet" not in to.read_text(encoding="utf-8") and "published" not in ran.err
    ran = troytag("export", sample_catalog(), "list", "--edition", "1", "--asked")
    assert ran.code == 2 and "say which of the two" in ran.err


def test_a_slip_is_withdrawn_by_an_edition_that_says_so(decided, troytag, tmp_path):
    folder = shutil.copytree(decided, tmp_path / "fernhollow")
    ran = troytag("editions", folder, "withdraw", "--as-of", "2026-11-23")
    assert ran.code == 0
    assert "edition 3 of 2026-11-23, which puts the prices of edition 1 in force again" in " ".join(ran.out.split())
    assert edition(folder, 3) == edition(folder, 1)
    assert sorted(path.name for path in (folder / "editions").glob("*.json")) == [f"00000{n}.json" for n in (1, 2, 3)]
    assert "It puts the prices of edition 1 in force again." in (said := troytag("editions", folder, "show").out)
    assert "Silver (Ag) 46.08 USD per ozt (2026-11-21)" in said
    assert troytag("check", folder).code == 0
    ran = troytag("editions", folder, "withdraw", "--back-to", "3")
    assert ran.code == 2 and "no earlier edition" in ran.err


@pytest.mark.parametrize(("answer", "published"), [("y", True), ("", False)])
def test_publishing_asks_on_a_terminal_with_what_it_would_change(tmp_path, answer, published):
    pty = pytest.importorskip("pty")
    folder = shutil.copytree(sample_catalog(), tmp_path / "fernhollow")
    ours, its = pty.openpty()
    command = [sys.executable, "-m", "pricing.cli.main", "reprice", str(folder), *BEFORE, "--publish"]
    environment = {**os.environ, "PYTHONPATH": str(CHECKOUT), "TERM": "dumb"}
    with subprocess.Popen(command, stdin=its, stdout=its, stderr=its, env=environment) as ran:
        os.close(its)
        try:
            said = read_until(ours, b"[y/N] ").decode()
            os.write(ours, f"{answer}\n".encode())
            said += read_until(ours, b"edition 1 of" if published else b"Nothing is published.").decode()
            ran.wait(LONG)
        finally:
            ran.kill()
    os.close(ours)
    assert "new" in said and "Publish it as a new edition? [y/N]" in said
    assert (folder / "editions" / "000001.json").exists() == published
    assert ("Published: edition 1" in said) == published
