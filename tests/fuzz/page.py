"""Every address of the page in every method, with what nobody sends: half of a session, fields that are missing,
doubled, huge, nested, no text at all.

The addresses come from the page's own list of routes and the fields from the forms that it shows, so that a new one
is attacked without being named here. What must hold for each answer stands in `Attacked.ask`.
"""

from __future__ import annotations

import asyncio
import json
import os
import tempfile
import threading
import time
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from shutil import copytree, rmtree
from typing import Any
from urllib.parse import quote, quote_plus

from hypothesis import HealthCheck, example, given, seed, settings
from hypothesis import strategies as st
from starlette.routing import Route

from pricing.page.server.app import page_of, routes
from pricing.page.server.guard import Keys
from pricing.resources import sample_catalog
from pricing.starting.adding import WHATS
from tests.page.fields import fields_of
from tests.page.served import DAY

#: Views that show the forms whose fields are sent about.
FORMS = (("/design", "design"), ("/design?sku=acorn-knob", "design"), ("/metal", "quote"),
         ("/edit/workshop.toml", "keys"), ("/edit/alloys.toml", "keys"), ("/reprice", "/reprice/publish"),
         ("/drawer", "/drawer"), ("/log", "/log"), *((f"/add/{what}", f"/add/{what}") for what in WHATS))  # fmt: skip
#: What is put where a word was expected.
HOSTILE = (
    "", " ", "0", "-1", "1e308", "-0", "NaN", "9" * 400, "٣", "true", "null", "[]", "{}", "[" * 900, '{"a":' * 300,
    "../secret.toml", "/etc/passwd", "..\\secret.toml", "products/../../secret.toml", "\x00", "a\r\nSet-Cookie: x=y",
    "\ud7ff\ue000\U0010ffff", "\u202e", "<script>alert(1)</script>", '"><img src=x>', "{{7*7}}", "=1+1", "x" * 3000,
    "acorn-knob", "thimble", "sterling", "shop", "unit_cost", "castings", '["alloys","+"]', '["labour",0]', "[true]",
    '[[],[],[],[]]', '[{},["\\ud800"],[],[]]', '{"name":"\\ud800"}', "castings[0].mesh", "new name of this",
)  # fmt: skip
FILES = ("workshop.toml", "alloys.toml", "processes.toml", "metal_prices.csv", "products/acorn-knob.toml",
         "products/lent.toml", "../secret.toml", "products/../../secret.toml", "%2e%2e/secret.toml", "secret.toml",
         "products/.hidden.toml", "editions/000001.json", "", "/", "x" * 300, "products/\x00.toml")  # fmt: skip
NAMES = ("sku", "alloy", "channel", "quantity", "place", "add", "at", "line", "upload", "file", "metal", "reach",
         "query",
         "number", "sort", "way", "kind", "audience", "form", "token", "quantities", "customer", "reference",
         "charge_design", "collection", "ask", "up_to", "across", "off", "hours", "most", "rush", "each",
         "cash", "months")  # fmt: skip
STUDIES = ("quantity", "sale", "mix", "map", "year", "luck")
CONTENT_TYPES = ("application/x-www-form-urlencoded", "multipart/form-data; boundary=edge", "multipart/form-data",
                 "multipart/form-data; boundary=edge; charset=nix", "text/plain", "application/json", "")  # fmt: skip
MORE_HEADERS = (("hx-request", "true"), ("if-none-match", "*"), ("range", "bytes=0-9"))
#: Answers that take long by their nature are asked for seldom.
SLOW = ("/lists/", "/studies/")


@dataclass(frozen=True)
class Asked:
    """One request, before the page's own secrets are put in: `session` says which halves of it are right."""

    method: str
    path: str
    query: str
    kind: str
    body: bytes
    session: str
    origin: str
    more: tuple[tuple[str, str], ...] = ()


