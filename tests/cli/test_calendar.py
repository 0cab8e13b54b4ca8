"""No command trips over the ends of the calendar."""

from __future__ import annotations

import pytest

from tests.folder.workshops import changed, write


@pytest.mark.parametrize("on", ["0001-01-01", "9999-12-31"])
@pytest.mark.parametrize("words", [("metal", "shop", "list"), ("export", "shop", "list"), ("cost", "shop")])
def test_the_ends_of_the_calendar(tmp_path, troytag, monkeypatch, words, on):
    write(tmp_path / "shop", changed())
    monkeypatch.chdir(tmp_path)
    ran = troytag(*words, "--as-of", on)
    assert ran.code == 2 and ran.err.startswith(f"{on} lies outside the years 1900 to 2200.")


@pytest.mark.parametrize("on", ["1900-01-01", "2200-12-31"])
@pytest.mark.parametrize("words", [("metal", "shop", "list"), ("export", "shop", "list"), ("cost", "shop")])
def test_the_ends_that_are_counted(tmp_path, troytag, monkeypatch, words, on):
    """Before all quotes it is told that there are none, after them how old they are."""
    write(tmp_path / "shop", changed())
    monkeypatch.chdir(tmp_path)
    ran = troytag(*words, "--as-of", on)
    said = " ".join(ran.err.split())
    assert "days old" in said or f"on or before {on}" in said or "on or before that day" in said
