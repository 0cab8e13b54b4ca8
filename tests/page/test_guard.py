"""Who is let in, and what is refused: each attack that a browser makes possible on a server of this machine."""

from __future__ import annotations

import socket

import pytest

from pricing.page.server.guard import Keys
from tests.page.served import Served
from tests.waiting import LONG


@pytest.fixture
def closed(folder):
    """A page that nobody has entered yet."""
    with Served(folder, enters=False) as page:
        yield page


def test_only_loopback_listens(looking):
    assert looking._socket.getsockname()[0] == "127.0.0.1"


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "localhost.evil.example:{port}",
        "0.0.0.0:{port}",
        "127.0.0.1:{port}.evil.example",
        "LOCALHOST:{port}",
        "127.1:{port}",
        "user@127.0.0.1:{port}",
        "",
    ],
)
def test_a_name_that_is_not_this_port_s_own_is_refused(looking, host):
    """DNS rebinding: the name is the attacker's, the address is ours, and the cookie may even be there."""
    answer = looking.ask("GET", "/", {"Host": host.format(port=looking.keys.port)})
    assert answer.status == 421
    assert b"Fernhollow" not in answer.content


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "[::1]"])
def test_the_names_of_loopback_are_known(looking, name):
    assert looking.ask("GET", "/", {"Host": f"{name}:{looking.keys.port}"}).status == 200


def test_two_hosts_are_refused(looking):
    """h11 refuses them itself; either way nothing is told."""
    answer = looking.ask("GET", "/", [("Host", looking.host), ("Host", "evil.example")])
    assert answer.status in (400, 421)


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "null"},
        {"Origin": "http://evil.example"},
        {"Origin": "https://{host}"},
        {"Origin": "http://127.0.0.1"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "http://localhost:{port}"},  # another name than the Host: another origin
        {"Origin": "http://{host}", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://{host}", "Sec-Fetch-Site": "same-site"},
        {"Origin": "http://{host}", "Sec-Fetch-Site": "none"},
    ],
)
@pytest.mark.parametrize("path", ["/metal", "/reprice/publish", "/design/save", "/edit-save/workshop.toml"])
def test_a_write_that_does_not_come_from_the_page_is_refused(looking, headers, path):
    sent = {name: value.format(host=looking.host, port=looking.keys.port) for name, value in headers.items()}
    answer = looking.ask("POST", path, sent, b"")
    assert answer.status == 403 and "Only the page itself may change something." in answer.words


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(looking, method):
    assert looking.ask(method, "/").status == 405


@pytest.mark.parametrize("mode", ["no-cors", "cors", "same-origin"])
def test_another_site_cannot_read_by_pictures_or_scripts(looking, mode):
    assert looking.get("/picture?sku=acorn-knob", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode=mode).status == 403


@pytest.mark.parametrize(
    "path", ["/", "/static/page.css", "/picture?sku=acorn-knob", "/edit/workshop.toml", "/lists/workbook"]
)
def test_without_the_cookie_nothing_is_told(closed, path):
    answer = closed.get(path)
    assert answer.status == 403
    assert b"Fernhollow" not in answer.content


def test_the_token_lets_in_once(closed):
    first = closed.get(f"/?token={closed.token}")
    room = f"/{closed.keys.room}/"
    assert (first.status, first.headers["location"]) == (303, room)
    cookie = first.headers["set-cookie"]
    assert cookie.startswith(f"troytag-{closed.keys.port}=")
    assert {"HttpOnly", "SameSite=strict", f"Path={room}"} <= set(cookie.split("; "))
    assert closed.token not in cookie + room
    second = closed.get(f"/?token={closed.token}")
    assert (second.status, "set-cookie" in second.headers) == (403, False)
    assert "This address was used already" in second.words and "start it again" in second.words
    assert closed.keys.room not in second.text
    closed.cookie = cookie.split(";")[0]
    assert closed.get(room).status == 200


