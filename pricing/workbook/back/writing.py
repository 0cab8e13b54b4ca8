"""Writes a proposal: every file whole, none where one of them was changed by somebody else meanwhile."""

from __future__ import annotations

from pricing.errors import Faults, TroytagError
from pricing.folder.whole_files import changed_meanwhile, hash_of, held, put_in_place
from pricing.workbook.back.proposal import Proposal


def write(proposal: Proposal) -> None:
    """Write what was proposed. Raises Faults where a file was changed since it was read: then nothing is written.

    Where a disk gives up half-way, the error says which files stand as they shall already.
    """
    if not proposal.files:
        return
    with held(proposal.root):
        for file, expected in proposal.expected.items():
            if hash_of(proposal.root, file) != expected:
                raise changed_meanwhile(file)
        done: list[str] = []
        for file, content in proposal.files.items():
            try:
                put_in_place(proposal.root, file, content, proposal.expected[file])
            except Faults as refused:
                if not done:
                    raise
                raise TroytagError(f"{refused}\n{', '.join(done)}: written already. Import the rest again.") from None
            done.append(file)
