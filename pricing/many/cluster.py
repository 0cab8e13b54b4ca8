"""The same spans by the workers of a Dask cluster: each writes its parts itself where it shares the disk.

A worker does where it sees this very run's journal; else what it makes is sent back and put in place here. So a worker
that is killed changes nothing: its spans are done by another one, to the same bytes. Each span takes one thread of its
worker. All workers must see the files under the same names, and compute as it is done here (compiled, or not); one
that does not is told.
"""

from __future__ import annotations

import io
import os
import time
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from distributed import Client, LocalCluster

from pricing.errors import TroytagError
from pricing.many.exchange import said
from pricing.many.run import Doing
from pricing.many.stream import Job, Ready, put_part, ready, summarise, write_part
from pricing.many.summary import Summary
from pricing.many.variants import Span
from pricing.safe_files import write_whole

if TYPE_CHECKING:
    from distributed import Future

#: Spans under way for each thread of a worker: so that none waits for the next, and little is held that was sent back.
WAITING = 2
#: So often a span is tried again whose worker went away.
TRIES = 5
#: Dask has workers give back all memory at once, to get it anew for the next batch page by page: half as much work
#: again. They keep that of a batch.
KEPT_MEMORY = MappingProxyType({"MALLOC_TRIM_THRESHOLD_": str(2**28), "MALLOC_MMAP_THRESHOLD_": str(2**25)})
#: So many seconds may pass until what a worker has written is seen here, on a disk that is shared.
PATIENCE = 30.0


@dataclass(frozen=True)
class Came:
    """What came of a span at a worker; no content where it was written there, or was not asked for."""

    content: bytes | None
    summary: Summary


def on_cluster(address: str | None, workers: int | None) -> Doing:
    """Does spans by the workers of a scheduler, or by so many of this machine."""

    def doing(made: Ready, spans: list[Span], targets: list[Path] | None) -> Iterator[Summary]:
        with client(address, workers) as held:
            yield from _done(held, made, spans, targets)

    return doing


def done_by(held: Client) -> Doing:
    """Does spans by the workers of a client that is there already."""
    return lambda made, spans, targets: _done(held, made, spans, targets)


def client(address: str | None, workers: int | None) -> Client:
    """A client of the scheduler at an address, or of a cluster on this machine. Raises TroytagError."""
    if address is None:
        cluster = LocalCluster(
            n_workers=workers or 1, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0",
            memory_limit="2GiB", host="127.0.0.1", silence_logs=50, env=dict(KEPT_MEMORY),
        )  # fmt: skip
        return _Owning(cluster)
    try:
        return Client(address, timeout=10)
    except (OSError, ValueError, TypeError) as fault:
        raise TroytagError(f"{address}: no scheduler answers there ({fault}).") from None


class _Owning(Client):
    """A client that ends its cluster when it is done."""

    def __init__(self, cluster: Any):
        super().__init__(cluster)
        self._own = cluster

    def __exit__(self, *fault: object) -> None:
        self.close()
        self._own.close()


def _done(held: Client, made: Ready, spans: list[Span], targets: list[Path] | None) -> Iterator[Summary]:
    """Does each span, in order; so many are under way as keep all workers busy."""
    places: list[Path | None] = [*targets] if targets else [None] * len(spans)
    wanted = deque(zip(spans, places, strict=True))
    run = said(targets[0].parent).get("run") if targets else None
    under_way: deque[tuple[Path | None, Future[Came]]] = deque()
    while wanted or under_way:
        most = WAITING * max(1, sum(each["nthreads"] for each in held.scheduler_info(n_workers=-1)["workers"].values()))
        while wanted and len(under_way) < most:
            span, target = wanted.popleft()
            place = None if target is None else str(target.absolute())
            asked = (made.job, span, made.seen, place, run)
            under_way.append((target, held.submit(span_at_worker, *asked, pure=False, retries=TRIES)))
        target, future = under_way.popleft()
        came: Came = future.result()
        if target is not None:
            _put(target, came.content)
        yield came.summary


def _put(target: Path, content: bytes | None) -> None:
    """Put what was sent in its place. What a worker has written is there, or comes into sight soon."""
    if content is not None:
        write_whole(target, content)
        return
    until = time.monotonic() + PATIENCE
    while not target.is_file():
        if time.monotonic() > until:
            raise TroytagError(f"{target} was written by a worker and is not to be seen here. Give the command again.")
        time.sleep(0.1)


def span_at_worker(job: Job, span: Span, seen: str, target: str | None, run: str | None) -> Came:
    """One span, in the process of a worker. Raises TroytagError where it would come to other figures there."""
    made = ready(job)
    if made.seen != seen:  # perhaps it is made ready of files that were other ones then
        ready.cache_clear()
        made = ready(job)
    if made.seen != seen:
        raise TroytagError(
            "a worker sees other files, or has another release or no compiler: it would come to other figures. "
            f"Let {job.variants} be the same for all, with the same troytag; TROYTAG_COMPILER=off on all, or on none."
        )
    if target is None:
        return Came(None, summarise(made, span, threads=1))
    if run is not None and said(Path(target).parent).get("run") == run:
        return Came(None, put_part(made, span, Path(target), threads=1))
    sink = io.BytesIO()
    summary = write_part(made, span, sink, threads=1)
    return Came(sink.getvalue(), summary)


def processes(held: Client) -> Iterable[int]:
    """The processes of all workers."""
    found = held.run(os.getpid)
    return tuple(found.values())
