"""The sample, costed once, and a plan of it."""

from __future__ import annotations

from datetime import date

import pytest

pytest.importorskip("scipy")

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.pouring.plan import plan  # noqa: E402
from pricing.pouring.wants import want_of  # noqa: E402
from pricing.resources import sample_catalog  # noqa: E402
from tests.cli.conftest import troytag  # noqa: E402, F401 (a fixture)

WANTS = ("thimble:sterling=12", "cloak-clasp:sterling=5", "acorn-knob:yellow-brass=10", "hawthorn-charm:sterling=30")


@pytest.fixture(scope="session")
def sample():
    return cost(sample_catalog(), asked_for(date(2026, 11, 20)))


@pytest.fixture(scope="session")
def planned(sample):
    return plan(sample, [want_of(text) for text in WANTS])
