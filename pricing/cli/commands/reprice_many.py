"""`troytag reprice --from FILE`: the prices of very many variants, out of Parquet and into Parquet."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pricing.errors import TroytagError, UsageFault
from pricing.extras import missing

if TYPE_CHECKING:
    from pricing.many.run import Done, Progress
    from pricing.many.stream import Ready

#: The exit code of what was stopped by Ctrl-C: 128 and the signal's number, 2, as shells have it.
STOPPED = 130


@dataclass(frozen=True)
class Asked:
    """What was said on the command line."""

    variants: Path
    to: Path | None
    summary: bool
    under: float
    spot: Sequence[str]
    workshop: Path | None
    workers: int | None
    scheduler: str | None


def reprice_many(asked: Asked, force: bool, json: bool) -> None:
    """Price all variants, tell how far it is, and say what came of it."""
    _consistent(asked)
    try:
        from pricing.many.files import bounded_memory
    except ImportError:
        raise missing("reprice --from", "pyarrow", "parquet") from None
    from contextlib import nullcontext

    from pricing.cli.screens import many as screens
    from pricing.many.exchange import settle
    from pricing.many.run import begun, check_target
    from pricing.many.stream import Job, ready

    if asked.to is not None:
        if put_right := settle(asked.to):
            screens.note(put_right)
        check_target(asked.to, force, (asked.variants,))
    named = None if asked.workshop is None else str(asked.workshop.absolute())
    job = Job(str(asked.variants.absolute()), named, tuple(_spot(asked.spot).items()), asked.under)
    with nullcontext() if asked.workers or asked.scheduler else bounded_memory():
        try:
            began, used = time.monotonic(), time.process_time()
            made = ready(job)
            if asked.to is not None and (stand := begun(asked.to)):
                screens.note(f"{stand} of {len(made.spans)} parts of a run before stand already; they are looked at.")
            with screens.telling(made.source.many) as tell:
                done = _done(made, asked, force, tell)
        except KeyboardInterrupt:
            kept = (
                "what is done is kept, and the same command goes on from there" if asked.to else "nothing was written"
            )
            screens.note(f"Stopped: {kept}.")
            raise SystemExit(STOPPED) from None
        except MemoryError:
            raise TroytagError(
                f"{asked.variants}: more than a gibibyte of memory is needed. Write smaller row groups, of 65,536 rows."
            ) from None
    taken = {"seconds": time.monotonic() - began, "processor_seconds": time.process_time() - used}
    record = _record(made, done, asked.to, taken)
    if json:
        from pricing.cli.screens.screen import print_json

        print_json(record)
    else:
        screens.show(record)


def _done(made: Ready, asked: Asked, force: bool, tell: Progress) -> Done:
    from pricing.many.here import done_here
    from pricing.many.run import Doing, priced, summarised

    doing: Doing = done_here
    if asked.workers or asked.scheduler:
        try:
            from pricing.many.cluster import on_cluster
        except ImportError:
            raise missing("--workers and --scheduler", "dask", "cluster") from None
        doing = on_cluster(asked.scheduler, asked.workers)
    if asked.to is None:
        return summarised(made, tell, doing)
    return priced(made, asked.to, force, tell, doing)


def _consistent(asked: Asked) -> None:
    if asked.summary == (asked.to is not None):
        raise UsageFault("Say where the prices go, --to FILE, or ask for --summary alone.")
    if asked.workers is not None and not 1 <= asked.workers <= 1_000:
        raise UsageFault(f"--workers {asked.workers}: at least one.")
    if asked.workers is not None and asked.scheduler is not None:
        raise UsageFault("--workers and --scheduler: say which of the two.")
    if not math.isfinite(asked.under):
        raise UsageFault(f"--under {asked.under}: state a margin, as 0.25.")


def _spot(texts: Sequence[str]) -> Mapping[str, float]:
    """Prices of metal by name. Raises UsageFault for what is no METAL=PRICE."""
    from pricing.extremes import HIGHEST_PRICE, LOWEST_PRICE

    found: dict[str, float] = {}
    for text in texts:
        name, _, price = text.partition("=")
        try:
            found[name] = float(price)
        except ValueError:
            raise UsageFault(f"--spot {text}: write METAL=PRICE, as Ag=31.20.") from None
        if not LOWEST_PRICE <= found[name] <= HIGHEST_PRICE:
            raise UsageFault(f"--spot {text}: that is no price of a metal.")
    return found


def _record(made: Ready, done: Done, to: Path | None, taken: Mapping[str, float]) -> dict[str, Any]:
    from pricing.many.summary import records

    return {
        "as_of": made.workshop.as_of.isoformat(),
        "currency": made.workshop.currency,
        "rows": made.source.many,
        "variants": done.summary.variants,
        "prices": int(done.summary.verdicts.sum()),
        "to": None if to is None else str(to),
        "parts": done.parts,
        "parts_of_a_run_before": done.continued,
        "computed": "compiled" if made.compiled else "numpy",
        **taken,
        "channels": records(done.summary, made.channels, made.job.under),
    }
