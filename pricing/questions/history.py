"""Which history of metal a question goes by: the kept one, or a table of somebody else's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pricing.errors import UsageFault
from pricing.questions.option import Option, Refused

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.studies.metal_history.moves import History

#: What a question that goes by a history takes besides its own.
OPTIONS = (
    Option(
        "history", "file", "A table of days and prices; the kept price history if left out.", example="FILE",
        on_page=False,
    ),
    Option(
        "column", "words", "Which column of the table is a metal's (may be repeated).", several=True,
        example="METAL=NAME", on_page=False,
    ),
    Option("mend", "switch", "Leave out days with slips instead of refusing them.", on_page=False),
)  # fmt: skip


def history_of(subject: Subject, said: Mapping[str, Any]) -> tuple[History, str]:
    """The history, and what it is called. Raises UsageFault and Faults."""
    from pricing.studies.metal_history.moves import kept_history, read_history

    resolved, named = subject.costing.computed.resolved, _columns(said.get("column") or ())
    file: Path | None = said.get("history")
    if file is not None:
        return read_history(file, resolved, named, bool(said.get("mend"))), file.name
    if named or said.get("mend"):
        raise UsageFault("--column and --mend are about a table. Name it with --history.")
    return kept_history(subject.stated.quotes, resolved), "the kept price history"


def _columns(texts: Sequence[str]) -> dict[str, str]:
    found = {}
    for text in texts:
        metal, sign, name = text.partition("=")
        if not (metal and sign and name):
            raise Refused("column", f"--column {text}: write a metal and its column, as Au=gold.")
        found[metal] = name
    return found
