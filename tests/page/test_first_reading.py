"""A large folder: the first view is there at once and says what is being done, then the catalogue takes its place."""

from __future__ import annotations

import time

import pytest

from pricing.page import workspace
from tests.waiting import LONG


@pytest.fixture(autouse=True)
def at_once(monkeypatch):
    """The few products of the sample count as many, and nobody waits for them."""
    monkeypatch.setattr(workspace, "MANY_PRODUCTS", 1)
    monkeypatch.setattr(workspace, "FIRST_WAIT", 0.0)


def until_read(served) -> list[str]:
    """What was being done until it was read."""
    told, end = [], time.monotonic() + LONG
    while time.monotonic() < end:
        answer = served.get("/reading")
        if answer.headers.get("hx-refresh") == "true":
            return told
        told.append(answer.words)
        time.sleep(0.02)
    raise AssertionError(f"it is never read: {told[-1:]}")


def test_a_first_view_says_what_is_being_done(served):
    count = len(list((served.root / "products").iterdir()))
    first = served.get("/")
    assert first.status == 200 and first.headers["cache-control"] == "no-store"
    assert f"Reading {count} products." in first.words and 'hx-get="/reading"' in first.text
    told = until_read(served)
    assert all("<" not in each and each.endswith(".") for each in told)
    assert "Acorn drawer knob" in served.get("/").words


def test_what_is_wrong_with_it_is_told_once_it_is_read(served):
    (served.root / "products" / "thimble.toml").write_text("sku = ")
    assert "Reading" in served.get("/metal").words
    until_read(served)
    assert "products/thimble.toml" in served.get("/metal").words
