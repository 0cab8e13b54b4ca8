"""Spans done by the workers of a cluster: the same file to the byte, and a worker that is killed changes nothing."""

from __future__ import annotations

import os
import signal
from concurrent.futures import Future

import pytest

from pricing.errors import TroytagError
from pricing.many import cluster, stream
from pricing.many.cluster import client, done_by, processes
from pricing.many.run import priced
from pricing.many.stream import Job, ready
from pricing.many.summary import records
from tests.many_files import grown


class AtOnce:
    """A client whose one worker is this process; what it is asked is done at once."""

    def scheduler_info(self, n_workers):
        return {"workers": {"here": {"nthreads": 1}}}

    def submit(self, function, *given, **how):
        done: Future = Future()
        done.set_result(function(*given))
        return done


@pytest.mark.parametrize("shared", [True, False])
def test_workers_write_their_parts_where_they_share_the_disk(exported, tmp_path, monkeypatch, shared):
    """Else they are sent back; a journal of another run at the same place is not taken for this one's."""
    path = grown(exported.folder, tmp_path / "in", 80, 40)
    monkeypatch.setattr(stream, "PART_PRICES", 200)
    ready.cache_clear()
    made = ready(Job(str(path), None))
    alone, target = tmp_path / "alone.parquet", tmp_path / "by_worker.parquet"
    expected = priced(made, alone, False, lambda done, of: None)
    sent = []

    def put(target, content, real=cluster._put):
        sent.append(content is not None)
        real(target, content)

    monkeypatch.setattr(cluster, "_put", put)
    if not shared:
        runs = iter("abcd")  # what the client reads first, and what a worker finds
        monkeypatch.setattr(cluster, "said", lambda folder: {"run": next(runs)})
    found = priced(made, target, False, lambda done, of: None, done_by(AtOnce()))
    assert sent == [not shared] * 2 and target.read_bytes() == alone.read_bytes()
    assert records(found.summary, made.channels, 0.0) == records(expected.summary, made.channels, 0.0)


def test_a_part_that_does_not_come_into_sight_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(cluster, "PATIENCE", 0.0)
    with pytest.raises(TroytagError, match="was written by a worker and is not to be seen here"):
        cluster._put(tmp_path / "part-000000.parquet", None)


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
