"""`[show]`: what people see is in the units that they chose; JSON and CSV stay in gram."""

from __future__ import annotations

import json
import shutil

import pytest

from pricing.resources import sample_catalog

AS_OF = ("--as-of", "2026-11-20")
GRAMS_PER = {"g": 1.0, "dwt": 1.55517384, "ozt": 31.1034768}
KNOB = ("--sku", "acorn-knob")


@pytest.fixture(params=["g", "dwt", "ozt"])
def unit(request, tmp_path) -> str:
    """A copy of the sample beside, which shows masses in this unit."""
    root = tmp_path / "shop"
    shutil.copytree(sample_catalog(), root)
    path = root / "workshop.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count('mass = "g"') == 1
    path.write_text(text.replace('mass = "g"', f'mass = "{request.param}"'), encoding="utf-8")
    return request.param


def mass(grams: float, unit: str) -> str:
    return f"{grams / GRAMS_PER[unit]:,.{3 if unit == 'ozt' else 2}f}"


def records(troytag, root, *words) -> list[dict]:
    return json.loads(troytag("cost", root, *AS_OF, *words, "--json").out)["variants"]


def test_json_stays_in_gram(troytag, tmp_path, unit):
    assert records(troytag, tmp_path / "shop") == records(troytag, sample_catalog())


def test_the_card_of_a_variant(troytag, tmp_path, unit):
    (record,) = records(troytag, sample_catalog(), *KNOB, "--alloy", "sterling")
    out = troytag("cost", tmp_path / "shop", *AS_OF, *KNOB, "--alloy", "sterling").out
    finished, as_cast = mass(record["finished_g"], unit), mass(record["as_cast_g"], unit)
    assert f"{finished} {unit} finished, {as_cast} {unit} as cast" in out


def test_the_list_of_all(troytag, tmp_path, unit):
    out = troytag("cost", tmp_path / "shop", *AS_OF).out
    heads = next(line for line in out.splitlines() if line.startswith("product, alloy"))
    assert heads.split()[2] == unit
    shown = [line.split()[1] for line in out.splitlines() if line.startswith("  ")]
    made = records(troytag, sample_catalog())
    joined = [record for record in made if not record["finished_g"]]  # of pieces that weigh something, itself nothing
    assert [record["sku"] for record in joined] == ["workbox-gift-set"]
    weights = {(record["sku"], record["alloy"]): record["finished_g"] for record in made}
    in_it = [weights[part["sku"], part["alloy"]] * part["quantity"] for part in joined[0]["parts"]]
    assert shown == [mass(record["finished_g"] or sum(in_it), unit) for record in made]


def test_alloys_side_by_side(troytag, tmp_path, unit):
    pair = ("--alloy", "yellow-brass", "--alloy", "sterling")
    brass, sterling = records(troytag, sample_catalog(), *KNOB, *pair)
    out = troytag("cost", tmp_path / "shop", *AS_OF, *KNOB, *pair).out
    line = next(line for line in out.splitlines() if line.startswith(f"finished, {unit} "))
    assert line.split()[2:4] == [mass(brass["finished_g"], unit), mass(sterling["finished_g"], unit)]
