"""What stands around every view."""

from __future__ import annotations

from pricing.errors import told_once
from pricing.page.rendering import Frame
from pricing.page.workspace import Look, Workspace
from pricing.shown import metal_of

#: Of a long list of warnings only so many are shown.
MOST_NOTES = 12


def frame(workspace: Workspace, look: Look, view: str, title: str) -> Frame:
    """The frame of a folder that can be costed, with what was just done."""
    asked, stated = look.costing.asked, look.costing.folder.stated
    notes = told_once(look.costing.warnings)
    if len(notes) > MOST_NOTES:
        notes = [*notes[:MOST_NOTES], f"and {len(notes) - MOST_NOTES} more: troytag check tells all"]
    day, currency = asked.as_of.isoformat(), stated.workshop.currency
    metal = metal_of(look.costing.computed.resolved)
    return Frame(view, title, stated.workshop.name, day, metal, currency, tuple(notes), workspace.noted())


def bare_frame(workspace: Workspace, view: str, title: str) -> Frame:
    """The frame of a folder that cannot be read."""
    day = workspace.today.isoformat()
    return Frame(view, title, workspace.root.resolve().name, day, f"metal of {day}", "", (), workspace.noted())
