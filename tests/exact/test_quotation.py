"""What quantities are offered at, against the exact results of the workshop that has everything in it."""

from __future__ import annotations

import json
from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.studies.quantity.quoting import offered, quotation_record
from tests.folders import alder_wharf

QUOTED = json.loads((alder_wharf() / "expected_quote.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def costing():
    return cost(alder_wharf(), asked_for(date(2026, 11, 20)))


@pytest.mark.parametrize("exact", QUOTED, ids=lambda exact: f"{exact['sku']} in {exact['channel']}")
def test_every_figure_of_every_offer(costing, exact):
    variants = costing.computed.resolved.variants
    row = next(row for row, each in enumerate(variants) if (each.sku, each.alloy) == (exact["sku"], exact["alloy"]))
    quantities = [offer["quantity"] for offer in exact["offers"]]
    (found,) = offered(costing, [row], exact["channel"], reversed(quantities))
    got = quotation_record(found)
    assert got.keys() == exact.keys()
    for name in exact.keys() - {"offers"}:
        assert got[name] == exact[name], name
    assert len(got["offers"]) == len(exact["offers"])
    for mine, other in zip(got["offers"], exact["offers"], strict=True):
        assert mine.keys() == other.keys()
        for name, value in other.items():
            same = (
                value if isinstance(value, (str, bool)) or value is None else pytest.approx(value, rel=1e-9, abs=1e-9)
            )
            assert mine[name] == same, (other["quantity"], name)
