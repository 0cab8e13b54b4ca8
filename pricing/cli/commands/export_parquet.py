"""`troytag export FOLDER parquet`: all that the formulas take, for `troytag reprice --from` and for other programs."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from pricing.cli.commands.export import Force, default_path
from pricing.cli.options import AsOf, day


def export_parquet(
    context: typer.Context,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to", metavar="FOLDER", help="Where the two files go; here, by the folder's name, if left out.",
            show_default=False,
        ),
    ] = None,
    as_of: AsOf = None,
    force: Force = False,
) -> None:  # fmt: skip
    """Write variants and workshop to Parquet, each column with its unit and meaning."""
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.editions.chain import newest
    from pricing.errors import UsageFault
    from pricing.extras import missing
    from pricing.safe_files import check_free, placed

    try:
        from pricing.many.write import VARIANTS_FILE, WORKSHOP_FILE, written
    except ImportError:
        raise missing("export parquet", "pyarrow", "parquet") from None
    target = to or default_path(context.obj, "-parquet")
    if target.suffix == ".parquet":
        raise UsageFault(f"{target}: two files are written. Name a folder for them with --to.")
    if target.exists() and not target.is_dir():
        raise UsageFault(f"{target} is a file. Name a folder with --to.")
    if target.is_dir():
        for name in (WORKSHOP_FILE, VARIANTS_FILE):
            if (target / name).exists() and not force:
                raise UsageFault(
                    f"{target / name} stands already. Name another folder with --to, or overwrite it with --force."
                )
            check_free(target / name, force)
    elif not target.absolute().parent.is_dir():
        raise UsageFault(f"{target.parent} is no folder. Make it, or name another with --to.")
    costing = cost(context.obj, asked_for(day(as_of)))
    files = written(costing, newest(context.obj))
    is_new = not target.is_dir()
    target.mkdir(exist_ok=True)
    try:
        for name in (WORKSHOP_FILE, VARIANTS_FILE):  # variants say which workshop's file they belong to
            with placed(target / name, force) as beside:
                beside.write_bytes(files[name])
    except BaseException:
        if is_new:  # nothing is left of what is of no use by itself
            (target / WORKSHOP_FILE).unlink(missing_ok=True)
            with suppress(OSError):
                target.rmdir()
        raise
    for name in (WORKSHOP_FILE, VARIANTS_FILE):
        print(target / name)
    screen.tell(costing.warnings)
