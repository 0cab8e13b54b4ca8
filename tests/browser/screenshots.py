"""Pictures of the page for the README, made from the sample.

    python tests/browser/screenshots.py FOLDER

Writes `page-catalogue.png` (light) and `page-design.png` (dark) into FOLDER.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import date
from pathlib import Path
from shutil import copytree

sys.path.insert(0, str(Path(__file__).parents[2]))

from playwright.sync_api import sync_playwright  # noqa: E402

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.resources import sample_catalog  # noqa: E402
from pricing.studies.publishing.new_edition import publish_prices  # noqa: E402
from pricing.studies.repricing.reprice import reprice  # noqa: E402
from tests.browser.conftest import CHROMIUM, FLAGS, enter  # noqa: E402
from tests.page.served import Served  # noqa: E402

SIZE = {"width": 1280, "height": 800}


def main(target: Path) -> None:
    with tempfile.TemporaryDirectory() as directory, sync_playwright() as driver:
        root = Path(copytree(sample_catalog(), Path(directory) / "fernhollow"))
        publish_prices(reprice(cost(root, asked_for(date(2026, 6, 1))), None))
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        with Served(root, enters=False) as page:
            for name, scheme in (("catalogue", "light"), ("design", "dark")):
                context = browser.new_context(
                    viewport=SIZE, color_scheme=scheme, base_url=page.origin, reduced_motion="reduce"
                )
                tab = context.new_page()
                enter(page, context, tab)
                tab.goto("/" if name == "catalogue" else "/design?sku=acorn-knob")
                if name == "design":
                    tab.get_by_label("Silver (Ag), as a figure").fill("50")
                    tab.get_by_text("What if: Silver (Ag) 50.00").wait_for()
                tab.wait_for_load_state("networkidle")
                tab.screenshot(path=target / f"page-{name}.png")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
