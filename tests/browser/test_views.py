"""Every view: for eyes that need contrast, for screen readers, for narrow screens, in both schemes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.views import VIEWS, settled, unfold

#: axe-core 4.14.1, unchanged from the npm registry (Mozilla Public License 2.0, beside it).
AXE = Path(__file__).parent / "vendor" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
#: What depends on colours and on the room that there is; all else is the same in the other scheme.
OF_THE_SCHEME = ["color-contrast", "link-in-text-block", "target-size", "scrollable-region-focusable"]
BOXES, ORDER = ((Path(__file__).parent / name).read_text() for name in ("boxes.js", "order.js"))
WIDTHS = (320, 360, 600, 820, 1024, 1400, 1920, 2560)


def violations(tab, rules: list[str] = RULES, kind: str = "tag") -> list[str]:
    """What axe-core finds; put in through the debugger, for the page's own policy allows no foreign script."""
    if not tab.evaluate("typeof axe === 'object'"):
        tab.evaluate(AXE.read_text())
    found = tab.evaluate(
        "([values, type]) => axe.run(document, { runOnly: { type, values }, resultTypes: ['violations'] })",
        [rules, kind],
    )
    return [
        f"{each['id']}: {node['target']} {node['failureSummary']}"
        for each in found["violations"]
        for node in each["nodes"][:3]
    ]


def at_width(tab, width: int) -> None:
    """Give the tab another width, and let it lay itself out."""
    tab.set_viewport_size({"width": width, "height": 900})
    tab.evaluate("() => new Promise((done) => requestAnimationFrame(() => done()))")


@pytest.mark.parametrize("view", VIEWS)
def test_a_view_is_for_everybody(looking, view):
    """In both schemes; no box leaves the one that it stands in or lies over its neighbour, and the Tab key goes from
    the top down, whatever the width."""
    tab = looking
    at_width(tab, 1280)
    tab.goto(VIEWS[view])
    unfold(tab, view)
    assert for_nobody(tab) == []


def for_nobody(tab) -> list[str]:
    """What is wrong with the view that stands there, in both schemes and at every width."""
    scheme = "(scheme) => { document.documentElement.dataset.scheme = scheme; }"
    tab.evaluate(scheme, "light")
    found = violations(tab)
    tab.evaluate(scheme, "dark")
    for width in WIDTHS:
        at_width(tab, width)
        found += [f"at {width}: {each}" for each in (*tab.evaluate(BOXES), *tab.evaluate(ORDER))]
        if width == 360:
            found += violations(tab, OF_THE_SCHEME, "rule")
    return found


def test_a_box_that_leaves_its_place_is_found(looking):
    """The checks themselves: a field under the next card, one that sticks out, a stop of the Tab key out of turn."""
    tab = looking
    at_width(tab, 600)
    tab.goto("/lists")
    tab.evaluate(
        """() => {
            const [one, other] = document.querySelectorAll(".papers section");
            one.style.marginBottom = "-40px";
            other.querySelector("button").style.width = "200vw";
            const late = document.createElement("button");
            late.textContent = "late";
            late.tabIndex = 3;
            document.querySelector("main").append(late);
        }"""
    )
    found = " ".join([*tab.evaluate(BOXES), *tab.evaluate(ORDER)])
    assert "overlap by" in found and "sticks out of" in found and "has an order of its own" in found


def test_what_is_not_for_everybody_is_found(looking):
    """The check itself: a field without a name, and words too pale to read."""
    tab = looking
    at_width(tab, 1280)
    tab.goto("/drawer")
    tab.evaluate(
        "() => { const pale = document.createElement('p'); pale.textContent = 'pale';"
        " document.querySelector('main').append(document.createElement('input'), pale); pale.style.color = '#eeeeee'; }"
    )
    assert {found.split(":")[0] for found in violations(tab)} >= {"label", "color-contrast"}


