"""A bar for what takes long."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(label: str) -> Iterator[Callable[[float], None]]:
    """A bar on a terminal, told the share that is done; nothing elsewhere, and where there is nothing to say."""
    if not label or not sys.stderr.isatty():
        yield lambda share: None
        return
    from rich.progress import Progress

    from pricing.cli.screens import screen

    with Progress(console=screen.err(), transient=True) as bar:
        task = bar.add_task(label, total=1.0)
        yield lambda share: bar.update(task, completed=share)
