"""Spans done by this process: one after the other, or several side by side, each by one thread of its own."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

from pricing.formulas.kernel.run import ROWS_A_THREAD, processors
from pricing.many.stream import Ready, put_part, summarise
from pricing.many.summary import Summary
from pricing.many.variants import Span


def done_here(made: Ready, spans: list[Span], targets: list[Path] | None) -> Iterator[Summary]:
    """Do spans, each into its place where there are any, and give in their order what each comes to.

    Where there is but one, or few rows, its formulas take all processors.
    """
    places: list[Path | None] = [*targets] if targets else [None] * len(spans)
    side_by_side = min(processors(), sum(span.rows >= ROWS_A_THREAD for span in spans))
    if side_by_side < 2:
        for span, place in zip(spans, places, strict=True):
            yield _done(made, span, place, 0)
        return
    under_way: deque[Future[Summary]] = deque()
    with ThreadPoolExecutor(side_by_side) as pool:
        try:
            for span, place in zip(spans, places, strict=True):
                under_way.append(pool.submit(_done, made, span, place, 1))
                if len(under_way) > side_by_side:
                    yield under_way.popleft().result()
            while under_way:
                yield under_way.popleft().result()
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


def _done(made: Ready, span: Span, target: Path | None, threads: int) -> Summary:
    return summarise(made, span, threads) if target is None else put_part(made, span, target, threads)
