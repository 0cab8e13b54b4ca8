"""What the commands say, once."""

from __future__ import annotations

import json

from pricing.resources import sample_catalog
from tests.cli.conftest import troytag as troytag  # the fixture

DAY = ("--as-of", "2026-11-20")


def test_an_assay_parcel(troytag):
    ran = troytag("study", sample_catalog(), "assay", "--have", "acorn-knob:sterling=9", *DAY)
    assert ran.code == 0
    assert "A parcel holds 50 pieces" in ran.out and "Hold them back until 32 more are ready" in ran.out
    assert "is for the law of the place" in " ".join(ran.err.split())


def test_a_refiners_lot(troytag):
    """400 g of sterling hold 370 g of silver; 95 % of it are paid for."""
    ran = troytag("study", sample_catalog(), "refiner", "--scrap", "sterling=400", "--paid", "300", *DAY)
    assert ran.code == 0 and "370.00 g" in ran.out and "351.50 g" in ran.out and "short" in ran.out
    (lot,) = json.loads(troytag("study", sample_catalog(), "refiner", "--scrap", "sterling=400", "--json", *DAY).out)
    assert lot["metals"][0]["fine_g"] == 370.0
    brass = troytag("study", sample_catalog(), "refiner", "--scrap", "yellow-brass=400", *DAY)
    assert "pays for no metal that is in the lot" in " ".join(brass.err.split()) and "paid for" not in brass.out
    none = troytag("study", sample_catalog(), "refiner", *DAY)
    assert none.code == 2 and "nothing for a refiner lies in the drawer" in none.err
    wrong = troytag("study", sample_catalog(), "refiner", "--scrap", "sterling=x", *DAY)
    assert wrong.code == 2 and '--scrap sterling=x: "x" is no number.' in wrong.err
