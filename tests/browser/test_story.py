"""The whole story in a browser: drop a mesh, two alloys, move silver, save, reprice, publish, download the workbook."""

from __future__ import annotations

import re
import shutil
import struct
from io import BytesIO
from itertools import product

import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import newest
from tests.browser.test_views import at_width, for_nobody
from tests.browser.views import settled, unfold
from tests.page.served import DAY


def box_stl(side: float) -> bytes:
    """A cube of this side as a binary STL."""
    corners = [tuple(side * part for part in corner) for corner in product((0, 1), repeat=3)]
    quads = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    faces = [each for a, b, c, d in quads for each in ((a, b, c), (a, c, d))]
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *corners[a], *corners[b], *corners[c], 0) for a, b, c in faces)
    return b"a box".ljust(80) + struct.pack("<I", len(faces)) + body


DROP = """([place, name, bytes]) => {
    const carried = new DataTransfer();
    carried.items.add(new File([new Uint8Array(bytes)], name));
    const drop = document.querySelector(place);
    for (const kind of ["dragover", "drop"]) {
        drop.dispatchEvent(new DragEvent(kind, { dataTransfer: carried, bubbles: true, cancelable: true }));
    }
}"""


def go(tab, link: str) -> None:
    """Follow a link of the navigation, and wait until the view answers."""
    tab.get_by_role("navigation", name="Views").get_by_role("link", name=link).click()
    tab.wait_for_url(f"**/{link.lower()}")
    settled(tab)


def figure(tab, word: str, alloy: str) -> float:
    """A figure of the comparison."""
    button = tab.get_by_role("button", name=f"{word}, {alloy}: ")
    return float(button.inner_text().replace(",", ""))


def test_from_a_mesh_to_a_workbook(visit, folder):
    tab = visit()
    go(tab, "Design")
    tab.evaluate(DROP, [".drop", "Oak Leaf.stl", list(box_stl(20))])
    tab.get_by_text("Sound: one body, closed on all sides.").wait_for()
    tab.locator(".viewer[data-turn]").wait_for()
    tab.get_by_text("borrowed from").wait_for()  # a first price before anything is typed
    for section in ("alloys", "made"):
        tab.locator(f"#part-{section} > summary").click()
    for value in tab.locator("input[name=alloys]:checked").evaluate_all("(boxes) => boxes.map((box) => box.value)"):
        tab.locator(f"input[name=alloys][value={value}]").uncheck()
    for alloy in ("Sterling silver", "Yellow brass"):
        tab.get_by_label(alloy, exact=True).check()
    for label, value in (("Name, as customers read it", "Oak leaf"), ("Sku, its name in the books", "oak-leaf"),
                         ("Castings in a flask", "12"), ("Sprues per gram of castings", "0.5"),
                         ("Sets sold over its life", "100")):  # fmt: skip
        tab.get_by_label(label).fill(value)
    tab.get_by_text("borrowed from").wait_for(state="detached")  # every figure is its own now
    assert figure(tab, "as cast, g", "sterling") == 82.88  # 8 cm3 × 10.36
    assert figure(tab, "as cast, g", "yellow-brass") == 67.76  # 8 cm3 × 8.47

    before = {alloy: figure(tab, "metal", alloy) for alloy in ("sterling", "yellow-brass")}
    silver = tab.locator("input[name='metal:Ag']")
    silver.focus()
    tab.keyboard.press("End")  # 2.5 times the price in force
    tab.get_by_text("What if: Silver (Ag) 96.00").wait_for()  # 2.5 × 38.40
    assert figure(tab, "metal", "sterling") > 2 * before["sterling"]
    assert figure(tab, "metal", "yellow-brass") == before["yellow-brass"]
    tab.get_by_role("button", name="Put the levers back").click()
    tab.get_by_text("What if: Silver (Ag)").wait_for(state="detached")
    assert figure(tab, "metal", "sterling") == before["sterling"]

    tab.get_by_role("button", name="in all, sterling: ").click()
    tab.get_by_text("unit_cost = metal_cost + labour_cost").first.wait_for()
    shown = figure(tab, "in all", "sterling")
    tab.get_by_role("button", name="Save as a product").click()
    tab.get_by_text("Saved in products/oak-leaf.toml.").wait_for()
    costing = cost(folder, asked_for(DAY))
    row = next(place for place, each in enumerate(costing.computed.resolved.variants)
               if (each.sku, each.alloy) == ("oak-leaf", "sterling"))  # fmt: skip
    assert costing.computed["unit_cost"][row] == pytest.approx(shown, abs=0.0051)

    go(tab, "Reprice")
    with tab.expect_response(lambda answer: "query=oak" in answer.url):  # left early, it would end in an error
        tab.get_by_label("Search").fill("oak leaf")
    tab.get_by_text("Oak leaf").first.wait_for()
    tab.get_by_role("button", name="Publish ").click()
    tab.get_by_role("heading", name="Publish these prices?").wait_for()
    tab.get_by_role("button", name="Publish as a new edition").click()
    tab.get_by_text("Published: edition 1 of 2026-11-20.").wait_for()
    assert any(each["sku"] == "oak-leaf" for each in newest(folder).content["prices"])

    go(tab, "Lists")
    with tab.expect_download() as download:
        tab.get_by_role("button", name="Download the workbook").click()
    from openpyxl import load_workbook

    book = load_workbook(BytesIO(download.value.path().read_bytes()), read_only=True)
    said = {cell for line in book["Costs"].iter_rows(values_only=True) for cell in line if isinstance(cell, str)}
    assert any("oak-leaf" in text for text in said)


