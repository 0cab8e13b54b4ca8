"""The same spans by the workers of a Dask cluster: what each makes is sent back, and put in place here alone.

So a worker that is killed changes nothing: its spans are done by another one, and nobody else writes. All workers
must see the files under the same names, and compute as it is done here (compiled, or not); one that does not is told.
"""

from __future__ import annotations

import io
import os
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from distributed import Client, LocalCluster

from pricing.errors import TroytagError
from pricing.many.run import Doing
from pricing.many.stream import Job, Ready, ready, summarise, write_part
from pricing.many.summary import Summary
from pricing.many.variants import Span

if TYPE_CHECKING:
    from distributed import Future

#: Spans that wait at each worker beside the one that is done: what is sent back is held until its turn comes.
WAITING = 2
#: So often a span is tried again whose worker went away.
TRIES = 5


@dataclass(frozen=True)
class Came:
    """What came of a span at a worker."""

    content: bytes | None
    summary: Summary


def on_cluster(address: str | None, workers: int | None) -> Doing:
    """Does spans by the workers of a scheduler, or by so many of this machine."""

    def doing(made: Ready, spans: list[Span], writes: bool) -> Iterator[tuple[bytes | None, Summary]]:
        with client(address, workers) as held:
            yield from _done(held, made, spans, writes)

    return doing


def done_by(held: Client) -> Doing:
    """Does spans by the workers of a client that is there already."""
    return lambda made, spans, writes: _done(held, made, spans, writes)


def client(address: str | None, workers: int | None) -> Client:
    """A client of the scheduler at an address, or of a cluster on this machine. Raises TroytagError."""
    if address is None:
        cluster = LocalCluster(
            n_workers=workers or 1, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0",
            memory_limit="2GiB", host="127.0.0.1", silence_logs=50,
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


def _done(held: Client, made: Ready, spans: list[Span], writes: bool) -> Iterator[tuple[bytes | None, Summary]]:
    """What comes of each span, in order; so many are under way as keep all workers busy."""
    wanted = deque(spans)
    under_way: deque[Future[Came]] = deque()
    while wanted or under_way:
        most = WAITING * max(1, len(held.scheduler_info(n_workers=-1)["workers"]))
        while wanted and len(under_way) < most:
            span = wanted.popleft()
            under_way.append(held.submit(span_at_worker, made.job, span, made.key, writes, pure=False, retries=TRIES))
        came: Came = under_way.popleft().result()
        yield came.content, came.summary


def span_at_worker(job: Job, span: Span, key: str, writes: bool) -> Came:
    """One span, in the process of a worker. Raises TroytagError where it would come to other figures there."""
    made = ready(job)
    if made.key != key:  # perhaps it is made ready of files that were other ones then
        ready.cache_clear()
        made = ready(job)
    if made.key != key:
        raise TroytagError(
            "a worker sees other files, or has another release or no compiler: it would come to other figures. "
            f"Let {job.variants} be the same for all, with the same troytag; TROYTAG_COMPILER=off on all, or on none."
        )
    if not writes:
        return Came(None, summarise(made, span))
    sink = io.BytesIO()
    summary = write_part(made, span, sink)
    return Came(sink.getvalue(), summary)


def processes(held: Client) -> Iterable[int]:
    """The processes of all workers."""
    found = held.run(os.getpid)
    return tuple(found.values())
