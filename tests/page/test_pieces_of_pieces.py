"""A folder of pieces of pieces, sizes, platings, tiers and channels abroad on the page: stated, kept, costed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from shutil import copytree
from urllib.parse import quote

import pytest

from pricing.costing import asked_for, cost
from pricing.folder.read import read_folder
from tests.folders import alder_wharf
from tests.page.fields import fields_of, with_values
from tests.page.served import DAY, Served
from tests.page.test_design import figures
from tests.page.test_edit import addresses, form_of

ALDER_WHARF = alder_wharf()
FILES = ["workshop.toml", "alloys.toml", "processes.toml", "channels.toml",
         *sorted(f"products/{each.name}" for each in (ALDER_WHARF / "products").iterdir())]  # fmt: skip
SKUS = [each.stem for each in sorted((ALDER_WHARF / "products").iterdir())]


@pytest.fixture
def wharf(tmp_path) -> Iterator[Served]:
    """Its page; the folder may be written to."""
    with Served(Path(copytree(ALDER_WHARF, tmp_path / "wharf"))) as page:
        yield page


@pytest.fixture(scope="module")
def looked_at(tmp_path_factory) -> Iterator[Served]:
    """Its page, only looked at."""
    with Served(Path(copytree(ALDER_WHARF, tmp_path_factory.mktemp("looking") / "wharf"))) as page:
        yield page


def test_forms_of_every_file_saved_untouched_change_not_a_byte(wharf):
    for file in FILES:
        before = (wharf.root / file).read_bytes()
        for address in addresses(wharf, file):
            action, items = form_of(wharf, address)
            answer = wharf.post(action, items)
            assert answer.status == 303, (address, answer.words[-400:])
            assert (wharf.root / file).read_bytes() == before, address


def test_designs_saved_untouched_change_not_a_byte(wharf):
    for sku in SKUS:
        file = wharf.root / "products" / f"{sku}.toml"
        before = file.read_bytes()
        items = fields_of(wharf.get(f"/design?sku={sku}").text, "design")
        answer = wharf.post(f"/design/save?sku={sku}", items)
        assert answer.status == 303, (sku, answer.words[-400:])
        assert file.read_bytes() == before, sku


def test_another_figure_changed_keeps_every_part_chain_stone_and_effort(wharf):
    for sku, name, old, new in [
        ("fern-pendant", "sprue_ratio", "sprue_ratio = 0.7", "sprue_ratio = 0.75"),
        ("fern-pendant", "findings-2-price", "price = 2.60", "price = 2.80"),
        ("anchor-leaf", "findings-0-spoil", "spoil = 0.01", "spoil = 0.02"),
        ("harbour-knocker", "castings-2-effort", "effort = 0.15", "effort = 0.2"),
        ("reed-ring", "sizes-band_mm", "band_mm = 1.8", "band_mm = 2.1"),
        ("reed-ring", "sizes-list", '"P", "Z+1"]', '"P", "Z+2"]'),
    ]:
        file = wharf.root / "products" / f"{sku}.toml"
        before = file.read_text()
        items = fields_of(wharf.get(f"/design?sku={sku}").text, "design")
        typed = {name: new.split("= ")[-1]} if "list" not in name else {
            name: "J, L½, N, P, Z+2", "sizes-sales": "L½ = 3, N = 3, P = 2, Z+2 = 0.5"}  # fmt: skip
        items = [(key, typed.get(key, value)) for key, value in items]
        answer = wharf.post(f"/design/save?sku={sku}", items)
        assert answer.status == 303, (sku, name, answer.words[-600:])
        after = file.read_text()
        if "list" in name:
            assert '"Z+1"' not in after and 'master = "M"' in after
            after = after.replace('"Z+2" = 0.5', '"Z+1" = 0.5')
        assert after == before.replace(old, new), (sku, name)


def test_a_piece_of_your_own_is_joined_and_costed_as_a_part(wharf):
    """The charm gets a bail of the maker's own: what it costs more is what the bail costs as a part, and 2 % spoilt."""
    items = fields_of(wharf.get("/design?sku=anchor-charm").text, "design")
    answer = wharf.post("/design/form?add=parts&sku=anchor-charm", items)
    items = with_values(fields_of(answer.text, "design"), findings_0_product="fern-bail", findings_0_spoil="0.02")
    before = cost(wharf.root, asked_for(DAY)).computed["unit_cost"][0]
    assert wharf.post("/design/save?sku=anchor-charm", items).status == 303
    costing = cost(wharf.root, asked_for(DAY))
    piece = next(place for place, each in enumerate(costing.computed.resolved.all_variants) if each.of and
                 each.sku == "fern-bail" and each.of.startswith("anchor-charm"))  # fmt: skip
    bail = costing.computed.values["unit_cost"][piece]
    assert costing.computed["unit_cost"][0] == pytest.approx(before + 1.02 * bail, rel=1e-12)
    stated = read_folder(wharf.root).stated.products["anchor-charm"].findings[0]
    assert (stated.product, stated.alloy, stated.spoil) == ("fern-bail", None, 0.02)


