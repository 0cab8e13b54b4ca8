"""Who may speak to the page: only the browser of the person who started it, and only the page itself.

Whatever runs in the same browser can send requests to 127.0.0.1, and a name server can make any name mean 127.0.0.1.
So every request must name this port's own loopback host, every write must come from the page itself, and everything
needs a cookie that is had only for a token that stood once in the address printed by the program.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from types import MappingProxyType
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

READING = frozenset({"GET", "HEAD"})
WRITING = frozenset({"POST"})
#: Sent with every answer; the policy allows nothing inline, nothing from elsewhere, no frame.
HEADERS: Mapping[str, str] = MappingProxyType(
    {
        "Content-Security-Policy": (
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
            "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        ),
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "same-origin",  # without any, browsers send the origin of a form as "null"
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    }
)


@dataclass
class Keys:
    """The two secrets of one run: `token` stands in the first address and is worth one `session`, which is a cookie."""

    port: int
    token: str | None = field(default_factory=lambda: secrets.token_urlsafe(32))
    session: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def cookie(self) -> str:
        """The cookie's name: browsers do not keep the cookies of two ports apart."""
        return f"troytag-{self.port}"

    @property
    def hosts(self) -> frozenset[str]:
        """What the Host header may say."""
        return frozenset(f"{name}:{self.port}" for name in ("127.0.0.1", "localhost", "[::1]"))

    def exchange(self, token: str) -> bool:
        """Whether this is the token; it is worth something only once."""
        if self.token is None or not hmac.compare_digest(token.encode(), self.token.encode()):
            return False
        self.token = None
        return True

    def is_known(self, cookies: str) -> bool:
        """Whether these cookies hold the session."""
        try:
            found = SimpleCookie(cookies).get(self.cookie)
        except CookieError:
            return False
        return found is not None and hmac.compare_digest(found.value.encode(), self.session.encode())


class Guard:
    """Lets through what is the maker's own, and puts the headers on every answer."""

    def __init__(self, app: ASGIApp, keys: Keys):
        self.app, self.keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no websocket is answered

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        refused = self._refused(scope)
        await (refused or self.app)(scope, receive, with_headers)

    def _refused(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0] not in self.keys.hosts:
            return _told(421, "This page answers only to its own address on this machine.")
        method = scope["method"]
        if method not in READING | WRITING:
            return _told(405, "This page reads and posts, nothing else.")
        site = headers.get("sec-fetch-site")
        if method in WRITING:
            if headers.getlist("origin") != [f"http://{hosts[0]}"] or site not in (None, "same-origin"):
                return _told(403, "Only the page itself may change something.")
        elif site not in (None, "none", "same-origin") and headers.get("sec-fetch-mode") != "navigate":
            return _told(403, "Only the page itself may read this.")
        if self.keys.is_known("; ".join(headers.getlist("cookie"))):
            if scope["path"] == "/" and b"token=" in scope["query_string"]:
                return RedirectResponse("/", 303)
            return None
        return self._entering(scope, headers)

    def _entering(self, scope: Scope, headers: Headers) -> Response:
        token = dict(parse_qsl(scope["query_string"].decode("latin-1"))).get("token")
        looks_ahead = "prefetch" in headers.get("sec-purpose", "")  # a browser guessing, not a person coming
        if scope["method"] == "GET" and scope["path"] == "/" and token and not looks_ahead:
            if self.keys.exchange(token):
                welcome = RedirectResponse("/", 303)
                welcome.set_cookie(self.keys.cookie, self.keys.session, httponly=True, samesite="strict", path="/")
                return welcome
            return _told(403, "This address was used already. Start the page again to get a new one.")
        return _told(403, "Open the address that troytag printed when it started: it lets you in once.")


def _told(status: int, sentence: str) -> Response:
    return PlainTextResponse(f"{sentence}\n", status)
