"""The page really served on a port, spoken to through sockets as a browser, or somebody else, would."""

from __future__ import annotations

import asyncio
import json
import re
import socket
import threading
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from html import unescape
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode

import uvicorn

from pricing.page.server.app import page_of
from pricing.page.server.connections import AT_THE_DOOR, Patience, settings
from pricing.page.server.guard import Keys
from pricing.page.server.limits import Allowed
from pricing.page.server.serve import _listening
from tests.waiting import LONG

#: The day of the sample's last quotes.
DAY = date(2026, 11, 20)


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    content: bytes

    @property
    def text(self) -> str:
        return self.content.decode()

    @property
    def words(self) -> str:
        """What a person reads: without tags, blanks run together."""
        whole = re.sub(r'<span class="whole">([^<]*)</span>', r"\1", self.text)
        return " ".join(unescape(re.sub(r"<[^>]*>", " ", whole)).split())

    def value_of(self, name: str) -> str:
        """The value of the first input of this name."""
        found = re.search(rf'name="{re.escape(name)}" value="([^"]*)"', self.text)
        assert found, f"there is no field {name}"
        return unescape(found[1])


class _Server(uvicorn.Server):
    """One that ends as soon as it is told to; by itself it looks ten times a second, and waits for nobody as long."""

    _loop: asyncio.AbstractEventLoop | None = None

    async def main_loop(self) -> None:
        self._told, self._loop = asyncio.Event(), asyncio.get_running_loop()
        await self.on_tick(0)
        if not self.should_exit:
            await self._told.wait()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        for _ in range(5):  # who has gone is noticed
            await asyncio.sleep(0)
        if self.server_state.connections or self.server_state.tasks:
            return await super().shutdown(sockets)
        for listening in (*self.servers, *(sockets or ())):
            listening.close()
        await self.lifespan.shutdown()

    def end(self) -> None:
        self.should_exit = True
        if self._loop and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._told.set)


@dataclass
class Served:
    """A folder behind its page; the cookie and the room are had already, unless `enters` is False.

    Paths are those within the room, in what is asked and in what is answered.
    """

    root: Path
    as_of: date | None = DAY
    allowed: Allowed | None = None
    patience: Patience = field(default_factory=Patience)
    enters: bool = True
    cookie: str = ""
    room: str = ""
    keys: Keys = field(init=False)

    def __enter__(self) -> Served:
        self._socket = _listening(0)
        self.keys = Keys(self._socket.getsockname()[1])
        self.token = self.keys.token
        self.app = page_of(self.root, self.keys, self.as_of, self.allowed)
        self._server = _Server(uvicorn.Config(self.app, **settings(self.patience)))
        self._thread = threading.Thread(target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True)
        self._thread.start()
        while not self._server.started:
            assert self._thread.is_alive()
            time.sleep(0.005)
        self._socket.listen(AT_THE_DOOR)
        if self.enters:
            welcome = self.get(f"/?token={self.token}")
            assert welcome.status == 303
            self.cookie = welcome.headers["set-cookie"].split(";")[0]
            self.room = f"/{self.keys.room}"
        return self

    def __exit__(self, *_) -> None:
        self._server.end()
        self._thread.join(10)
        self._socket.close()

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.keys.port}"

    @property
    def origin(self) -> str:
        return f"http://{self.host}"

    def ask(self, method: str, path: str, headers: Mapping[str, str] | Iterable[tuple[str, str]] = (),
            body: bytes | Iterable[bytes] | None = None) -> Answer:  # fmt: skip
        """One request with exactly these headers, and a Host and the cookie where none is among them."""
        given = list(headers.items() if isinstance(headers, Mapping) else headers)
        names = {name.lower() for name, _ in given}
        if "host" not in names:
            given.append(("Host", self.host))
        if self.cookie and "cookie" not in names:
            given.append(("Cookie", self.cookie))
        connection = HTTPConnection("127.0.0.1", self.keys.port, timeout=LONG)
        try:
            connection.putrequest(method, self.room + path, skip_host=True, skip_accept_encoding=True)
            chunked = body is not None and not isinstance(body, bytes)
            if isinstance(body, bytes) and "content-length" not in names:
                given.append(("Content-Length", str(len(body))))
            if chunked:
                given.append(("Transfer-Encoding", "chunked"))
            for name, value in given:
                connection.putheader(name, value)
            connection.endheaders(body, encode_chunked=chunked)
            answer = connection.getresponse()
            headers = {k.lower(): v for k, v in answer.getheaders()}
            content = answer.read()
            if self.room:
                content = content.replace(f'="{self.room}/'.encode(), b'="/')
                if "location" in headers:
                    headers["location"] = headers["location"].removeprefix(self.origin).removeprefix(self.room)
            return Answer(answer.status, headers, content)
        finally:
            connection.close()

    def get(self, path: str, **headers: str) -> Answer:
        return self.ask("GET", path, {name.replace("_", "-"): value for name, value in headers.items()})

    def post(self, path: str, fields: Mapping[str, str] | Iterable[tuple[str, str]] = (), **headers: str) -> Answer:
        """A form sent by the page itself."""
        sent = {"Origin": self.origin, "Content-Type": "application/x-www-form-urlencoded"}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        return self.ask(
            "POST",
            path,
            sent,
            urlencode(list(dict(fields).items() if isinstance(fields, Mapping) else fields)).encode(),
        )

    def post_file(self, path: str, name: str, content: bytes) -> Answer:
        """A file sent by the page itself."""
        edge = "edge-of-a-part"
        head = f'--{edge}\r\nContent-Disposition: form-data; name="mesh"; filename={json.dumps(name)}\r\n\r\n'
        body = head.encode() + content + f"\r\n--{edge}--\r\n".encode()
        return self.ask(
            "POST", path, {"Origin": self.origin, "Content-Type": f"multipart/form-data; boundary={edge}"}, body
        )
