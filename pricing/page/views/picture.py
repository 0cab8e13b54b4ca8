"""Pictures of products: the photo, else the shaded drawing of the mesh, else nothing."""

from __future__ import annotations

import hashlib

from starlette.requests import Request
from starlette.responses import Response

from pricing.errors import TroytagError
from pricing.page.views.notice import missing
from pricing.page.workspace import Workspace

#: Where there is neither photo nor mesh: a dashed frame, in a grey that is seen in the dark as in the light.
BLANK = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 80 80" width="80" height="80">'
    '<rect x="8" y="8" width="64" height="64" rx="6" fill="none" stroke="#7f8a90" stroke-width="1.5" '
    'stroke-dasharray="4 4"/></svg>'
)


def picture(request: Request) -> Response:
    """GET /picture?sku=…&alloy=…: a drawing has the colour of the alloy."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look(within=2.0)
        product = look.products.get(request.query_params.get("sku", ""))
        alloy = look.costing.folder.stated.alloys.get(request.query_params.get("alloy", ""))
    except TroytagError:
        product = alloy = None
    if product is None:
        return missing(request, "There is no such picture.")
    content = workspace.picture(product, alloy)
    kind = "image/webp"
    if content is None:
        content, kind = BLANK.encode(), "image/svg+xml"
    mark = f'"{hashlib.sha256(content).hexdigest()[:24]}"'
    headers = {"ETag": mark, "Cache-Control": "private, max-age=0, must-revalidate"}
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=kind, headers=headers)