def test_a_workshop_begun_from_nothing(visit, folder, tmp_path):
    """A folder that is not there: four fields are typed and a mesh is dropped until there is a first price."""
    shutil.rmtree(folder)
    (tmp_path / "Oak Leaf.stl").write_bytes(box_stl(10))
    tab = visit()
    tab.goto("/")
    tab.get_by_role("heading", name="Begin a workshop").wait_for()
    tab.get_by_label("Its mesh").set_input_files(tmp_path / "Oak Leaf.stl")
    tab.get_by_label("What you pay yourself for an hour").fill("17.50")
    tab.get_by_label("Yellow brass").uncheck()
    tab.get_by_label("What it is called").fill("Oak")  # at once, while the questions that follow are fetched
    tab.get_by_label("Market stall").check()
    tab.get_by_label("What casting brass costs today").wait_for(state="detached")  # what no metal needs is not asked
    tab.get_by_label("9 ct yellow gold").check()
    tab.get_by_label("What gold costs today").fill("2500,")
    assert tab.get_by_label("What you pay yourself for an hour").input_value() == "17.50"
    assert tab.get_by_label("What it is called").input_value() == "Oak"
    assert tab.get_by_label("Market stall").is_checked() and not tab.get_by_label("Yellow brass").is_checked()
    tab.get_by_label("What it is called").fill("Oak leaf")
    unfold(tab, "start")
    assert for_nobody(tab) == []
    visit.expected.append("422")
    tab.get_by_role("button", name="Write the folder").click()
    tab.get_by_text("is no number. Write 2500.").wait_for()
    tab.get_by_text("oak-leaf.stl is here.").wait_for()
    tab.get_by_label("What gold costs today").fill("2500")
    tab.get_by_role("button", name="Write the folder").click()
    tab.get_by_role("heading", name="Catalogue").wait_for()
    tab.get_by_text("The workshop is begun.").wait_for()
    assert tab.get_by_text("Oak leaf").count() and tab.get_by_text("9 ct yellow gold").count()
    costing = cost(folder, asked_for(DAY))
    assert not costing.warnings
    assert costing.folder.stated.workshop.labour["bench"].rate == 17.5
    assert (folder / "meshes" / "oak-leaf.stl").read_bytes() == box_stl(10)