@dataclass
class Attacked:
    """A folder, its page, and beside the folder a file that nobody may reach."""

    home: Path
    asked: int = 0
    answers: dict[int, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.root = self.home / "fernhollow"
        self.begin()

    def begin(self) -> None:
        """The folder as it was at the beginning."""
        rmtree(self.root, ignore_errors=True)
        copytree(sample_catalog(), self.root)
        (self.home / "secret.toml").write_text('word = "hush-hush"\n')
        (self.root / "products" / ".hidden.toml").write_text('word = "hush-hush"\n')
        self.keys = Keys(8417)
        self.app = page_of(self.root, self.keys, DAY)
        self.stood = self.stamps()

    def send(self, asked: Asked) -> tuple[int, bytes]:
        """Status and bytes of the answer. Raises whatever the page raises."""
        right = {"both": (self.keys.room, self.keys.session), "room": (self.keys.room, "wrong"),
                 "cookie": ("wrong", self.keys.session), "none": ("wrong", "wrong")}  # fmt: skip
        room, session = right[asked.session]
        path = f"/{room}{asked.path}"
        headers = [("host", "127.0.0.1:8417"), ("cookie", f"odd; {self.keys.cookie}={session}"), *asked.more]
        headers += [("content-type", asked.kind)] if asked.kind else []
        headers += [("origin", asked.origin)] if asked.origin else []
        scope = {"type": "http", "method": asked.method, "path": path, "raw_path": quote(path).encode(),
                 "query_string": asked.query.encode(), "http_version": "1.1", "scheme": "http",
                 "headers": [(name.encode(), value.encode("utf-8", "replace")) for name, value in headers],
                 "server": ("127.0.0.1", 8417), "client": ("127.0.0.1", 1)}  # fmt: skip
        status, parts = 0, []

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": asked.body, "more_body": False}

        async def take(message: dict[str, Any]) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            else:
                parts.append(message.get("body", b""))

        asyncio.run(self.app(scope, receive, take))
        return status, b"".join(parts)

    def ask(self, asked: Asked) -> None:
        """Send it, and see that nothing happened that must not."""
        before, outside = self.stood
        status, content = self.send(asked)
        self.asked += 1
        self.answers[status] = self.answers.get(status, 0) + 1
        self.stood = self.stamps()
        changed = self.stood[0] != before
        allowed = asked.session == "both" and asked.method == "POST" and asked.origin == "http://127.0.0.1:8417"
        assert 200 <= status < 500, f"answered {status}"
        assert self.stood[1] == outside, "something outside the folder was changed"
        assert b"hush-hush" not in content, "a file was shown that is none of the folder's"
        assert b"Traceback" not in content
        assert not changed or allowed, "the folder was changed by who may not"
        if asked.session != "both":
            assert status in (403, 405, 421), f"who has no session was answered {status}"
        if changed:
            self.begin()

    def stamps(self) -> tuple[object, object]:
        """The marks of the folder and of what lies beside it; those after one request are those before the next."""
        beside = [path for path in self.home.iterdir() if path != self.root]
        return marks(self.root), [(path.name, marks(path) if path.is_dir() else path.read_bytes()) for path in beside]


def marks(folder: Path) -> dict[str, tuple[int, ...]]:
    """What tells each file in a folder, however deep, from what stood there before: whoever writes changes it."""
    found = {}
    for inner, folders, files in os.walk(folder):
        for name in (*folders, *files):
            path = os.path.join(inner, name)
            at = os.lstat(path)
            found[path] = (
                at.st_mode,
                at.st_ino,
                *((at.st_size, at.st_mtime_ns, at.st_ctime_ns) if name in files else ()),
            )
    return found


def forms_of(attacked: Attacked) -> tuple[tuple[tuple[str, str], ...], ...]:
    """The fields of the page's own forms, as a browser would send them."""
    found = []
    for address, form in FORMS:
        path, _, query = address.partition("?")
        status, content = attacked.send(Asked("GET", path, query, "", b"", "both", ""))
        assert status == 200
        text = content.decode().replace(f'="/{attacked.keys.room}/', '="/')
        found.append(tuple(fields_of(text, form)))
    return tuple(found)


@cache
def requests(forms: tuple[tuple[tuple[str, str], ...], ...]) -> st.SearchStrategy[Asked]:
    """Requests to every route, by every method, more often with a whole session than without.

    What is drawn from is made once and not at each draw: the library looks through all that is new to it.
    """
    words = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=40))
    names = st.one_of(st.sampled_from(NAMES), st.sampled_from(sorted({name for form in forms for name, _ in form})))
    names_or_words = st.one_of(names, words)
    pairs = st.lists(st.tuples(names_or_words, words), max_size=6)
    files_or_words = st.one_of(st.sampled_from(FILES), words)
    known = [each for each in routes() if isinstance(each, Route)]
    asked_routes = st.sampled_from([each for each in known if not each.path.startswith(SLOW)] * 3 + known)
    studies, whats = st.sampled_from(STUDIES), st.sampled_from((*WHATS, "machine", "..%2f"))
    content_types, all_forms = st.sampled_from(CONTENT_TYPES + CONTENT_TYPES[:1] * 6), st.sampled_from(forms)
    no_forms = st.one_of(st.binary(max_size=300), st.just(b"x" * 70_000), st.just(b"a=1&" * 5000))
    spoilings = st.sampled_from(("drop", "double", "spoil", "add"))
    origins = st.sampled_from(("http://127.0.0.1:8417",) * 6 + ("", "null", "http://127.0.0.1:3000"))
    sessions = st.sampled_from(("both",) * 9 + ("room", "cookie", "none"))
    more_headers = st.sampled_from(((), (), *((each,) for each in MORE_HEADERS)))

    @st.composite
    def paths(draw: st.DrawFn) -> tuple[str, tuple[str, ...]]:
        """A path, and the methods by which its route is asked."""
        route = draw(asked_routes)
        if draw(st.integers(0, 30)) == 0:
            return "/static/" + draw(files_or_words), ("GET",)
        path = route.path.replace("{name}", draw(studies))
        path = path.replace("{what}", draw(whats))
        path = path.replace("{file:path}", draw(files_or_words))
        return path, tuple(sorted(route.methods or ()))

    @st.composite
    def bodies(draw: st.DrawFn) -> tuple[str, bytes]:
        kind = draw(content_types)
        if draw(st.integers(0, 7)) == 0:
            return kind, draw(no_forms)
        fields = list(draw(all_forms))
        for _ in range(draw(st.integers(0, 4))):
            place = draw(st.integers(0, max(0, len(fields) - 1)))
            what = draw(spoilings)
            if what == "add" or not fields:
                fields.insert(place, (draw(names_or_words), draw(words)))
            elif what == "drop":
                fields.pop(place)
            elif what == "double":
                fields.append((fields[place][0], draw(words)))
            else:
                fields[place] = (fields[place][0], draw(words))
        if kind.startswith("multipart"):
            return kind, _multipart(fields, draw(st.booleans()))
        if kind == "application/json":
            return kind, json.dumps(dict(fields)).encode()
        return kind, "&".join(f"{_escaped(name)}={_escaped(value)}" for name, value in fields).encode()

    @st.composite
    def whole(draw: st.DrawFn) -> Asked:
        kind, body = draw(bodies())
        query = "&".join(f"{_escaped(name)}={_escaped(value)}" for name, value in draw(pairs))
        path, own = draw(paths())
        method = draw(st.sampled_from(own * 4 + ("POST", "GET", "HEAD", "PUT", "DELETE", "OPTIONS")))
        origin, session, more = draw(origins), draw(sessions), draw(more_headers)
        return Asked(method, path, query, kind, body if method == "POST" else b"", session, origin, more)

    return whole()


