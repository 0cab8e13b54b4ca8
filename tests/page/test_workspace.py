"""The folder behind the page: looked at again whenever something in it changed that a view tells of."""

import shutil
from datetime import date
from pathlib import Path

from pricing.page.workspace import Workspace

LANE = Path(__file__).parents[1] / "exact" / "tin_lane"


def test_a_file_that_is_not_read_as_a_product_is_told_while_the_page_is_open(tmp_path):
    root = shutil.copytree(LANE, tmp_path / "lane")
    workspace = Workspace(root, as_of=date(2026, 11, 20))
    assert "this file is not read as a product" not in [each.problem for each in workspace.look().costing.warnings]
    (root / "products" / "brooch.TOML").write_text("")
    assert "this file is not read as a product" in [each.problem for each in workspace.look().costing.warnings]
