"""The page attacked by its own list of addresses and forms, from fixed seeds; `python -m tests.fuzz page` goes on."""

from __future__ import annotations

import pytest

from pricing.page.server import app as served_app
from tests.fuzz.page import Asked, Attacked, attack


@pytest.mark.parametrize("begin", [1, 2, 3])
def test_no_request_does_what_it_must_not(tmp_path, begin):
    found = attack(tmp_path, examples=40, begin=begin)
    assert found.asked >= 40 and found.answers[200] >= 1
    assert found.answers[403] >= 3  # always asked, whatever is drawn


def test_the_attack_sees_a_fault(tmp_path, monkeypatch):
    """The check itself: a view that raises, one that writes beside the folder, one that tells a secret."""
    attacked = Attacked(tmp_path)
    view = Asked("GET", "/lists", "", "", b"", "both", "")

    def put_in_place_of_lists(answer) -> None:
        monkeypatch.setattr(served_app.lists, "lists", answer)
        attacked.begin()

    def raises(request):
        raise KeyError("price")

    def writes(request):
        (tmp_path / "evil.toml").write_text("x")
        return served_app.missing(request, "done")

    def tells(request):
        return served_app.missing(request, (tmp_path / "secret.toml").read_text())

    for answer, expected in ((raises, KeyError), (writes, AssertionError), (tells, AssertionError)):
        put_in_place_of_lists(answer)
        with pytest.raises(expected):
            attacked.ask(view)
