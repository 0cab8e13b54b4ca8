"""Spans done by the workers of a cluster: the same file to the byte, and a worker that is killed changes nothing."""

from __future__ import annotations

import os
import signal

import pytest

from pricing.many import stream
from pricing.many.cluster import client, done_by, processes
from pricing.many.run import priced
from pricing.many.stream import Job, ready
from pricing.many.summary import records
from tests.many_files import grown


@pytest.mark.slow
def test_a_worker_that_is_killed_changes_nothing(exported, tmp_path, monkeypatch):
    path = grown(exported.folder, tmp_path / "in", 320, 40)
    monkeypatch.setattr(stream, "PART_PRICES", 200)
    ready.cache_clear()
    made = ready(Job(str(path), None))
    alone, shared = tmp_path / "alone.parquet", tmp_path / "shared.parquet"
    expected = priced(made, alone, False, lambda done, of: None)
    killed: list[int] = []

    def kill_one(done, of):
        """As soon as the first part is there, one of the workers goes, in the midst of its spans."""
        if done and not killed:
            killed.extend(list(processes(held))[:1])
            os.kill(killed[0], signal.SIGKILL)

    with client(None, 2) as held:
        found = priced(made, shared, False, kill_one, done_by(held))
        assert len(killed) == 1 and len(made.spans) == 8
    assert shared.read_bytes() == alone.read_bytes()
    wanted = records(expected.summary, made.channels, 0.0)
    assert records(found.summary, made.channels, 0.0) == wanted
