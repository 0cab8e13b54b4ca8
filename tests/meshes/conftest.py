"""Meshes in tests are measured afresh: nothing is kept in the user's cache folder."""

import pytest


@pytest.fixture(autouse=True)
def no_cache(monkeypatch):
    monkeypatch.setenv("TROYTAG_CACHE", "off")
