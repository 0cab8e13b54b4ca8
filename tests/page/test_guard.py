"""Who is let in, and what is refused: each attack that a browser makes possible on a server of this machine."""

from __future__ import annotations

import socket

import pytest

from pricing.page.server.guard import Keys
from tests.page.served import Served


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
@pytest.mark.parametrize("path", ["/metal", "/reprice/publish", "/design/save", "/edit-text/workshop.toml"])
def test_a_write_that_does_not_come_from_the_page_is_refused(looking, headers, path):
    sent = {name: value.format(host=looking.host, port=looking.keys.port) for name, value in headers.items()}
    answer = looking.ask("POST", path, sent, b"")
    assert (answer.status, answer.text) == (403, "Only the page itself may change something.\n")


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
    assert (first.status, first.headers["location"]) == (303, "/")
    cookie = first.headers["set-cookie"]
    assert cookie.startswith(f"troytag-{closed.keys.port}=")
    assert {"HttpOnly", "SameSite=strict", "Path=/"} <= set(cookie.split("; "))
    assert closed.token not in cookie
    second = closed.get(f"/?token={closed.token}")
    assert (second.status, "set-cookie" in second.headers) == (403, False)
    closed.cookie = cookie.split(";")[0]
    assert closed.get("/").status == 200
    assert closed.get(f"/?token={closed.token}").headers["location"] == "/"  # the token does not stay in the address


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
    assert len({one.token, one.session, other.token, other.session}) == 4
    assert min(len(secret) for secret in (one.token, one.session)) >= 43  # 32 bytes in base 64 are 43 letters


@pytest.mark.parametrize("path", ["/", "/static/page.js", "/nothing", "/picture?sku=acorn-knob", "/lists/upload-sheet"])
def test_every_answer_says_what_a_browser_may_do_with_it(looking, path):
    headers = looking.get(path).headers
    policy = {part.split()[0]: part.split()[1:] for part in headers["content-security-policy"].split("; ")}
    assert policy["default-src"] == policy["base-uri"] == policy["frame-ancestors"] == ["'none'"]
    for kind in ("script-src", "style-src", "img-src", "connect-src", "form-action"):
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
    with socket.create_connection(("127.0.0.1", looking.keys.port), timeout=5) as wire:
        wire.sendall(b"\x16\x03\x01 not http at all\r\n\r\n")
        wire.recv(200)
    assert looking.get("/").status == 200
