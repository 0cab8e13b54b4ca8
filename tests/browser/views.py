"""Every view of the page, and how to bring it to its fullest."""

from __future__ import annotations

from types import MappingProxyType

#: Whether nothing more comes by itself: all is loaded, no request is under way, every mesh is drawn or told to be flat.
#: Half a second without any request (`networkidle`) would say the same, half a second later.
SETTLED = """() => document.readyState === "complete"
    && !document.querySelector(".htmx-request, .reading, .viewer:not([data-turn], .is-flat)")"""

VIEWS = MappingProxyType(
    {
        "catalogue": "/",
        "a new design": "/design",
        "a design": "/design?sku=acorn-knob",
        "metal": "/metal",
        "reprice": "/reprice?kind=all",
        "editions": "/editions?show=1&sku=thimble&alloy=sterling&before=1&after=1",
        "break-even": "/break-even?sku=thimble&alloy=sterling",
        "pour": "/pour?wants=thimble:sterling=12,cloak-clasp:sterling=5",
        "a study": "/studies/sale?ask=yes&off=0.20",
        "lists": "/lists",
        "log": "/log?batch=1",
        "learned": "/log/learned",
        "drawer": "/drawer",
        "files": "/edit",
        "alloys": "/edit/alloys.toml",
        "a product's file": "/edit/products/acorn-knob.toml",
        "prices": "/edit/metal_prices.csv?line=7",
        "one thing more": "/add/process",
    }
)


def settled(tab) -> None:
    """Wait until a view has all that it shows by itself."""
    tab.wait_for_function(SETTLED)


def unfold(tab, view: str) -> None:
    """Open what a view shows only when asked."""
    if view == "a design":
        tab.get_by_role("button", name="in all, sterling").click()
        tab.get_by_role("heading", name="unit_cost, Sterling silver").wait_for()
        tab.get_by_text("All that leads to it").click()
    elif view == "metal":
        tab.get_by_label("Price", exact=True).fill("50")
        tab.locator("#moves b").first.wait_for()
    elif view == "reprice":
        tab.get_by_role("button", name="Why it moved: ").first.click()
        tab.locator(".why-here:not(:empty)").first.wait_for()
    tab.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    settled(tab)
