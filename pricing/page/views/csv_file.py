"""Records to take away as CSV: the lines that the command prints with --csv."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import StringIO
from typing import Any
from urllib.parse import quote

from starlette.responses import Response

from pricing.csv_tables import write_csv
from pricing.page.workspace import Workspace


def csv_file(workspace: Workspace, name: str, rows: Sequence[Mapping[str, Any]]) -> Response:
    """The records as a file that is downloaded, called by the folder and `name`."""
    text = StringIO()
    write_csv(rows, text)
    file = quote(f"{workspace.root.resolve().name}-{name}.csv")
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{file}"}
    return Response(text.getvalue().encode(), media_type="text/csv; charset=utf-8", headers=headers)
