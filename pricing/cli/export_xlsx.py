"""`troytag export FOLDER xlsx`: the live workbook."""

from __future__ import annotations

import typer

from pricing.cli.export import Force, To
from pricing.cli.options import AsOf


def export_xlsx(context: typer.Context, to: To = None, as_of: AsOf = None, force: Force = False) -> None:
    """Write a live workbook: change one cell, and every price moves."""
