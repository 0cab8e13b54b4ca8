"""The README says what the commands print."""

from __future__ import annotations

import pytest

from tests.readme_tour import ROOT, agree, filled, runs, script_runs

pytestmark = pytest.mark.slow


def test_the_tour_is_real_output():
    shown = list(runs((ROOT / "README.md").read_text(encoding="utf-8")))
    assert len(shown) >= 4
    for block, real in shown:
        assert agree(block["output"].splitlines(), real), f"{block['words']} prints otherwise: run tests/readme_tour.py"


def test_the_script_prints_what_is_shown():
    ((block, real),) = script_runs((ROOT / "README.md").read_text(encoding="utf-8"))
    assert block["output"].splitlines() == real, "the script prints otherwise: run tests/readme_tour.py"
    assert len(block["code"].splitlines()) < 20 and not any("Error" in line for line in real)


def test_a_line_of_dots_stands_for_any_lines():
    assert agree(["a", "…", "d"], ["a", "b", "c", "d"])
    assert agree(["…"], [])
    assert not agree(["a", "…", "c"], ["a", "b"])
    assert not agree(["a"], ["a", "b"])
    assert filled(["x", "…", "y"], ["a", "b", "c", "d"]) == ["a", "…", "d"]
