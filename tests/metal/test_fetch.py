"""What is read from an address, and everything that is refused: against servers of this machine that misbehave."""

from __future__ import annotations

import asyncio
import ipaddress
import ssl
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
import trustme

from pricing.metal.faults import PullFault
from pricing.metal.fetch import FetchLimits, fetch, is_public, read_source_file
from tests.metal.servers import body, dripping, nobody, serving
from tests.waiting import LONG

pytest.importorskip("httpx")

SMALL = FetchLimits(size=1024, seconds=LONG)
QUICK = FetchLimits(size=1024, seconds=0.4)


def fetched(address: str, loopback: bool = True, limits: FetchLimits = SMALL, **others) -> bytes:
    with ThreadPoolExecutor(1) as apart:  # a browser driven by other tests leaves a loop running here
        return apart.submit(asyncio.run, fetch(address, loopback, limits, **others)).result()


def refused(address: str, loopback: bool = True, limits: FetchLimits = SMALL, **others) -> str:
    with pytest.raises(PullFault) as caught:
        fetched(address, loopback, limits, **others)
    return str(caught.value)


def at(server) -> str:
    return f"http://localhost:{server.port}/prices.json"


def test_a_good_answer():
    with serving(body(b'{"Ag": 38.40}')) as server:
        assert fetched(at(server)) == b'{"Ag": 38.40}'
    lines = server.requests[0].split("\r\n")
    assert lines[0] == "GET /prices.json HTTP/1.1"
    assert f"Host: localhost:{server.port}" in lines
    assert "Accept-Encoding: identity" in lines


def test_the_largest_that_is_read_and_one_byte_more():
    with serving(body(b"x" * 1024)) as server:
        assert len(fetched(at(server))) == 1024
    with serving(body(b"x" * 1025)) as server:
        assert refused(at(server)) == "it gives more than 1 KiB. Choose a source that gives one price or a few."


def test_a_huge_answer_is_not_read_to_its_end():
    """It says no length and would never end."""

    def endless(connection):
        connection.sendall(b"HTTP/1.1 200 OK\r\n\r\n")
        while True:
            connection.sendall(b"x" * 65536)

    with serving(endless) as server:
        assert refused(at(server)).startswith("it gives more than 1 KiB.")


@pytest.mark.parametrize("headers", [False, True])
def test_a_slow_answer_has_one_limit_for_all_of_it(headers):
    """Every single byte comes in good time; together they take 50 s."""
    began = time.monotonic()
    with serving(dripping(1000, 0.05, headers)) as server:
        told = refused(at(server), limits=QUICK)
    assert told == "localhost did not answer in full within 0.4 s. Try again later. Nothing was taken from it."
    assert time.monotonic() - began < 25


def test_an_answer_that_never_begins():
    with serving(lambda connection: connection.recv(1)) as server:  # until the other side hangs up
        assert "did not answer in full within 0.4 s" in refused(at(server), limits=QUICK)


BROKE_OFF = "the answer of localhost broke off or was none. Try again later. Nothing was taken from it."


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        (body(b"38.40", length=500), BROKE_OFF),  # it says more than it gives
        (body(b"", length=10**9), "it gives more than 1 KiB. Choose a source that gives one price or a few."),
        (body(b"38.40", length=-5), BROKE_OFF),
        (lambda connection: connection.sendall(b"38.40\r\n\r\n"), BROKE_OFF),
        (lambda connection: None, BROKE_OFF),
        (
            body(b"", "Location: http://169.254.169.254/secret", status="302 Found"),
            "localhost sends on to http://169.254.169.254/secret. Write that address, if you trust it.",
        ),
        (
            body(b"", "Location: /there", status="301 Moved Permanently"),
            "localhost sends on to /there. Write that address, if you trust it.",
        ),
        (body(b"", status="404 Not Found"), "localhost answers 404. See whether the address is still right."),
        (body(b"", status="500 Oh"), "localhost answers 500. See whether the address is still right."),
        (body(b"", status="204 No Content"), "localhost answers 204. See whether the address is still right."),
        (
            body(b"\x1f\x8b", "Content-Encoding: gzip"),
            "localhost answers with packed data, unasked. Choose another source.",
        ),
    ],
)  # fmt: skip
def test_a_bad_answer(answer, told):
    with serving(answer) as server:
        assert refused(at(server)) == told
    assert len(server.requests) == 1  # asked once, and nowhere else


def test_it_says_less_than_it_gives():
    """What is behind the length that it says is no part of the answer."""
    with serving(body(b"38.40 and more", length=5)) as server:
        assert fetched(at(server)) == b"38.40"


def test_nobody_listens():
    told = "localhost cannot be reached. See whether this machine is online, and the address right."
    with nobody() as server:
        assert refused(at(server)) == told


def test_no_address_is_known():
    async def offline(host, port):
        raise OSError(-3, "Temporary failure in name resolution")

    told = "no address is known for prices.example. See whether this machine is online, and the name right."
    assert refused("https://prices.example/", loopback=False, resolve=offline) == told


def test_a_look_up_that_hangs_is_not_waited_for(monkeypatch):
    ends, began = threading.Event(), time.monotonic()
    monkeypatch.setattr("pricing.metal.fetch.socket.getaddrinfo", lambda *words, **others: ends.wait(LONG) and [])
    assert "did not answer in full within 0.4 s" in refused("https://prices.example/", False, QUICK)
    assert time.monotonic() - began < LONG / 2
    ends.set()


