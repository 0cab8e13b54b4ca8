"""What a command uses is its own: neither the machine's slowness nor what these tests hold counts against it."""

from __future__ import annotations

from tests import waiting
from tests.bounded import bounded


def test_a_slow_machine_may_take_longer_and_ours_twice_as_long_beside_others(monkeypatch):
    monkeypatch.setattr(waiting, "_work", lambda: 3 * waiting._HERE)
    assert waiting.affordable(29.9, 5) and not waiting.affordable(30.1, 5)
    monkeypatch.setattr(waiting, "_work", lambda: waiting._HERE / 3)
    assert waiting.affordable(9.9, 5) and not waiting.affordable(10.1, 5)


def test_what_the_tests_hold_in_memory_is_not_the_command_s(tmp_path):
    held = bytearray(b"x") * 2**28  # 256 MiB; the command itself needs some 20
    assert bounded("--version", folder=tmp_path).most_bytes < len(held) / 2