def test_the_scheme_can_be_chosen_and_stays(visit):
    tab = visit(scheme="light")
    paper = tab.evaluate("getComputedStyle(document.body).backgroundColor")
    tab.get_by_role("button", name="Dark").click()
    assert tab.evaluate("getComputedStyle(document.body).backgroundColor") != paper
    tab.goto("/metal")
    assert tab.evaluate("document.documentElement.dataset.scheme") == "dark"
    ink = "getComputedStyle(document.body).color"
    pale = tab.evaluate(ink)
    tab.emulate_media(media="print")
    assert tab.evaluate(ink) != pale  # paper is white
    tab.emulate_media(media="screen")
    assert tab.get_by_role("button", name="Dark").get_attribute("aria-pressed") == "true"


def test_figures_stand_in_line(looking):
    """Tabular figures: a 1 is as wide as an 8."""
    tab = looking
    at_width(tab, 1280)
    tab.goto("/")
    widths = tab.evaluate(
        """() => ['111.11', '888.88'].map((text) => {
            const probe = document.createElement('span');
            probe.textContent = text;
            document.querySelector('td.num').append(probe);
            const { width } = probe.getBoundingClientRect();
            probe.remove();
            return width;
        })"""
    )
    assert widths[0] == widths[1]


def test_a_hostile_name_is_text(visit, folder):
    file = folder / "products" / "acorn-knob.toml"
    name = "<img src=x onerror=document.title='owned'><script>document.title='owned'</script>"
    file.write_text(file.read_text().replace('name = "Acorn drawer knob"', f'name = "{name}"'))
    tab = visit()
    for path in ("/", "/design?sku=acorn-knob", "/reprice?kind=all", "/lists", "/edit/products/acorn-knob.toml"):
        tab.goto(path)
        settled(tab)
        assert tab.title() != "owned"
    tab.goto("/")
    assert tab.get_by_role("link", name=name).first.is_visible()
    assert tab.locator("img[src='x']").count() == 0


def test_what_kept_a_design_from_being_saved_goes_when_it_is_mended(visit):
    """The box at the top told of a field; once the field is right and the figures stand, it has nothing to tell."""
    visit.expected.append("422")  # what the browser says of a refused form
    tab = visit()
    tab.goto("/design?sku=thimble")
    tab.locator("#part-castings > summary").click()
    count = tab.locator("#f-castings-0-count")
    before = count.input_value()
    count.fill("many")
    tab.get_by_role("button", name="Save this design").click()
    box = tab.locator(".trouble-box")
    box.wait_for()
    tab.wait_for_load_state()  # the refusal is a new page: what listens to its fields comes with its scripts
    tab.locator("#f-castings-0-count").fill(before)
    box.wait_for(state="detached")
    assert tab.locator("#answer table.compare").count() >= 1


def test_what_is_not_stated_can_be_added_beside_what_is_typed(looking):
    """A key and a whole table come into the form that is open: what was typed stays, nothing is offered twice."""
    tab = looking
    at_width(tab, 1280)
    tab.goto("/edit/products/thimble.toml")
    name = tab.get_by_role("textbox", name="Name as customers read it")
    name.fill("Bramble thimble, typed")
    tab.locator(".stated > .tail summary").click()
    tab.get_by_role("link", name="Height of a full tree of it").last.click()
    height = tab.get_by_role("textbox", name="Height of a full tree of it")
    height.wait_for()
    assert height.evaluate("(at) => at === document.activeElement")
    height.fill("120")
    tab.get_by_role("link", name="Castings: a further one").click()
    tab.get_by_role("textbox", name="Name of the casting").nth(1).fill("rim")
    sent = dict(tab.evaluate("[...new FormData(document.getElementById('edit-form'))]"))
    assert (sent["name"], sent["tree_mm"], sent["castings[1].name"]) == ("Bramble thimble, typed", "120", "rim")
    assert tab.get_by_role("link", name="Castings: a further one").count() == 0
    tab.evaluate("document.getElementById('edit-form').reset()")
