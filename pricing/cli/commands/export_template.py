"""`troytag export FOLDER template`: a sheet to fill with products."""

from __future__ import annotations

import typer

from pricing.cli.commands.export import Force, To, default_path


def export_template(context: typer.Context, to: To = None, force: Force = False) -> None:
    """Write an empty sheet for new products, to fill and import."""
    from pricing.folder.read import read_folder
    from pricing.safe_files import check_free
    from pricing.workbook.template.sheet import write_template

    path = to or default_path(context.obj, "-products.xlsx")
    check_free(path, force)
    write_template(read_folder(context.obj), path, force)
    print(path)
