"""The page as one ASGI application: which address is answered by which function."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import date
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from pricing.folder.product_files import are_many
from pricing.folder.toml.quickly import make_ready
from pricing.page.server.guard import Guard, Keys
from pricing.page.server.limits import Allowed, RequestLimits
from pricing.page.views import (
    answering,
    break_even,
    catalogue,
    design,
    drawer,
    edit,
    editions,
    faults,
    learned,
    lists,
    log,
    meshes,
    metal,
    pour,
    pulling,
    repricing,
    start,
    studies,
    work,
    workshop,
)
from pricing.page.views.notice import missing
from pricing.page.views.picture import picture
from pricing.page.workspace import Workspace
from pricing.resources import templates


def page_of(root: Path, keys: Keys, as_of: date | None = None, allowed: Allowed | None = None) -> Starlette:
    """The page of a workshop folder, behind its guard; `as_of` None: prices of today, also after midnight."""
    if are_many(root):
        make_ready()
    workspace = Workspace(root, as_of)

    @asynccontextmanager
    async def running(app: Starlette) -> AsyncIterator[None]:
        yield
        workspace.close()

    app = Starlette(
        routes=routes(),
        middleware=[Middleware(Guard, keys=keys), Middleware(RequestLimits, allowed=allowed or Allowed())],
        exception_handlers={HTTPException: _refused, 500: _stumbled},
        lifespan=running,
    )
    app.state.workspace = workspace
    app.state.drawings = answering.Drawings()
    return app


def routes() -> list[Route | Mount]:
    """Every address."""
    return [
        Route("/", catalogue.catalogue),
        Route("/start", start.start),
        Route("/start", start.begin, methods=["POST"]),
        Route("/start/form", start.start_form, methods=["POST"]),
        Route("/add/{what}", start.add),
        Route("/add/{what}", start.added, methods=["POST"]),
        Route("/add/{what}/form", start.add_form, methods=["POST"]),
        Route("/reading", faults.reading),
        Route("/picture", picture),
        Route("/design", design.design),
        Route("/design/form", design.form, methods=["POST"]),
        Route("/design/answer", design.answer, methods=["POST"]),
        Route("/design/work", work.work, methods=["POST"]),
        Route("/design/save", design.save, methods=["POST"]),
        Route("/design/mesh", meshes.take_mesh, methods=["POST"]),
        Route("/design/mesh/triangles", meshes.triangles),
        Route("/metal", metal.metal),
        Route("/metal", metal.add, methods=["POST"]),
        Route("/metal/moves", metal.would_move, methods=["POST"]),
        Route("/metal/pull", pulling.pull, methods=["POST"]),
        Route("/log", log.log),
        Route("/log", log.add, methods=["POST"]),
        Route("/log/strike", log.strike, methods=["POST"]),
        Route("/log/learned", learned.learned),
        Route("/log/learned", learned.accept, methods=["POST"]),
        Route("/drawer", drawer.drawer),
        Route("/drawer", drawer.add, methods=["POST"]),
        Route("/drawer/strike", drawer.strike, methods=["POST"]),
        Route("/reprice", repricing.repricing),
        Route("/reprice/word", repricing.decide, methods=["POST"]),
        Route("/reprice/why", repricing.why),
        Route("/reprice/publish", repricing.publish, methods=["POST"]),
        Route("/editions", editions.editions),
        Route("/editions/table.csv", editions.table),
        Route("/editions/withdraw", editions.withdraw, methods=["POST"]),
        Route("/break-even", break_even.break_even),
        Route("/break-even/table.csv", break_even.table),
        Route("/pour", pour.pour),
        Route("/pour/cards", pour.cards),
        Route("/studies", studies.studies),
        Route("/studies/{name}", studies.study),
        Route("/studies/{name}/table.csv", studies.table),
        Route("/studies/{name}/picture.png", studies.picture),
        Route("/lists", lists.lists),
        Route("/lists/workbook", lists.workbook),
        Route("/lists/price-list", lists.price_list),
        Route("/lists/quotation", lists.quotation),
        Route("/lists/tags", lists.price_tags),
        Route("/lists/upload-sheet", lists.upload_sheet, methods=["GET", "POST"]),
        Route("/lists/upload-columns", lists.upload_columns),
        Route("/lists/cards", lists.job_cards, methods=["POST"]),
        Route("/lists/template", lists.template),
        Route("/edit", workshop.workshop),
        Route("/edit/{file:path}", edit.edit),
        Route("/edit-save/{file:path}", edit.save, methods=["POST"]),
        Mount("/static", StaticFiles(directory=templates() / "page" / "static")),
    ]


async def _refused(request: Request, error: Exception) -> Response:
    status = getattr(error, "status_code", 500)
    sentences = {
        404: "There is nothing at this address.",
        405: "This address is not asked in this way.",
        413: "That is too much at once; nothing was kept.",
        408: "That came too slowly; nothing was kept.",
    }
    own = getattr(error, "detail", "")
    if status == 400 and own.endswith("."):  # a sentence of this page, not a word of a library
        return missing(request, own, status)
    return missing(request, sentences.get(status, "This could not be understood; nothing was changed."), status)


async def _stumbled(request: Request, error: Exception) -> Response:
    return missing(
        request, "The page stumbled over a fault of its own; nothing was changed. The terminal tells more.", 500
    )
