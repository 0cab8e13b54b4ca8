"""Who may speak to the page: only the browser of the person who started it, and only the page itself.

Whatever runs in the same browser can send requests to 127.0.0.1, and a name server can make any name mean 127.0.0.1.
So every request must name this port's own loopback host, and every write must come from the page itself.

Beyond that a session has two halves. The whole page stands in a *room*: the first part of every address, drawn at
random for each run. The other half is a cookie, had only for a token that stood once in the address printed by the
program. A browser sends the cookies of 127.0.0.1 to each of its ports, so a cookie alone proves nothing: another
server of this machine is handed it as soon as the maker looks at it. This cookie is bound to the path of the room, so
a browser sends it only beneath that path, which no other server can name: the room stands in no printed address, in
no process list, and in no header that leaves its own origin. Who has one half has nothing.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import FileResponse, HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pricing.page.rendering import closed_door
from pricing.resources import templates

READING = frozenset({"GET", "HEAD"})
WRITING = frozenset({"POST"})
#: Sent with every answer; the policy allows nothing inline, nothing from elsewhere, no frame.
HEADERS: Mapping[str, str] = MappingProxyType(
    {
        "Content-Security-Policy": (
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
            "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        ),
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "same-origin",  # without any, browsers send the origin of a form as "null"
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    }
)


#: The only file that is had without a session: it leads a browser that has one back into the room.
DOOR_SCRIPT = "/door.js"
PRINTED = "The address that lets you in stands in the terminal where troytag page was started."
AGAIN = "For a new one go to the terminal where troytag page runs, end it with Ctrl-C and start it again."


@dataclass
class Keys:
    """The secrets of one run: `token` stands in the first address and is worth one `session`, which is a cookie;
    `room` is the first part of every address of the page."""

    port: int
    token: str | None = field(default_factory=lambda: secrets.token_urlsafe(32))
    session: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    room: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def cookie(self) -> str:
        """The cookie's name: browsers do not keep the cookies of two ports apart."""
        return f"troytag-{self.port}"

    @property
    def hosts(self) -> frozenset[str]:
        """What the Host header may say; of port 80 browsers leave the number out."""
        names = ("127.0.0.1", "localhost", "[::1]")
        return frozenset(f"{name}:{self.port}" for name in names) | frozenset(names if self.port == 80 else ())

    @property
    def first_address(self) -> str:
        """The address that lets in once."""
        return f"http://127.0.0.1{'' if self.port == 80 else f':{self.port}'}/?token={self.token}"

    def exchange(self, token: str) -> bool:
        """Whether this is the token; it is worth something only once."""
        if self.token is None or not hmac.compare_digest(token.encode(), self.token.encode()):
            return False
        self.token = None
        return True

    def is_session(self, cookies: str) -> bool:
        """Whether the session is among these cookies, whatever else other programs have put there."""
        for each in cookies.split(";"):
            name, _, value = each.strip().partition("=")
            if name == self.cookie and hmac.compare_digest(value.strip('"').encode(), self.session.encode()):
                return True
        return False

    def path_in_room(self, path: str) -> str | None:
        """The path within the room, None of one that is not in it."""
        first, slash, rest = path.removeprefix("/").partition("/")
        return "/" + rest if slash and hmac.compare_digest(first.encode(), self.room.encode()) else None


class Guard:
    """Lets through what is the maker's own, and puts the headers on every answer.

    What is behind it sees paths without the room; the room is its `root_path`, also where it sends a browser on.
    """

    def __init__(self, app: ASGIApp, keys: Keys):
        self.app, self.keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no websocket is answered
        room = f"/{self.keys.room}"

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
                if headers.get("location", "").startswith("/"):
                    headers["location"] = room + headers["location"]
            await send(message)

        refused = self._refused(scope)
        if refused is None:
            scope = {**scope, "root_path": room}
        await (refused or self.app)(scope, receive, with_headers)

    def _refused(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0] not in self.keys.hosts:
            return self._closed(421, f"This page answers only to its own address on this machine. {PRINTED}")
        method = scope["method"]
        if method not in READING | WRITING:
            return self._closed(405, "This page reads and posts, nothing else.")
        site = headers.get("sec-fetch-site")
        if method in WRITING:
            origin = f"http://{hosts[0].removesuffix(':80') if self.keys.port == 80 else hosts[0]}"
            if headers.getlist("origin") != [origin] or site not in (None, "same-origin"):
                return self._closed(403, "Only the page itself may change something.")
        elif site not in (None, "none", "same-origin") and headers.get("sec-fetch-mode") != "navigate":
            return self._closed(403, "Only the page itself may read this.")
        path = self.keys.path_in_room(scope["path"])
        if path is not None and self.keys.is_session("; ".join(headers.getlist("cookie"))):
            return None
        return self._entering(scope, headers)

    def _entering(self, scope: Scope, headers: Headers) -> Response:
        if scope["method"] == "GET" and scope["path"] == DOOR_SCRIPT:
            return FileResponse(templates() / "page" / "static" / "door.js", media_type="text/javascript")
        # Only who typed the address, or has it as a bookmark, is led on: not who follows a link from elsewhere.
        leads_on = scope["method"] == "GET" and headers.get("sec-fetch-site") in (None, "none", "same-origin")
        token = dict(parse_qsl(scope["query_string"].decode("latin-1"))).get("token")
        looks_ahead = "prefetch" in headers.get("sec-purpose", "")  # a browser guessing, not a person coming
        if scope["method"] == "GET" and scope["path"] == "/" and token and not looks_ahead:
            if self.keys.exchange(token):
                welcome = RedirectResponse("/", 303)  # into the room, as every address of the page
                welcome.set_cookie(
                    self.keys.cookie, self.keys.session, httponly=True, samesite="strict", path=f"/{self.keys.room}/"
                )
                return welcome
            return self._closed(403, f"This address was used already, and it lets in once. {AGAIN}", leads_on)
        return self._closed(403, f"This address does not let you in. {PRINTED} Was it used already? {AGAIN}", leads_on)

    def _closed(self, status: int, sentence: str, leads_on: bool = False) -> Response:
        return HTMLResponse(closed_door(sentence, DOOR_SCRIPT if leads_on else ""), status)