#: Asked whatever is drawn: the first view with each half of the session, with none of it, and with all.
ALWAYS = tuple(Asked("GET", "/", "", "", b"", session, "") for session in ("room", "cookie", "none", "both"))


def _escaped(text: str) -> str:
    return quote_plus(text.encode("utf-8", "surrogatepass"))


def _multipart(fields: list[tuple[str, str]], as_files: bool) -> bytes:
    parts = []
    for number, (name, value) in enumerate(fields):
        file = f'; filename="{quote(value[:40])}.stl"' if as_files and number < 3 else ""
        head = f'--edge\r\nContent-Disposition: form-data; name="{quote(name)}"{file}\r\n\r\n'
        parts.append(head.encode() + value.encode("utf-8", "replace") + b"\r\n")
    return b"".join(parts) + b"--edge--\r\n"


def attack(home: Path, examples: int, begin: int | None, until: float | None = None) -> Attacked:
    """So many requests to the page of a folder in `home`, the same ones for the same `begin`; none after `until`.

    Raises AssertionError, or what the page raised, for the smallest request found that does something it must not.
    """
    attacked = Attacked(home)
    strategy = requests(forms_of(attacked))

    @settings(max_examples=examples, deadline=None, database=None, derandomize=False,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(strategy)
    def each(asked: Asked) -> None:
        if until is None or time.monotonic() < until:
            attacked.ask(asked)

    for always in ALWAYS:
        each = example(always)(each)
    (seed(begin)(each) if begin is not None else each)()
    return attacked


def explore(minutes: float) -> str:
    """Attack for so long, from other seeds each time; gives what was done in a line."""
    until, count, answers = time.monotonic() + 60 * minutes, 0, {}
    assert threading.current_thread() is threading.main_thread()
    while time.monotonic() < until:
        with tempfile.TemporaryDirectory() as home:
            found = attack(Path(home), 400, None, until)
        count += found.asked
        for status, number in found.answers.items():
            answers[status] = answers.get(status, 0) + number
    told = ", ".join(f"{number} × {status}" for status, number in sorted(answers.items()))
    return f"page: {count} requests, none did what it must not ({told})"