def test_sizes_are_stated_and_taken_out(wharf):
    items = fields_of(wharf.get("/design?sku=anchor-charm").text, "design")
    values = {"sizes-lengths": "short = 20, long = 30", "sizes-master": "short", "sizes-sales": "long = 2",
              "sizes-band_share": "0.5"}  # fmt: skip
    items = [(key, values.get(key, value)) for key, value in items]
    answer = wharf.post("/design/save?sku=anchor-charm", items)
    assert answer.status == 303, answer.words
    sizes = read_folder(wharf.root).stated.products["anchor-charm"].sizes
    assert (sizes.lengths, sizes.master, sizes.sales, sizes.band_share) == (
        {"short": 20, "long": 30}, "short", {"long": 2}, 0.5)  # fmt: skip
    items = fields_of(wharf.get("/design?sku=anchor-charm").text, "design")
    items = [(key, "" if key.startswith("sizes-") else value) for key, value in items]
    assert wharf.post("/design/save?sku=anchor-charm", items).status == 303
    assert read_folder(wharf.root).stated.products["anchor-charm"].sizes is None


def test_sold_nowhere_is_ticked_nowhere_and_stays_so(wharf):
    items = fields_of(wharf.get("/design?sku=fern-bail").text, "design")
    assert [name for name, _ in items if name == "sold_in"] == []
    items = fields_of(wharf.get("/design?sku=anchor-charm").text, "design")
    unticked = [item for item in items if item[0] != "sold_in"]
    assert wharf.post("/design/save?sku=anchor-charm", unticked).status == 303
    assert read_folder(wharf.root).stated.products["anchor-charm"].sold_in == ()


def test_every_design_costs_in_its_view_what_the_engine_says(looked_at):
    costing = cost(looked_at.root, asked_for(DAY))
    for sku in SKUS:
        rows = [place for place, each in enumerate(costing.computed.resolved.variants) if each.product == sku]
        expected = [pytest.approx(costing.computed["unit_cost"][row], abs=0.0051) for row in rows]
        assert figures(looked_at.get(f"/design?sku={sku}"), "in all") == expected, sku


def test_a_size_with_a_price_of_its_own_opens_its_product_and_shows_its_work(looked_at):
    page = looked_at.get("/design?sku=wave-band-54")
    assert "products/wave-band.toml" in page.text and "Yellow gold 9 ct, 54" in page.words
    items = fields_of(page.text, "design")
    found = looked_at.post("/design/work?quantity=unit_cost&alloy=gold-9ct&size=54&sku=wave-band", items)
    costing = cost(looked_at.root, asked_for(DAY))
    row = next(row for row, each in enumerate(costing.computed.resolved.variants) if each.sku == "wave-band-54")
    assert f"= {costing.computed['unit_cost'][row]:.2f}" in found.words


def test_a_part_that_is_not_there_is_told_at_its_field(wharf):
    items = fields_of(wharf.get("/design?sku=anchor-leaf").text, "design")
    answer = wharf.post("/design/save?sku=anchor-leaf", with_values(items, findings_0_product="anchor-charn"))
    assert answer.status == 422 and 'id="trouble-findings-0-product"' in answer.text
    answer = wharf.post("/design/save?sku=anchor-leaf", with_values(items, findings_0_product="anchor-leaf"))
    assert answer.status == 422 and "anchor-leaf -> anchor-leaf" in answer.words


def test_what_has_no_field_is_told_where_it_is_edited(looked_at):
    words = looked_at.get("/design?sku=harbour-knocker").words
    assert "edited in products/harbour-knocker.toml : steps, in_channel" in words.replace("  ", " ")


def test_a_lever_of_a_step_moves_the_parts_that_have_it(wharf):
    """Half as much is spoilt at pouring in the lever, and in the folder: the same figure, bail and all."""
    items = fields_of(wharf.get("/design?sku=tide-set").text, "design")
    answer = wharf.post("/design/answer?sku=tide-set", with_values(items, **{"good:pour": "0.965"}))
    file = wharf.root / "processes.toml"
    file.write_text(file.read_text().replace("minutes = 14\ngood = 0.93", "minutes = 14\ngood = 0.965"))
    costing = cost(wharf.root, asked_for(DAY))
    row = next(row for row, each in enumerate(costing.computed.resolved.variants) if each.sku == "tide-set")
    assert figures(answer, "in all") == [pytest.approx(costing.computed["unit_cost"][row], abs=0.0051)]


def test_the_form_of_a_channel_says_its_currency_and_its_tiers(wharf):
    address = "/edit/channels.toml?at=" + quote(json.dumps(["channels", "abroad"]))
    added = "".join(f"&add=channels.abroad.{key}" for key in ("refund_loss", "packing_per_set", "deposit"))
    action, items = form_of(wharf, address + added)
    named = dict(items)
    assert named["channels.abroad.currency"] == "USD"
    assert [value for name, value in items if name.endswith("up_to_g")][:2] == ["250", "2000"]
    typed = {"channels.abroad.refund_loss": "0.4", "channels.abroad.packing_per_set": "0.9",
             "channels.abroad.deposit": "0.5"}  # fmt: skip
    assert wharf.post(action, [(name, typed.get(name, value)) for name, value in items]).status == 303
    channel = read_folder(wharf.root).stated.channels["abroad"]
    assert (channel.refund_loss, channel.packing_per_set, channel.deposit) == (0.4, 0.9, 0.5)


def test_an_hour_is_yours_where_there_is_hired_help_and_parts_are_called_by_their_sku(looked_at):
    assert "an hour of yours brings" in looked_at.get("/design?sku=reed-ring").words
    assert "Findings: fern-bail" in looked_at.get("/edit/products/fern-pendant.toml").words
