"""Python's search for garbage, put off while very many objects are made that stay."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Nothing is searched for garbage meanwhile: a reading makes hundreds of thousands of objects and keeps them.

    Afterwards it is as it was before, also where readings overlap in several threads: the first to begin puts it back.
    What was made counts as old then, and is not looked through at once.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.freeze()
            gc.unfreeze()
            gc.enable()