@pytest.mark.parametrize(
    "path", ["/", "/design", "/lists/workbook", "/static/page.js", "/{other}/", "/{room}", "/{ROOM}/"]
)
def test_the_cookie_alone_is_no_session(closed, path):
    """Another server of this machine is sent every cookie of 127.0.0.1 that is not bound to a path."""
    path = path.format(room=closed.keys.room, other="A" * 43, ROOM=closed.keys.room.swapcase())
    answer = closed.get(path, Cookie=f"{closed.keys.cookie}={closed.keys.session}")
    assert answer.status == 403 and b"Fernhollow" not in answer.content
    assert "stands in the terminal where troytag page was started" in answer.words


def test_the_room_alone_is_no_session(closed):
    answer = closed.get(f"/{closed.keys.room}/")
    assert answer.status == 403 and b"Fernhollow" not in answer.content


def test_a_browser_hands_the_cookie_to_no_other_port(closed):
    """A browser's own rules, as the standard library keeps them: the cookie goes beneath the room and nowhere else."""
    from email.message import Message
    from http.cookiejar import CookieJar
    from urllib.request import Request

    class Came:
        def __init__(self, cookie: str):
            self.headers = Message()
            self.headers["Set-Cookie"] = cookie

        def info(self) -> Message:
            return self.headers

    jar = CookieJar()
    first = Request(f"{closed.origin}/?token=x")
    jar._policy.set_ok_path = lambda cookie, request: True  # browsers let a path be named that is not the request's
    jar.extract_cookies(Came(closed.get(f"/?token={closed.token}").headers["set-cookie"]), first)

    def sent(address: str) -> str | None:
        asked = Request(address)
        jar.add_cookie_header(asked)
        return asked.get_header("Cookie")

    assert sent(f"{closed.origin}/{closed.keys.room}/design") == f"{closed.keys.cookie}={closed.keys.session}"
    for path in ("/", "/design", "/?token=x", f"/{'A' * 43}/"):
        assert sent(f"http://127.0.0.1:3000{path}") is None


@pytest.mark.parametrize(
    "beside",
    [
        "theme={{dark}}",
        "a b=c",
        'quoted="half',
        "=",
        "@odd[]=1",
        "\x80=\xff",
        "troytag-{port}=of-an-earlier-run",
        "{{}}",
    ],
)
@pytest.mark.parametrize("first", [True, False])
def test_cookies_of_other_programs_lock_nobody_out(looking, beside, first):
    beside = beside.format(port=looking.keys.port)
    both = f"{beside}; {looking.cookie}" if first else f"{looking.cookie}; {beside}"
    assert looking.get("/", Cookie=both).status == 200


def test_every_address_of_the_page_stands_in_its_room(looking):
    import re

    room, looking.room = looking.room, ""
    try:
        for path in ("/", "/design", "/design?sku=acorn-knob", "/metal", "/reprice?kind=all", "/lists", "/edit",
                     "/edit/alloys.toml", "/nothing"):  # fmt: skip
            text = looking.get(room + path).text
            found = re.findall(r"(?:href|src|action|formaction|hx-[a-z]+|data-mesh)=\"(/[^\"]*)", text)
            assert found and [each for each in found if not each.startswith(f"{room}/")] == [], path
    finally:
        looking.room = room


@pytest.mark.parametrize(("site", "leads"), [("none", True), ("same-origin", True), ("same-site", False),
                                             ("cross-site", False)])  # fmt: skip
def test_only_who_comes_by_himself_is_led_on(closed, site, leads):
    answer = closed.get("/", Sec_Fetch_Site=site, Sec_Fetch_Mode="navigate")
    assert answer.status == 403 and ('src="/door.js"' in answer.text) is leads


def test_on_port_80_a_browser_leaves_the_number_out():
    assert {"127.0.0.1", "127.0.0.1:80", "localhost", "[::1]"} <= Keys(80).hosts
    assert Keys(80).first_address.startswith("http://127.0.0.1/?token=")
    assert "127.0.0.1" not in Keys(8417).hosts


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:80"])
def test_a_page_on_port_80_answers(looking, host):
    wire = {"Host": host, "Cookie": f"troytag-80={looking.keys.session}", "Origin": "http://127.0.0.1"}
    assert [_asked_on_80(looking, method, wire) for method in ("GET", "POST")] == [200, 200]


