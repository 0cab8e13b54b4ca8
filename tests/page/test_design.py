"""A design: from a mesh or a typed volume to costs side by side, levers, work, and a file of the folder."""

from __future__ import annotations

import re
import struct
import time
from itertools import product

import pytest

from pricing.costing import asked_for, cost
from pricing.page.views.design import LEVER_LOOKS
from pricing.resources import sample_catalog
from tests.page.fields import fields_of, with_values
from tests.page.served import DAY, Answer, Served


def box_stl(side: float, holes: int = 0) -> bytes:
    """A cube of this side as a binary STL; the last `holes` of its twelve triangles are missing."""
    corners = [tuple(side * part for part in corner) for corner in product((0, 1), repeat=3)]
    quads = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    faces = [each for a, b, c, d in quads for each in ((a, b, c), (a, c, d))][: 12 - holes]
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *corners[a], *corners[b], *corners[c], 0) for a, b, c in faces)
    return b"a box".ljust(80) + struct.pack("<I", len(faces)) + body


def figures(answer: Answer, word: str) -> list[float]:
    """The figures of one line of the comparison."""
    row = re.search(rf"<th [^>]*>(?:<span[^>]*></span>)?{re.escape(word)}</th>(.*?)</tr>", answer.text, re.S)
    assert row, f"there is no line {word}: {answer.words[:300]}"
    return [float(each.replace(",", "")) for each in re.findall(r">([\d.,]+)</button>", row[1])]


def new_form(page: Served, **values: str) -> list[tuple[str, str]]:
    """The form of a new design with a typed volume and what else a costing needs."""
    items = fields_of(page.get("/design").text, "design")
    needed = {"castings_0_way": "volume", "castings_0_volume_cm3": "2", "castings_0_area_cm2": "12", "name": "Oak leaf",
              "sku": "oak-leaf", "pieces_per_flask": "12", "sprue_ratio": "0.5", "expected_sales": "100"}  # fmt: skip
    items = [item for item in items if item[0] != "alloys"] + [("alloys", "sterling"), ("alloys", "yellow-brass")]
    return with_values(items, **(needed | values))


def test_a_new_design_asks_for_what_it_needs(looking):
    answer = looking.get("/design")
    assert "Still needed before it can be costed" in answer.words
    items = with_values(new_form(looking), sprue_ratio="", process="no-such")  # nobody lends to an unknown process
    answer = looking.post("/design/answer", items)
    assert 'no process "no-such"' in answer.words and 'href="#f-process"' in answer.text


def test_a_typed_volume_weighs_what_its_density_says(looking):
    """2 cm3 of sterling of 10.36 g/cm3 are 20.72 g as cast, of brass of 8.47 g/cm3 16.94 g."""
    answer = looking.post("/design/answer", new_form(looking))
    assert figures(answer, "as cast, g") == [20.72, 16.94]
    assert "\N{MINUS SIGN}3.78" in answer.words  # 16.94 - 20.72


def test_a_weighed_model(looking):
    """2.24 g of a wax of 1.12 g/cm3 are 2 cm3."""
    items = new_form(looking, castings_0_way="model", castings_0_model_g="2.24", castings_0_model_density="1.12")
    assert figures(looking.post("/design/answer", items), "as cast, g") == [20.72, 16.94]


@pytest.mark.parametrize(("text", "sentence"), [("heavy", "number"), ("-1", "-1"), ("0", "0"), ("1e999", "number")])
def test_what_is_no_volume_is_told_at_its_field(looking, text, sentence):
    answer = looking.post("/design/answer", new_form(looking, castings_0_volume_cm3=text))
    assert answer.status == 200
    assert 'href="#f-castings-0-volume_cm3"' in answer.text and sentence in answer.words


