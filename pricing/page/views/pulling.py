"""Pulling prices from the sources that the maker configured: the only time that anything leaves this machine."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import TroytagError
from pricing.folder.files import PRICES_FILE
from pricing.folder.prices.append import append_quotes
from pricing.folder.prices.read import read_metal_prices
from pricing.page.forms.saving import stay_inside
from pricing.page.views.faults import faulty
from pricing.page.workspace import Workspace
from pricing.shown import metal_named, quoted_in


async def pull(request: Request) -> Response:
    """POST /metal/pull: ask every source of workshop.toml, add what is new, say what came of each."""
    workspace: Workspace = request.app.state.workspace

    def worked() -> Response:
        try:
            from pricing.metal.pull import pull as pull_from

            prices = read_metal_prices(workspace.root)
            found = pull_from(prices, list(prices.workshop.sources), workspace.today)
            new = [(each.quote, each.number) for each in found if each.quote is not None and not each.known]
            stay_inside(workspace.root, PRICES_FILE)
            append_quotes(workspace.root, new)
        except TroytagError as error:
            return faulty(request, error)
        told = []
        for each in found:
            if each.fault is not None:
                told.append(f"{each.name}: {each.fault}")
            elif each.known or each.quote is None:
                told.append(f"{each.name}: nothing new")
            else:
                told.append(f"{each.name}: {metal_named(each.quote.metal)} {each.number} {quoted_in(each.quote)}")
        workspace.note("; ".join(told) or "No source is configured.")
        return RedirectResponse("/metal", 303)

    return await run_in_threadpool(worked)
