"""`troytag page`: the workshop in a browser."""

from __future__ import annotations

from typing import Annotated

import typer

from pricing.cli.options import AsOf, Folder, day


def page(
    folder: Folder,
    port: Annotated[
        int | None, typer.Option(metavar="N", help="The port; 8417, or a free one, if left out.", show_default=False)
    ] = None,
    open_browser: Annotated[bool, typer.Option("--open/--no-open", help="Open it in the browser.")] = True,
    as_of: AsOf = None,
) -> None:
    """Show the workshop in the browser, on this machine only."""
    from pricing.cli.screens import screen
    from pricing.folder.files import is_begun
    from pricing.page.server.serve import serve

    def tell(address: str) -> None:
        print(address, flush=True)
        if not is_begun(folder):
            screen.err().print(f"There is no workshop in {folder} yet: the page asks what it needs to begin one.")
        note = "Only this machine can see it, and this address lets in once. End it with Ctrl-C."
        screen.err().print(note, style="dim")

    try:
        serve(folder, port, open_browser, day(as_of), tell)
    except KeyboardInterrupt:
        pass