def _asked_on_80(page: Served, method: str, headers: dict[str, str]) -> int:
    """Ask straight of the application, as if its socket were that of port 80: ports below 1024 need rights."""
    import asyncio

    from pricing.page.server.app import page_of

    keys = Keys(80, session=page.keys.session, room=page.keys.room)
    app = page_of(page.root, keys, page.as_of)
    body = b"price=" if method == "POST" else b""
    told: list[int] = []
    path = f"/{keys.room}/metal/moves" if method == "POST" else f"/{keys.room}/"
    sent = [(name.lower().encode(), value.encode()) for name, value in headers.items()]
    sent.append((b"content-type", b"application/x-www-form-urlencoded"))

    async def receive():
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message):
        if message["type"] == "http.response.start":
            told.append(message["status"])

    scope = {"type": "http", "method": method, "path": path, "raw_path": path.encode(), "query_string": b"",
             "headers": sent, "http_version": "1.1", "scheme": "http", "server": ("127.0.0.1", 80)}  # fmt: skip
    asyncio.run(app(scope, receive, send))
    return told[0]


def test_a_browser_that_looks_ahead_does_not_use_the_token_up(closed):
    assert closed.get(f"/?token={closed.token}", Sec_Purpose="prefetch").status == 403
    assert closed.get(f"/?token={closed.token}").status == 303


@pytest.mark.parametrize("token", ["", "wrong", "ü", "%00", "%C3%BC"])
def test_a_wrong_token_does_not(closed, token):
    assert (
        closed.ask("GET", "/?token=" + token.encode().decode("latin-1").encode("unicode_escape").decode()).status == 403
    )
    assert closed.keys.token == closed.token


@pytest.mark.parametrize(
    "cookie",
    [
        "troytag-{port}=",
        "troytag-{port}=wrong",
        "troytag-1={session}",
        "other={session}",
        "troytag-{port}=\x7f",
        "=;=;=",
    ],
)
def test_a_wrong_cookie_is_none(looking, cookie):
    sent = cookie.format(port=looking.keys.port, session=looking.keys.session)
    assert looking.ask("GET", "/", {"Cookie": sent}).status == 403


def test_two_runs_share_no_secret():
    one, other = Keys(1), Keys(1)
    assert len({one.token, one.session, one.room, other.token, other.session, other.room}) == 6
    assert min(len(secret) for secret in (one.token, one.session, one.room)) >= 43  # 32 bytes in base 64 are 43 letters


@pytest.mark.parametrize("path", ["/", "/static/page.js", "/nothing", "/picture?sku=acorn-knob", "/lists/upload-sheet"])
def test_every_answer_says_what_a_browser_may_do_with_it(looking, path):
    headers = looking.get(path).headers
    policy = {part.split()[0]: part.split()[1:] for part in headers["content-security-policy"].split("; ")}
    assert policy["default-src"] == policy["base-uri"] == policy["frame-ancestors"] == ["'none'"]
    for kind in ("script-src", "style-src", "img-src", "font-src", "connect-src", "form-action"):
        assert policy[kind] == ["'self'"]  # nothing inline, nothing from elsewhere, no eval
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == headers["cross-origin-opener-policy"] == "same-origin"
    assert "server" not in headers or "uvicorn" in headers["server"]


def test_refusals_bear_the_same_headers(closed):
    assert "content-security-policy" in closed.get("/").headers


def test_a_websocket_is_not_answered(looking):
    answer = looking.get(
        "/",
        Connection="Upgrade",
        Upgrade="websocket",
        Sec_WebSocket_Version="13",
        Sec_WebSocket_Key="dGhlIHNhbXBsZSBub25jZQ==",
    )
    assert answer.status != 101


def test_nonsense_does_not_stop_the_page(looking):
    with socket.create_connection(("127.0.0.1", looking.keys.port), timeout=LONG) as wire:
        wire.sendall(b"\x16\x03\x01 not http at all\r\n\r\n")
        wire.recv(200)
    assert looking.get("/").status == 200
