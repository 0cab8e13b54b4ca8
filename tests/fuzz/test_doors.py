"""A few examples of each door at every run, the same ones; `python -m tests.fuzz DOOR --minutes N` draws others."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from tests.fuzz.doors import REFUSED, doors
from tests.fuzz.spoilt import spoilt

DOORS = doors()
EXAMPLES = 60


@pytest.mark.parametrize("name", DOORS)
def test_sound_content_is_taken_in(name, tmp_path):
    for seed, content in DOORS[name].seeds.items():
        DOORS[name].take_in(seed, content, tmp_path)


@pytest.mark.parametrize("name", DOORS)
def test_whatever_comes_in_is_taken_or_told(name, tmp_path, monkeypatch):
    monkeypatch.setenv("TROYTAG_CACHE", "off")
    door = DOORS[name]

    @settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
    @given(spoilt(door.seeds))
    def enters(example):
        try:
            door.take_in(*example, tmp_path)
        except REFUSED as told:
            assert str(told)

    enters()