def test_a_dropped_mesh_is_measured_turned_and_costed(looking):
    """A cube of 20 mm is 8 cm3 with a surface of 24 cm2."""
    told = looking.post_file("/design/mesh?place=0", "Oak Leaf.stl", box_stl(20))
    assert "Sound: one body, closed on all sides." in told.words
    assert "8.000 cm³" in told.words and "24.00 cm²" in told.words and "20.0 mm × 20.0 mm × 20.0 mm" in told.words
    upload = told.value_of("castings-0-upload")
    corners = looking.get(f"/design/mesh/triangles?upload={upload}").content
    values = struct.unpack(f"<{len(corners) // 4}f", corners)
    assert len(values) == 12 * 9 and {abs(value) for value in values} == {1.0}  # about the middle, within ±1
    items = new_form(looking, castings_0_way="mesh")
    answer = looking.post(
        "/design/answer", [item for item in items if item[0] != "castings-0-upload"] + [("castings-0-upload", upload)]
    )
    assert figures(answer, "as cast, g") == [82.88, 67.76]  # 8 × 10.36, 8 × 8.47


def test_a_mesh_that_says_no_unit_may_have_been_drawn_in_inches(looking):
    """A cube of 1 is 1 mm a side; in inches 16.387064 cm3 and 38.7096 cm2 (1 in = 2.54 cm)."""
    told = looking.post_file("/design/mesh?place=0", "one.stl", box_stl(1)).text
    assert 'data-volume="16.3871" data-area="38.7096"' in told


def test_a_mesh_too_small_to_cast_may_have_been_drawn_in_metres(looking):
    """A cube of 0.02: 0.02 mm a side, or 2 cm in metres, which are 8 cm3 and 6 × 4 = 24 cm2. One of 20 mm is none."""
    told = looking.post_file("/design/mesh?place=0", "small.stl", box_stl(0.02)).text
    assert 'data-volume="8" data-area="24">It was drawn in metres<' in told
    assert "metres" not in looking.post_file("/design/mesh?place=0", "box.stl", box_stl(20)).text


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("box.stl", box_stl(20, holes=1), "It cannot be priced as it is:"),
        ("box.stl", b"nothing", "It cannot be measured:"),
        ("box.exe", box_stl(20), "is no mesh that is read here"),
        ("box.stl", b"", "It cannot be measured:"),
    ],
)
def test_an_unsound_mesh_is_told(looking, name, content, sentence):
    assert sentence in looking.post_file("/design/mesh?place=0", name, content).words


@pytest.mark.parametrize(
    ("field", "value", "word"),
    [("expected_sales", "110", "labour"), ("pieces_per_flask", "9", "materials"), ("sprue_ratio", "0.9", "metal"),
     ("castings_0_count", "4", "metal"), ("findings_0_price", "0.5", "findings"), ("flask", "tall", "materials")],
)  # fmt: skip
def test_every_field_counts_at_once(looking, field, value, word):
    items = fields_of(looking.get("/design?sku=acorn-knob").text, "design")
    before = looking.post("/design/answer?sku=acorn-knob", items)
    after = looking.post("/design/answer?sku=acorn-knob", with_values(items, **{field: value}))
    assert figures(after, word) != figures(before, word)


def test_levers_move_what_they_say(looking):
    """Steady work, sterling: metal cost follows silver, labour the hour; each line by its own engine's figures."""
    page = looking.get("/design?sku=acorn-knob")
    items = fields_of(page.text, "design")
    before = looking.post("/design/answer?sku=acorn-knob", items)
    doubled = looking.post("/design/answer?sku=acorn-knob", with_values(items, hour_bench="36", hour_apprentice="26.4"))
    for word in ("labour",):
        for one, two in zip(figures(before, word), figures(doubled, word), strict=True):
            assert two == pytest.approx(2 * one, abs=0.011)  # both are shown to 0.01
    assert figures(before, "metal") == figures(doubled, "metal")
    assert "What if: hour, bench 36.00, hour, apprentice 26.40." in doubled.words