def test_with_the_keyboard_alone(visit):
    tab = visit()

    def reach(what: str, most: int = 120) -> None:
        """Press Tab until the focus stands on something that is called so."""
        for _ in range(most):
            tab.keyboard.press("Tab")
            name = tab.evaluate(
                "(() => { const at = document.activeElement;"
                " return (at.getAttribute('aria-label') || at.labels?.[0]?.innerText"
                " || at.innerText || '').trim(); })()"
            )
            if re.match(rf"{re.escape(what)}(?!\w)", name):
                style = tab.evaluate("getComputedStyle(document.activeElement).outlineStyle")
                assert style != "none", f"the focus on {what} is not seen"
                return
        raise AssertionError(f"{what} is not reached")

    reach("To the content", 1)
    reach("Metal")
    tab.keyboard.press("Enter")
    tab.wait_for_url("**/metal")
    reach("Price")
    tab.keyboard.type("50")
    tab.get_by_text("asked prices would move").wait_for()
    tab.goto("/design?sku=acorn-knob")
    reach("Silver (Ag)")
    tab.keyboard.press("End")
    tab.get_by_text("What if: Silver (Ag) 96.00").wait_for()
    reach("Silver (Ag), as a figure", 1)
    tab.keyboard.type("50")
    tab.get_by_text("What if: Silver (Ag) 50.00").wait_for()
    reach("Castings")
    tab.keyboard.press("Enter")
    reach("meshes/acorn-knob.stl, to be turned")
    tab.locator(".viewer[data-turn]").wait_for()
    turn = tab.locator(".viewer").get_attribute("data-turn")
    tab.keyboard.press("ArrowRight")
    assert tab.locator(".viewer").get_attribute("data-turn") != turn
    reach("in all, sterling")
    tab.keyboard.press("Enter")
    tab.get_by_role("heading", name="unit_cost, Sterling silver").wait_for()
    tab.wait_for_function("document.activeElement.id === 'work-title'")
    reach("Close", 1)
    tab.keyboard.press("Enter")
    tab.wait_for_function("document.activeElement.matches('.figure')")


def test_leaving_with_typing_that_is_not_saved_asks(visit):
    """A lever that was moved does not ask, nor does what was saved."""
    tab = visit()
    asked = []
    tab.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    tab.goto("/design?sku=acorn-knob")
    tab.locator("input[name='metal:Ag']").press("End")
    tab.get_by_text("What if: Silver (Ag) 96.00").wait_for()
    go(tab, "Metal")
    assert asked == []
    tab.goto("/design?sku=acorn-knob")
    tab.locator("#part-made > summary").click()
    tab.get_by_label("Castings in a flask").fill("16")
    tab.get_by_role("navigation", name="Views").get_by_role("link", name="Metal").click()
    tab.wait_for_timeout(100)  # nothing happens, which nothing tells
    assert asked == ["beforeunload"] and "/design" in tab.url
    tab.get_by_role("button", name="Save this design").click()
    tab.get_by_text("Saved in products/acorn-knob.toml.").wait_for()
    go(tab, "Metal")
    assert asked == ["beforeunload"]
    tab.goto("/log")
    tab.locator("#f-note").fill("the kiln was cold")
    tab.get_by_role("navigation", name="Views").get_by_role("link", name="Metal").click()
    tab.wait_for_timeout(100)
    assert asked == ["beforeunload", "beforeunload"] and "/log" in tab.url


def test_a_word_for_a_price_and_its_reason(visit, folder):
    from datetime import date

    from pricing.studies.publishing.new_edition import publish_prices
    from pricing.studies.repricing.reprice import reprice

    publish_prices(reprice(cost(folder, asked_for(date(2026, 6, 1))), None))
    tab = visit(width=360)
    tab.get_by_role("button", name="Views").click()  # folded away on a phone
    tab.get_by_role("navigation", name="Views").get_by_role("link", name="Reprice").click()
    row = tab.get_by_role("row").filter(has_text="Acorn drawer knob").filter(has_text="Sterling silver, shop")
    row.get_by_role("button", name="Why it moved: ").click()
    tab.locator("svg.fall").wait_for()
    row.get_by_role("combobox").select_option("take what is asked")
    tab.get_by_role("button", name="Publish 1 change as a new edition").wait_for()
    assert "Your word: what is asked." in row.inner_text()
    row.get_by_role("combobox").select_option("as proposed")
    tab.get_by_role("button", name="Nothing to publish").wait_for()


