"""One costing of the sample for all, and pictures kept where only these tests look."""

from __future__ import annotations

import os

import pytest

from pricing.resources import sample_catalog
from tests.lists.fernhollow import costing_of


@pytest.fixture(scope="package")
def kept(tmp_path_factory):
    own = tmp_path_factory.getbasetemp()
    together = (
        own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    )  # each picture is drawn once, not once a worker
    return together / "pictures kept"


@pytest.fixture(autouse=True)
def own_cache(monkeypatch, kept):
    monkeypatch.setenv("TROYTAG_CACHE", str(kept))


@pytest.fixture(scope="package")
def sample():
    """The sample as of 2026-11-20; nobody changes it."""
    return costing_of(sample_catalog())