def test_levers_agree_with_a_folder_that_says_so(served):
    """Moving a lever is the same as typing that price, wage or run into the folder and costing it."""
    items = fields_of(served.get("/design?sku=acorn-knob").text, "design")
    moved = served.post("/design/answer?sku=acorn-knob", with_values(items, metal_Ag="50", hour_bench="20", run="8"))
    prices = served.root / "metal_prices.csv"
    prices.write_text(prices.read_text() + "2026-11-20,Ag,50,ozt,USD,typed\n")
    workshop = served.root / "workshop.toml"
    workshop.write_text(workshop.read_text().replace("rate = 18.00", "rate = 20.00"))
    costing = cost(served.root, asked_for(DAY, run=30))  # the ninth place of the lever
    variants = costing.computed.resolved.variants
    rows = [place for place, each in enumerate(variants) if each.sku == "acorn-knob"]
    assert figures(moved, "in all") == [pytest.approx(costing.computed["unit_cost"][row], abs=0.0051) for row in rows]


def test_a_lever_out_of_reach_stays_where_it_was(looking):
    items = fields_of(looking.get("/design?sku=acorn-knob").text, "design")
    before = looking.post("/design/answer?sku=acorn-knob", items)
    for value in ("nan", "inf", "-5", "1e9", "", "much"):
        assert looking.post("/design/answer?sku=acorn-knob", with_values(items, metal_Ag=value)).text == before.text


def test_the_work_of_a_figure_is_that_figure(looking):
    items = fields_of(looking.get("/design?sku=acorn-knob").text, "design")
    shown = figures(looking.post("/design/answer?sku=acorn-knob", items), "in all")[2]
    answer = looking.post("/design/work?sku=acorn-knob&quantity=unit_cost&alloy=sterling", items)
    result = float(re.search(r"= ([\d.]+) GBP", answer.words)[1])
    assert result == pytest.approx(shown, abs=0.0051)
    assert "unit_cost = metal_cost + labour_cost" in answer.words
    price = looking.post("/design/work?sku=acorn-knob&quantity=margin&alloy=sterling&channel=shop", items)
    assert "margin = ratio(profit, net_sales)" in price.words


@pytest.mark.parametrize(
    "asked", ["quantity=evil&alloy=sterling", "quantity=margin&alloy=sterling&channel=evil", "quantity=margin", ""]
)
def test_work_of_nothing_is_nothing(looking, asked):
    items = fields_of(looking.get("/design?sku=acorn-knob").text, "design")
    assert looking.post(f"/design/work?sku=acorn-knob&{asked}", items).text == ""


def test_a_design_is_saved_with_its_mesh(served):
    upload = served.post_file("/design/mesh?place=0", "../Oak Leaf.stl", box_stl(20)).value_of("castings-0-upload")
    items = [item for item in new_form(served, castings_0_way="mesh") if item[0] != "castings-0-upload"]
    answer = served.post("/design/save", [*items, ("castings-0-upload", upload)])
    assert (answer.status, answer.headers["location"]) == (303, "/design?sku=oak-leaf")
    assert (served.root / "meshes" / "oak-leaf.stl").read_bytes() == box_stl(20)
    text = (served.root / "products" / "oak-leaf.toml").read_text()
    assert 'mesh = "meshes/oak-leaf.stl"' in text and "sprue_ratio = 0.5" in text
    assert "Saved in products/oak-leaf.toml." in served.get("/design?sku=oak-leaf").words
    assert "Oak leaf" in served.get("/").words


def test_a_mesh_of_the_same_name_is_kept_beside(served):
    before = (served.root / "meshes" / "thimble.stl").read_bytes()
    upload = served.post_file("/design/mesh?place=0", "thimble.stl", box_stl(20)).value_of("castings-0-upload")
    items = [item for item in new_form(served, castings_0_way="mesh") if item[0] != "castings-0-upload"]
    assert served.post("/design/save", [*items, ("castings-0-upload", upload)]).status == 303
    assert (served.root / "meshes" / "thimble.stl").read_bytes() == before
    assert (served.root / "meshes" / "thimble-2.stl").read_bytes() == box_stl(20)


def test_what_is_refused_leaves_nothing_behind(served):
    upload = served.post_file("/design/mesh?place=0", "leaf.stl", box_stl(20)).value_of("castings-0-upload")
    items = [
        item for item in new_form(served, castings_0_way="mesh", sprue_ratio="-1") if item[0] != "castings-0-upload"
    ]
    answer = served.post("/design/save", [*items, ("castings-0-upload", upload)])
    assert answer.status == 422
    assert 'id="trouble-sprue_ratio"' in answer.text
    assert 'value="Oak leaf"' in answer.text  # what was typed is still there
    assert not (served.root / "meshes" / "leaf.stl").exists()
    assert not (served.root / "products" / "oak-leaf.toml").exists()


