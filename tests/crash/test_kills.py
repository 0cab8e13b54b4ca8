"""Whatever is written, a kill at any moment leaves it whole or not there, and nothing told as written is lost."""

from __future__ import annotations

import os

import pytest

from tests.crash.killing import kill_often
from tests.crash.kinds import KINDS

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="the kills are aimed at forked processes"),
]


#: An entry of the drawer is written as a batch is, and with one.
@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "stock"])
def test_kills_tear_and_lose_nothing(kind, tmp_path):
    found = kill_often(KINDS[kind](), tmp_path / "workshop", times=8, seed=20261120)
    assert found.standing >= found.told
    assert found.standing > 0
