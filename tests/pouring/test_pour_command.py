"""`troytag pour`: one run on the terminal, one as JSON, one as CSV; what is off is told."""

from __future__ import annotations

import csv
import json
from io import StringIO

import pytest

from pricing.pouring.told import heads
from pricing.resources import sample_catalog
from tests.pouring.conftest import WANTS

POUR = ["pour", str(sample_catalog()), "--as-of", "2026-11-20"]
ASKED = [word for text in WANTS for word in ("--want", text)]


def test_the_plan_on_the_terminal(troytag, planned):
    ran = troytag(*POUR, *ASKED, "--mix", "sterling", "--tree", "sterling=5.5", "--bring", "gold-9ct:gold-14ct=10")
    assert ran.code == 0 and max(map(len, ran.out.splitlines())) <= 80
    for flask in planned.flasks:
        assert f"{flask.charge_g:,.2f}" in ran.out and f"{flask.powder_g:,.0f}" in ran.out
    assert "A tree of 5.50 g at 1 g/cm3 takes 57.56 g of sterling" in ran.out  # 5.5 × 10.36 / 0.99
    assert "10.00 g of gold-9ct (Au 375) and 5.06 g of fine Au make 15.06 g of Au 585" in ran.out
    assert heads() in " ".join(ran.out.split())
    assert "bone dry" in " ".join(ran.out.split())


def test_the_command_names_the_option_that_helps_where_too_many_are_asked_for(troytag):
    ran = troytag(*POUR, "--want", "acorn-knob:sterling=5000")
    assert ran.code == 2 and "take more than 6,000 castings" in " ".join(ran.err.split())
    assert "By the mean alone: --mean." in " ".join(ran.err.split())


def test_json_and_csv_are_the_same_plan(troytag, planned, tmp_path):
    file = tmp_path / "wants.csv"
    lines = [text.replace(":", ",").replace("=", ",") for text in WANTS]
    file.write_text("\n".join(["sku,alloy,quantity", *lines]), encoding="utf-8")
    told = json.loads(troytag(*POUR, "--wants", str(file), "--json").out)
    assert [flask["charge_g"] for flask in told["flasks"]] == [flask.charge_g for flask in planned.flasks]
    assert (told["gap"], told["least_flasks"], told["currency"]) == (0, len(planned.flasks), "GBP")
    rows = list(csv.DictReader(StringIO(troytag(*POUR, "--for-list", str(file), "--csv").out)))
    assert sum(int(row["castings"]) for row in rows) == sum(line.on_trees for line in planned.lines)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "nothing is wanted"),
        (["--want", "thimble"], "is no want"),
        (["--want", "thimble=1", "--sure", "20"], "from 50 to 99.9"),
        (["--want", "thimble=1", "--sure", "90", "--mean"], "--mean and --sure"),
        (["--want", "thimble:sterling=1", "--mix", "tin"], 'no alloy "tin"'),
        (["--want", "thimble:sterling=1", "--mix", "gold-9ct"], "none of it is poured here. Poured: sterling"),
        (["--tree", "sterling"], "ALLOY:FLASK=GRAMS"),
        (["--tree", "sterling=4", "--wax-density", "9"], "between 0.5 and 3"),
        (["--bring", "gold-9ct=4"], 'no alloy ""'),
    ],
)
def test_what_is_off_is_told(troytag, words, told):
    ran = troytag(*POUR, *words)
    assert ran.code == 2 and told in ran.err and not ran.out
