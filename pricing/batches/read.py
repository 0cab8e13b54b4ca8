"""Reading the log: every batch, and those that count once corrections have taken their places."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from pricing.batches.model import Batch
from pricing.errors import Fault
from pricing.kept import chain as kept
from pricing.kept.series import Series
from pricing.kept.shape import from_json, misshapen_by
from pricing.several_files import finish

FOLDER = "log"


def _built(content: object) -> Batch:
    return from_json(Batch, content)


LOG = Series(
    folder=FOLDER,
    key="batch",
    one="batch",
    many="batches",
    day="day",
    added="written",
    misshapen=lambda content: misshapen_by(_built, content),
    over_gap="troytag log {root} add … --over-gap",
    both_whole="Keep one as {file}, move the other out of the folder, then write its card down again.",
    most_bytes=4 * 2**20,
)


def read_log(root: Path) -> tuple[Batch, ...]:
    """The batches that count, by their days and numbers: a corrected one has given its place to the one that corrects
    it, one that was struck out is left out. An empty log gives none.

    Raises Faults where any entry of the log is torn, changed, missing or out of the chain.
    """
    written = read_every_batch(root)
    corrected = {batch.corrects for batch in written}
    standing = (batch for batch in written if batch.number not in corrected and batch.flasks)
    return tuple(sorted(standing, key=lambda batch: (batch.day, batch.number)))


def read_every_batch(root: Path) -> tuple[Batch, ...]:
    """Every batch that was ever written down, also those that were corrected since, by number. Raises as `read_log`."""
    finish(root)
    return tuple(_built(entry.content) for entry in kept.read_all(root, LOG))


def between(batches: tuple[Batch, ...], first: date | None, last: date | None) -> tuple[Batch, ...]:
    """Those poured from one day to another, both included; None is open."""
    return tuple(each for each in batches if (first or each.day) <= each.day <= (last or each.day))


def log_faults(root: Path) -> list[Fault]:
    """Everything that is wrong with the log of a folder."""
    return kept.chain_faults(root, LOG)
