"""Workbooks that come back: what they would change in a workshop folder, and writing it with comments kept."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from pricing.errors import TroytagError
from pricing.workbook.back.cells import read_workbook
from pricing.workbook.back.proposal import WANTED, Proposal, proposal

__all__ = ["Proposal", "propose"]


def propose(file: Path, root: Path, as_of: date | None = None) -> Proposal:
    """What a workbook would change in the folder at `root`: an exported one that was changed, or a filled template.

    `as_of` is the day of prices that were typed, default today. Raises UsageFault, TroytagError (one sentence, for a
    file that is not opened) or Faults with everything that is wrong in it.
    """
    from pricing.workbook.template.filled import template_proposal
    from pricing.workbook.template.sheet import SHEET

    incoming = read_workbook(file, (SHEET, *WANTED))
    if SHEET in incoming.sheets:
        return template_proposal(incoming, root)
    if "Inputs" not in incoming.sheets:
        raise TroytagError(
            f"{file} has neither a sheet Inputs nor a sheet {SHEET}: import takes what troytag exported "
            "(export FOLDER xlsx, export FOLDER template)."
        )
    return proposal(incoming, root, as_of)