def test_every_product_costs_in_its_view_what_it_costs_in_the_catalogue(looking):
    costing = cost(looking.root, asked_for(DAY))
    for sku in costing.folder.stated.products:
        rows = [place for place, each in enumerate(costing.computed.resolved.variants) if each.sku == sku]
        expected = [pytest.approx(costing.computed["unit_cost"][row], abs=0.0051) for row in rows]
        address = f"/design?sku={sku}"
        page = looking.get(address)
        assert figures(page, "in all") == expected
        again = looking.post(address.replace("/design?", "/design/answer?"), fields_of(page.text, "design"))
        assert figures(again, "in all") == expected


def test_all_that_is_lacking_is_told_at_once(served):
    answer = served.post("/design/save", fields_of(served.get("/design").text, "design"))
    assert answer.status == 422
    for field in ("name", "sku", "castings-0-name"):
        assert f'id="trouble-{field}"' in answer.text
    assert "Sku, its name in the books : sku is missing. Give it one." in answer.words


def test_a_taken_sku_is_told(served):
    answer = served.post("/design/save", new_form(served, sku="acorn-knob"))
    assert answer.status == 422 and 'another product has the sku "acorn-knob" already' in answer.words


def test_a_change_keeps_comments_and_everything_else(served):
    file = served.root / "products" / "acorn-knob.toml"
    before = file.read_text()
    items = fields_of(served.get("/design?sku=acorn-knob").text, "design")
    assert served.post("/design/save?sku=acorn-knob", items).status == 303
    assert file.read_text() == before  # nothing was changed
    items = fields_of(served.get("/design?sku=acorn-knob").text, "design")
    assert served.post("/design/save?sku=acorn-knob", with_values(items, pieces_per_flask="16")).status == 303
    assert file.read_text() == before.replace("pieces_per_flask = 18", "pieces_per_flask = 16")


def test_a_cousin_states_only_what_differs(served):
    file = served.root / "products" / "acorn-knob-large.toml"
    before = file.read_text()
    items = fields_of(served.get("/design?sku=acorn-knob-large").text, "design")
    assert served.post("/design/save?sku=acorn-knob-large", with_values(items, sprue_ratio="0.5")).status == 303
    after = file.read_text()
    assert "sprue_ratio = 0.5" in after and "castings" not in after and "findings" not in after
    assert [line for line in before.split("\n") if line not in after] == []


def text_of(page: Served, sku: str) -> str:
    return (page.root / "products" / f"{sku}.toml").read_text()


def test_of_two_who_change_different_things_nobody_loses(served):
    file = served.root / "products" / "acorn-knob.toml"
    mine = fields_of(served.get("/design?sku=acorn-knob").text, "design")
    before = file.read_text()
    file.write_text(before.replace("expected_sales = 220", "expected_sales = 300"))  # an editor, meanwhile
    assert served.post("/design/save?sku=acorn-knob", with_values(mine, pieces_per_flask="16")).status == 303
    expected = before.replace("expected_sales = 220", "expected_sales = 300")
    assert file.read_text() == expected.replace("pieces_per_flask = 18", "pieces_per_flask = 16")
    told = served.get("/design?sku=acorn-knob").words
    assert "Changed meanwhile by somebody else, and left so: Sets sold over its life: 300." in told


def test_of_two_who_change_the_same_the_later_is_told_and_keeps_what_was_typed(served):
    file = served.root / "products" / "acorn-knob.toml"
    mine = fields_of(served.get("/design?sku=acorn-knob").text, "design")
    before = file.read_text()
    file.write_text(before.replace("pieces_per_flask = 18", "pieces_per_flask = 20"))
    meanwhile = file.read_text()
    answer = served.post("/design/save?sku=acorn-knob", with_values(mine, pieces_per_flask="16", sprue_ratio="0.7"))
    assert answer.status == 409 and file.read_text() == meanwhile
    assert "Castings in a flask 16 20" in answer.words  # mine, and theirs
    again = fields_of(answer.text, "design")
    assert dict(again)["pieces_per_flask"] == "16" and dict(again)["sprue_ratio"] == "0.7"
    assert served.post("/design/save?sku=acorn-knob", again).status == 303  # having seen it, I may
    assert "pieces_per_flask = 16" in file.read_text() and "sprue_ratio = 0.7" in file.read_text()


