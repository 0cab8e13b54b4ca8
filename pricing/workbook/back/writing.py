"""Writes a proposal: all of its files or none, none where one was changed by somebody else meanwhile."""

from __future__ import annotations

from pricing.folder.whole_files import held, put_in_places
from pricing.workbook.back.proposal import Proposal


def write(proposal: Proposal, what: str = "import") -> None:
    """Write what was proposed, all or none; `what` is a word for it.

    Raises Faults where a file was changed since it was read.
    """
    if not proposal.files:
        return
    with held(proposal.root):
        put_in_places(proposal.root, proposal.files, proposal.expected, what)