def resolving_to(*addresses: str):
    asked = []

    async def resolve(host, port):
        asked.append(host)
        return list(addresses)

    resolve.asked = asked
    return resolve


@pytest.mark.parametrize(
    "address",
    [
        "127.0.0.1", "10.0.0.8", "172.16.0.1", "192.168.1.1", "169.254.169.254", "100.64.0.1", "0.0.0.0", "224.0.0.1",
        "255.255.255.255", "::1", "::", "fe80::1", "fe80::1%eth0", "fd00::1", "ff02::1", "::ffff:10.0.0.8",
        "64:ff9b::a00:8", "2002:a00:8::1", "198.18.0.1", "240.0.0.1",
    ],
)  # fmt: skip
def test_addresses_that_are_not_public_are_not_spoken_to(address):
    told = (
        f"prices.example is {address}, an address that is not public. "
        "Only public addresses are read; for one of this machine itself write loopback = true."
    )
    assert refused("https://prices.example/", loopback=False, resolve=resolving_to(address)) == told
    # nor if one of several is not
    assert refused("https://prices.example/", loopback=False, resolve=resolving_to("9.9.9.9", address)) == told


@pytest.mark.parametrize("address", ["9.9.9.9", "2620:fe::fe", "::ffff:9.9.9.9"])
def test_public_addresses(address):
    assert is_public(ipaddress.ip_address(address))


def test_an_address_written_as_numbers_is_looked_at_too():
    told = refused("https://192.168.0.1/", loopback=False)
    assert told.startswith("192.168.0.1 is 192.168.0.1, an address that is not public.")


def test_loopback_means_this_machine_only():
    told = refused("http://prices.example/", resolve=resolving_to("9.9.9.9"))
    assert told == "prices.example is 9.9.9.9, and not this machine. Leave loopback out."


def test_a_name_is_looked_up_once_and_that_address_is_connected_to():
    """A second look-up might give another answer: there is none."""
    resolve = resolving_to("127.0.0.1")
    with serving(body(b"38.40")) as server:
        assert fetched(f"http://prices.example:{server.port}/", resolve=resolve) == b"38.40"
    assert resolve.asked == ["prices.example"]
    assert f"Host: prices.example:{server.port}" in server.requests[0].split("\r\n")


def test_of_several_addresses_the_first_that_listens_is_used():
    with serving(body(b"38.40")) as server:
        address = f"http://prices.example:{server.port}/"
        assert fetched(address, resolve=resolving_to("127.0.0.9", "127.0.0.1")) == b"38.40"


def test_proxies_of_the_surroundings_are_passed_over(monkeypatch):
    with serving(body(b"from the proxy")) as proxy, serving(body(b"38.40")) as server:
        for name in ("http_proxy", "HTTP_PROXY", "https_proxy", "ALL_PROXY", "all_proxy"):
            monkeypatch.setenv(name, f"http://127.0.0.1:{proxy.port}")
        assert fetched(at(server)) == b"38.40"
    assert proxy.requests == []


def test_without_what_it_needs(monkeypatch):
    monkeypatch.setitem(sys.modules, "httpx", None)
    assert refused("https://prices.example/") == (
        "reading from an address needs the package httpx, which is not installed. "
        'Install what it needs: pip install "troytag[pull]".'
    )


# ---- certificates


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


def tls_of(authority: trustme.CA, name: str) -> ssl.SSLContext:
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert(name).configure_cert(context)
    return context


def trusting(authority: trustme.CA) -> ssl.SSLContext:
    context = ssl.create_default_context()
    authority.configure_trust(context)
    return context


def test_the_certificate_is_held_to_the_name_and_not_to_the_number(authority):
    with serving(body(b"38.40"), tls_of(authority, "prices.example")) as server:
        address = f"https://prices.example:{server.port}/"
        resolve = resolving_to("127.0.0.1")
        assert fetched(address, resolve=resolve, trusted=trusting(authority)) == b"38.40"


@pytest.mark.parametrize(("name", "trusted"), [("other.example", True), ("prices.example", False)])
def test_a_certificate_of_another_name_or_of_nobody_known(authority, name, trusted):
    with serving(body(b"38.40"), tls_of(authority, name)) as server:
        address = f"https://prices.example:{server.port}/"
        others = {"trusted": trusting(authority)} if trusted else {}
        told = refused(address, resolve=resolving_to("127.0.0.1"), **others)
    assert told.startswith("the certificate of prices.example is not to be trusted (")
    assert told.endswith("). Do not use what it says; see whether the address is right.")
    assert server.requests == []


# ---- files


def test_a_file(tmp_path):
    path = tmp_path / "silver.csv"
    path.write_bytes(b"x" * 1024)
    assert len(read_source_file(path, SMALL)) == 1024
    path.write_bytes(b"x" * 1025)
    with pytest.raises(PullFault, match="it gives more than 1 KiB"):
        read_source_file(path, SMALL)
    with pytest.raises(PullFault, match="there is no file .*gold.csv"):
        read_source_file(tmp_path / "gold.csv", SMALL)
    with pytest.raises(PullFault, match="is no plain file"):
        read_source_file(tmp_path, SMALL)