def test_a_parent_s_change_is_not_written_back_into_its_child(served):
    """The form of the child shows what it takes from its parent; the parent changes while the form is open."""
    mine = fields_of(served.get("/design?sku=acorn-knob-large").text, "design")
    old = dict(mine)["sprue_ratio"]
    parent = served.root / "products" / "acorn-knob.toml"
    parent.write_text(parent.read_text().replace(f"sprue_ratio = {old}", "sprue_ratio = 0.93"))
    assert "sprue_ratio = 0.93" in parent.read_text() and "sprue_ratio" not in text_of(served, "acorn-knob-large")
    time.sleep(LEVER_LOOKS)  # while figures follow the typing, the folder is looked at no oftener
    answer = served.post("/design/answer?sku=acorn-knob-large", with_values(mine, pieces_per_flask="5"))
    assert served.post("/design/save?sku=acorn-knob-large", with_values(mine, pieces_per_flask="5")).status == 303
    assert "pieces_per_flask = 5" in text_of(served, "acorn-knob-large")
    assert "sprue_ratio" not in text_of(served, "acorn-knob-large")
    now = served.get("/design?sku=acorn-knob-large")
    assert 'name="sprue_ratio" value="0.93"' in now.text
    assert figures(now, "metal") == figures(answer, "metal")  # what was shown before saving is what was saved


def test_a_parent_s_change_under_a_field_that_was_typed_is_told(served):
    mine = fields_of(served.get("/design?sku=acorn-knob-large").text, "design")
    old = dict(mine)["sprue_ratio"]
    parent = served.root / "products" / "acorn-knob.toml"
    parent.write_text(parent.read_text().replace(f"sprue_ratio = {old}", "sprue_ratio = 0.93"))
    answer = served.post("/design/save?sku=acorn-knob-large", with_values(mine, sprue_ratio="0.5"))
    assert answer.status == 409 and "Sprues per gram of castings 0.5 0.93" in answer.words
    assert "sprue_ratio" not in text_of(served, "acorn-knob-large")


def state_sold_in(served, sku: str, line: str) -> None:
    """Put this in the place of the line that says where a product is sold."""
    path = served.root / "products" / f"{sku}.toml"
    text, lines = re.subn(r"(?m)^sold_in = .*\n", line, path.read_text(), count=1)
    assert lines == 1
    path.write_text(text)


@pytest.mark.parametrize("sku", ["acorn-knob", ""])
def test_a_channel_that_is_new_is_not_left_out(served, sku):
    """Every channel is ticked; one is added while the form is open. `sold_in` of the old ones would leave it out."""
    address = f"?sku={sku}" if sku else ""
    state_sold_in(served, "acorn-knob", "")
    mine = fields_of(served.get(f"/design{address}").text, "design") if sku else new_form(served)
    channels = served.root / "channels.toml"
    block = re.search(r"(?ms)^\[channels\.shop\].*?(?=^\[channels\.(?!shop\.))", channels.read_text())[0]
    channels.write_text(channels.read_text() + "\n" + block.replace("channels.shop", "channels.fair"))
    answer = served.post(f"/design/save{address}", with_values(mine, expected_sales="90"))
    assert answer.status == 303, answer.words[:600]
    product = cost(served.root, asked_for(DAY)).folder.stated.products[sku or "oak-leaf"]
    assert (product.expected_sales, product.sold_in) == (90, None)
    again = fields_of(served.get(f"/design?sku={sku or 'oak-leaf'}").text, "design")
    assert ("sold_in", "fair") in again


