"""Pictures of products: the photo, else the shaded drawing of the mesh, else a plain sign."""

from __future__ import annotations

import hashlib
import re

from starlette.requests import Request
from starlette.responses import Response

from pricing.errors import TroytagError
from pricing.page.views.notice import missing
from pricing.page.workspace import Workspace


def picture(request: Request) -> Response:
    """GET /picture?sku=…"""
    workspace: Workspace = request.app.state.workspace
    try:
        product = workspace.look(within=2.0).products.get(request.query_params.get("sku", ""))
    except TroytagError:
        product = None
    if product is None:
        return missing(request, "There is no such picture.")
    content = workspace.picture(product)
    kind = "image/jpeg"
    if content is None:
        content, kind = _sign(product.name).encode(), "image/svg+xml"
    mark = f'"{hashlib.sha256(content).hexdigest()[:24]}"'
    headers = {"ETag": mark, "Cache-Control": "private, max-age=0, must-revalidate"}
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=kind, headers=headers)


def _sign(name: str) -> str:
    """The first letter of a name in a ring."""
    letter = next(iter(re.findall(r"[^\W_]", name)), "·").upper()
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 80 80" width="80" height="80">'
        '<rect width="80" height="80" fill="#fff"/>'
        '<circle cx="40" cy="40" r="24" fill="none" stroke="#6b665c" stroke-width="2"/>'
        '<text x="40" y="49" text-anchor="middle" font-family="Georgia, serif" font-size="26" fill="#4a463f">'
        f"{letter}</text></svg>"
    )
