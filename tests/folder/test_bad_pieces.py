"""Pieces of pieces and sizes that make no sense: told where they stand, with a mend."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from pricing.costing import asked_for, cost
from pricing.errors import Faults
from tests.folders import alder_wharf

LEAF, RING, BAND = "products/anchor-leaf.toml", "products/reed-ring.toml", "products/wave-band.toml"
SET, STUDS = "products/tide-set.toml", "products/drop-studs.toml"

SLIPS = [
    (LEAF, 'product = "anchor-charm"', 'product = "anchor-chram"', "findings[0].product: no product",
     'Did you mean "anchor-charm"?'),
    (LEAF, 'product = "anchor-charm", alloy = "sterling"', 'product = "anchor-charm"',
     '"anchor-charm" is made in sterling, not in bronze', "Add alloy = with one of these."),
    (LEAF, 'product = "anchor-charm", alloy = "sterling"', 'product = "anchor-charm", alloy = "bronze"',
     '"anchor-charm" is made in sterling, not in bronze', "State one of these as its alloy."),
    (LEAF, 'product = "anchor-charm", alloy = "sterling"', 'product = "wave-band", alloy = "gold-9ct"',
     'each size of "wave-band" has a price of its own', "Name one of wave-band-50, wave-band-54, wave-band-60."),
    (LEAF, 'quantity = 1, spoil = 0.01 }', 'quantity = 1, price = 3 }', "an own piece brings its cost", "Leave it out"),
    (RING, '"L½", "N"', '"L½", "NN"', '"NN" is not a uk size', 'Write a letter, such as "M", "L½" or "Z+1".'),
    (RING, 'master = "M"\n', "", "master is missing", "Add master ="),
    (RING, "band_mm = 1.8\n", "", "band_mm is missing", "Add band_mm ="),
    (RING, "N = 3,", "R = 3,", '"R" is not in the list', "list"),
    (BAND, 'standard = "iso"', 'standard = "iso"\nlengths = { S = 50 }', "stands beside standard", "Keep one of them."),
    (SET, 'process = "boxed"', 'process = "cast"\nflask = "small"\npieces_per_flask = 3', "castings is missing",
     "Add castings ="),
    ("channels.toml", "{ charged = 9.50, cost = 11.20 }]", "{ up_to_g = 1200, charged = 9.50, cost = 11.20 }]", "", ""),
    ("channels.toml", "{ charged = 9.50, cost = 11.20 }]", "{ up_to_g = 700, charged = 9.50, cost = 11.20 }]",
     "700 does not rise above the 1000 before it", "Put the tiers in rising order."),
    ("channels.toml", "up_to_g = 2000,", "up_to_g = 500,", "an order of harbour-knocker in bronze is 762.765 g",
     "Add a last tier without up_to_g"),  # 1.1 × 620.69577 g and 80 g of parcel
    ("processes.toml", "alloy = \"fine-gold\", microns", "alloy = \"fine-glod\", microns", 'no alloy "fine-glod"',
     'Did you mean "fine-gold"?'),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "problem", "mend"), SLIPS)
def test_a_slip_is_told(tmp_path, file, old, new, problem, mend):
    root = Path(shutil.copytree(alder_wharf(), tmp_path / "folder"))
    text = (root / file).read_text(encoding="utf-8")
    assert text.count(old) == 1
    (root / file).write_text(text.replace(old, new), encoding="utf-8")
    if not problem:  # the same workshop, said otherwise
        cost(root, asked_for(date(2026, 11, 20)))
        return
    with pytest.raises(Faults) as told:
        cost(root, asked_for(date(2026, 11, 20)))
    headlines = [fault.headline() for fault in told.value.faults]
    assert any(line.startswith(file) and problem in line and mend in line for line in headlines), headlines