def test_a_form_that_does_not_say_what_it_showed_changes_nothing(served):
    mine = fields_of(served.get("/design?sku=acorn-knob").text, "design")
    before = text_of(served, "acorn-knob")
    for shown in ("", "[", "null", "[1,2]", "[" * 5000, '[{"a":1},2,3,4]'):
        answer = served.post("/design/save?sku=acorn-knob", with_values(mine, shown=shown, pieces_per_flask="16"))
        assert answer.status == 400 and "Open it again" in answer.words
    assert text_of(served, "acorn-knob") == before


def test_a_child_sold_everywhere_though_its_parent_is_not(served):
    state_sold_in(served, "acorn-knob", 'sold_in = ["shop"]\n')
    mine = fields_of(served.get("/design?sku=acorn-knob-large").text, "design")
    assert [value for name, value in mine if name == "sold_in"] == ["shop"]
    every = list(cost(served.root, asked_for(DAY)).folder.stated.channels)
    mine = [item for item in mine if item[0] != "sold_in"] + [("sold_in", name) for name in every]
    assert served.post("/design/save?sku=acorn-knob-large", mine).status == 303
    again = fields_of(served.get("/design?sku=acorn-knob-large").text, "design")
    assert [value for name, value in again if name == "sold_in"] == every


def test_what_comes_from_another_cannot_be_left_empty(served):
    mine = fields_of(served.get("/design?sku=acorn-knob-large").text, "design")
    answer = served.post("/design/save?sku=acorn-knob-large", with_values(mine, sprue_ratio=""))
    assert answer.status == 422 and 'it comes from "acorn-knob" and cannot be left empty here' in answer.words


@pytest.mark.parametrize("hands", [4])
def test_of_many_saves_at_once_the_winner_keeps_its_mesh(served, hands):
    """Several save the same new design with the same mesh: one wins, and what the others are refused takes nothing."""
    from concurrent.futures import ThreadPoolExecutor

    from pricing.folder.read import read_folder

    for number in range(8):
        name = f"leaf-{number}"
        upload = served.post_file("/design/mesh?place=0", f"{name}.stl", box_stl(20)).value_of("castings-0-upload")
        items = [item for item in new_form(served, castings_0_way="mesh", sku=name) if item[0] != "castings-0-upload"]
        items.append(("castings-0-upload", upload))
        with ThreadPoolExecutor(hands) as pool:
            answers = list(pool.map(lambda _, sent=items: served.post("/design/save", sent).status, range(hands)))
        assert sorted(answers) == [303, *[422] * (hands - 1)]
        product = read_folder(served.root).stated.products[name]  # with its mesh, or the folder has a fault
        assert (served.root / product.castings[0].mesh).read_bytes() == box_stl(20)


def test_further_castings_and_findings(looking):
    items = new_form(looking)
    answer = looking.post("/design/form?add=castings", items)
    assert 'name="castings-1-name"' in answer.text
    answer = looking.post("/design/form?add=findings", fields_of(answer.text, "design"))
    items = with_values(fields_of(answer.text, "design"), findings_0_name="stud", findings_0_price="0.25",
                        findings_0_quantity="2", castings_1_volume_cm3="1", castings_1_area_cm2="5")  # fmt: skip
    answer = looking.post("/design/answer", items)
    assert set(figures(answer, "findings")) == {0.6}  # 2 × 0.25, and a fifth of tax that does not come back


def test_a_sku_that_is_not_there(looking):
    assert looking.get("/design?sku=nothing").status == 404
    assert looking.post("/design/answer?sku=nothing", {"name": "x"}).status == 404


def test_what_is_joined_of_own_pieces_is_told_with_the_grams_of_all_metal_in_it(looking):
    strip = looking.get("/design?sku=workbox-gift-set").text.partition('id="strip"')[2].partition("</table>")[0]
    told = [float(each) for each in re.findall(r'<td class="num g">([\d.]+) g', strip)]
    computed = cost(sample_catalog(), asked_for(DAY)).computed
    (row,) = (place for place, each in enumerate(computed.resolved.variants) if each.sku == "workbox-gift-set")
    # thimble, buttons and spoon of the set, which have nothing in them but metal
    assert told == [pytest.approx(computed["total_g"][row], abs=0.005)] and told[0] > 10
