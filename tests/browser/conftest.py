"""A real browser for the page: Debian's Chromium, driven by Playwright; skipped where one of them is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from shutil import which

import pytest

from pricing.costing import asked_for, cost
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.folders import small_sample
from tests.page.test_drawer_and_log import BOUGHT, CARD
from tests.waiting import LONG

#: Chromium without its windows first: the same pages in two thirds of the time.
CHROMIUM = next(
    filter(None, map(which, ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome"))), None
)
#: Nothing but the page is asked for; WebGL is drawn by software.
FLAGS = (
    "--no-sandbox",
    "--disable-dev-shm-usage",  # a container may have little of it
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-extensions",
    "--enable-unsafe-swiftshader",
    "--force-color-profile=srgb",
    # The tests wait for each answer: helpers beside only take the others' time, and what looks at the views is worth
    # compiling at once.
    "--js-flags=--single-threaded --always-sparkplug",
)


#: A form sent by the page itself; gives the status of where it led.
SEND = """async ([address, typed]) => {
    const answer = await fetch(address, { method: "POST", body: new URLSearchParams(typed) });
    return answer.status;
}"""


def pytest_collection_modifyitems(items):
    here = Path(__file__).parent
    below = {path for path in {item.path for item in items} if here in path.parents}
    for item in items:
        if item.path in below:
            item.add_marker("browser")
            item.add_marker("slow")


@pytest.fixture(scope="session")
def chromium():
    """The browser, one for all tests."""
    playwright = pytest.importorskip("playwright.sync_api", reason="needs playwright")
    if CHROMIUM is None:
        pytest.skip("needs Chromium")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS), timeout=LONG * 1000)
        yield browser
        browser.close()


@pytest.fixture
def folder(tmp_path) -> Path:
    """A copy of the sample with few products, to be written to."""
    return small_sample(tmp_path / "fernhollow")


class Watched:
    """A browser page, and whatever it complained of or asked of other hosts."""

    def __init__(self, tab, host: str):
        self.tab, self.troubles = tab, []
        tab.on("console", lambda said: said.type == "error" and self.troubles.append(said.text))
        tab.on("pageerror", lambda error: self.troubles.append(str(error)))
        tab.on("request", lambda asked: self._look(asked.url, host))

    def _look(self, url: str, host: str) -> None:
        if not url.startswith((f"http://{host}/", "blob:", "data:")):
            self.troubles.append(f"asked {url}")


def enter(page, context, tab) -> None:
    """Let a tab in: by the token, or where that is used by the cookie. From then on it goes to paths of the room."""
    room, go = f"/{page.keys.room}", tab.goto
    tab.goto = lambda path, **more: go(room + path, **more)
    if page.keys.token:
        go(f"/?token={page.keys.token}")
    else:
        cookie = {"name": page.keys.cookie, "value": page.keys.session, "domain": "127.0.0.1", "path": f"{room}/"}
        context.add_cookies([cookie])
        tab.goto("/")


@pytest.fixture(scope="package")
def looking(chromium, tmp_path_factory) -> Iterator[object]:
    """One tab of one page for all tests that only look: of a folder with a published edition and with
    silver that rose since. Whatever it complained of, or asked of other hosts, fails at the end."""
    served = pytest.importorskip("tests.page.served", reason="needs the extra page")
    root = small_sample(tmp_path_factory.mktemp("looking") / "fernhollow")
    publish_prices(reprice(cost(root, asked_for(date(2026, 6, 1))), None))
    prices = root / "metal_prices.csv"
    prices.write_text(prices.read_text().rstrip("\n") + f"\n{served.DAY},Ag,52.00,ozt,USD,typed\n")
    with served.Served(root, enters=False) as page:
        context = chromium.new_context(base_url=page.origin, reduced_motion="reduce")
        tab = context.new_page()
        tab.set_default_timeout(LONG * 1000)
        watched = Watched(tab, page.host)
        enter(page, context, tab)
        for address, typed in (("drawer", BOUGHT), ("log", CARD)):  # so that these views have something to show
            assert tab.evaluate(SEND, [address, typed]) == 200
        yield tab
        context.close()
    assert watched.troubles == []


@pytest.fixture
def visit(chromium, folder) -> Iterator[Callable]:
    """Open the page of the folder: `visit(width=…, scheme=…)` gives a tab that has entered; troubles fail the test,
    save those that hold a text of `visit.expected`."""
    served = pytest.importorskip("tests.page.served", reason="needs the extra page")
    contexts, watched = [], []
    with served.Served(folder, enters=False) as page:

        def open_tab(width: int = 1280, height: int = 900, scheme: str = "light", **more):
            context = chromium.new_context(
                viewport={"width": width, "height": height},
                color_scheme=scheme,
                base_url=page.origin,
                accept_downloads=True,
                reduced_motion="reduce",
                **more,
            )
            contexts.append(context)
            tab = context.new_page()
            tab.set_default_timeout(LONG * 1000)
            watched.append(Watched(tab, page.host))
            enter(page, context, tab)
            return tab

        open_tab.served, open_tab.expected = page, []
        yield open_tab
        for context in contexts:
            context.close()
    troubles = [trouble for each in watched for trouble in each.troubles]
    assert [told for told in troubles if not any(known in told for known in open_tab.expected)] == []
