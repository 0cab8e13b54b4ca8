"""How much may be sent to the page, and how long it may take: counted on the bytes that really come."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MEBIBYTE = 2**20
#: Where a mesh may come along.
WITH_MESHES = ("/design/mesh", "/start", "/add/product")


@dataclass(frozen=True)
class Allowed:
    """`body_bytes` for a form, `bytes_by_path` for paths that take more, `seconds` for the whole of a body."""

    body_bytes: int = 2 * MEBIBYTE
    bytes_by_path: Mapping[str, int] = field(
        default_factory=lambda: MappingProxyType(dict.fromkeys(WITH_MESHES, 96 * MEBIBYTE))
    )
    seconds: float = 60.0


class RequestLimits:
    """Refuses a body that is too long, whether or not it says how long it is, or that comes too slowly."""

    def __init__(self, app: ASGIApp, allowed: Allowed):
        self.app, self.allowed = app, allowed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        path = scope["path"].removeprefix(scope.get("root_path", ""))
        most = self.allowed.bytes_by_path.get(path, self.allowed.body_bytes)
        told = Headers(scope=scope).get("content-length", "0")
        if not told.isdigit() or int(told) > most:
            await _too_long(most)(scope, receive, send)
            return
        came, ends = 0, None
        answered = False

        async def counted() -> Message:
            nonlocal came, ends
            if answered:  # what follows is only waiting for the reader to leave
                return await receive()
            clock = asyncio.get_running_loop().time
            ends = ends or clock() + self.allowed.seconds
            try:
                message = await asyncio.wait_for(receive(), max(0.0, ends - clock()))
            except TimeoutError:
                raise HTTPException(408) from None
            if message["type"] == "http.request":
                came += len(message.get("body", b""))
                if came > most:
                    raise HTTPException(413)
            return message

        async def noted(message: Message) -> None:
            nonlocal answered
            answered = True
            await send(message)

        await self.app(scope, counted, noted)


def _too_long(most: int) -> PlainTextResponse:
    sentence = f"That is more than {most / MEBIBYTE:g} MiB, and nothing of it was kept.\n"
    return PlainTextResponse(sentence, 413, headers={"Connection": "close"})
