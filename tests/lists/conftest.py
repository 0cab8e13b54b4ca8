"""One costing of the sample for all, and pictures kept where only these tests look."""

from __future__ import annotations

import pytest

from pricing.resources import sample_catalog
from tests.lists.fernhollow import costing_of


@pytest.fixture(scope="package")
def kept(tmp_path_factory):
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(autouse=True)
def own_cache(monkeypatch, kept):
    monkeypatch.setenv("TROYTAG_CACHE", str(kept))


@pytest.fixture(scope="package")
def sample():
    """The sample as of 2026-11-20; nobody changes it."""
    return costing_of(sample_catalog())