def test_search_and_paging_go_into_the_address(looking):
    tab = looking
    at_width(tab, 1280)
    tab.goto("/")
    tab.get_by_label("Search").fill("knob sterling")
    tab.get_by_text("1 of 19 variants").wait_for()
    assert "query=knob" in tab.url
    tab.go_back()
    tab.get_by_text(", 19 variants").wait_for()


def test_a_mesh_in_inches(visit):
    tab = visit()
    tab.goto("/design")
    settled(tab)
    tab.evaluate(DROP, [".drop", "one.stl", list(box_stl(1))])
    tab.get_by_role("button", name="It was drawn in inches").click()
    assert tab.get_by_label("Volume").input_value() == "16.3871"  # 2.54 cubed
    assert tab.get_by_label("typed").is_checked()


def test_two_tabs_on_one_file(visit, folder):
    visit.expected.append("the server responded with a status of 409 (Conflict)")  # told by the browser itself
    one = visit()
    one.goto("/edit/workshop.toml")
    file = folder / "workshop.toml"
    file.write_text(file.read_text().replace("per_month = 590.00", "per_month = 700.00"))
    text = one.get_by_label("The file as it is written")
    text.fill(text.input_value().replace("rate = 18.00", "rate = 21.00"))
    with one.expect_response("**/edit-save/**") as answer:
        one.get_by_role("button", name="Save").click()
    assert answer.value.status == 409
    one.get_by_text("this file was changed since it was read").wait_for()
    assert "rate = 21.00" in text.input_value()
    assert "per_month = 700.00" in file.read_text() and "rate = 18.00" in file.read_text()


def test_the_printed_address_leads_in_again(visit):
    """Reloading it, a bookmark of it, the way back, a second tab; and never by a link from another port."""
    visit.expected.append("the server responded with a status of 403")  # of the door itself
    tab = visit()
    page = visit.served
    inside = tab.url
    assert inside == f"{page.origin}/{page.keys.room}/"
    tab.reload()
    assert tab.url == inside
    for address in (f"{page.origin}/?token={page.token}", f"{page.origin}/"):
        other = tab.context.new_page()
        other.goto(address)
        other.wait_for_url(inside)
        other.get_by_role("heading", name="Catalogue").wait_for()
    other.goto(f"{page.origin}/{'A' * 43}/metal?metal=Au")  # a bookmark of an earlier run's view
    other.wait_for_url(f"{inside}metal?metal=Au")
    go(tab, "Metal")
    tab.go_back()
    tab.wait_for_url(inside)
    tab.get_by_role("heading", name="Catalogue").wait_for()


def test_another_port_gets_neither_half(visit):
    """A server beside the page, looked at in the same browser: what it is sent opens nothing."""
    import threading
    from http.server import BaseHTTPRequestHandler, HTTPServer

    visit.expected.append("asked http://127.0.0.1:")
    came: list[str] = []

    class Beside(BaseHTTPRequestHandler):
        def do_GET(self):
            came.append(f"{self.path}\n{self.headers}")
            self.send_response(200)
            self.end_headers()
            self.wfile.write(b"beside")

        def log_message(self, *_):
            pass

    beside = HTTPServer(("127.0.0.1", 0), Beside)
    threading.Thread(target=beside.serve_forever, daemon=True).start()
    try:
        tab = visit()
        keys = visit.served.keys
        address = f"http://127.0.0.1:{beside.server_port}/"
        tab.evaluate("(address) => { location.href = address; }", address)
        tab.wait_for_url(address)
        tab.context.new_page().goto(f"{address}design")
    finally:
        beside.shutdown()
        beside.server_close()
    assert came and not [secret for secret in (keys.session, keys.room) if secret in "".join(came)]
