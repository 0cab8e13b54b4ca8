"""How much may come, counted on the bytes that really come, and how slowly."""

from __future__ import annotations

import socket
import time
from dataclasses import replace
from types import MappingProxyType

import pytest

from pricing.page.server.limits import Allowed
from tests.page.served import Served
from tests.waiting import LONG

SMALL = Allowed(body_bytes=2_000, bytes_by_path=MappingProxyType({"/design/mesh": 20_000}), seconds=LONG)


@pytest.fixture
def strict(folder):
    with Served(folder, allowed=SMALL) as page:
        yield page


def head(page: Served, path: str, *more: str) -> bytes:
    lines = [f"POST {page.room}{path} HTTP/1.1", f"Host: {page.host}", f"Cookie: {page.cookie}",
             f"Origin: {page.origin}", "Content-Type: application/x-www-form-urlencoded", *more]  # fmt: skip
    return ("\r\n".join(lines) + "\r\n\r\n").encode()


def status_of(answer: bytes) -> int:
    return int(answer.split()[1])


def test_a_form_of_the_largest_size_is_read(strict):
    body = b"price=" + b"1" * (2_000 - len("price="))
    assert strict.ask("POST", "/metal/moves", {"Origin": strict.origin,
                      "Content-Type": "application/x-www-form-urlencoded"}, body).status == 200  # fmt: skip


@pytest.mark.parametrize("told", ["2001", "99999999999999999999", "-1", "2e3", "٣"])
def test_a_length_that_is_too_long_or_none_is_refused_before_anything_is_read(strict, told):
    with socket.create_connection(("127.0.0.1", strict.keys.port), timeout=LONG) as wire:
        wire.sendall(
            head(strict, "/metal/moves", "Content-Length: ").replace(
                b"Content-Length: ", b"Content-Length: " + told.encode()
            )
        )
        assert status_of(wire.recv(300)) in (400, 413)


def test_a_body_that_does_not_say_its_length_is_counted(strict):
    chunks = [b"price=", *[b"1" * 500] * 4]  # 2,006 bytes
    headers = {"Origin": strict.origin, "Content-Type": "application/x-www-form-urlencoded"}
    answer = strict.ask("POST", "/metal/moves", headers, chunks)
    assert answer.status == 413
    assert "That is too much at once; nothing was kept." in answer.words


def test_a_mesh_may_be_larger_but_not_endless(strict):
    assert strict.post_file("/design/mesh?place=0", "tiny.stl", b"0" * 10_000).status == 200
    assert strict.post_file("/design/mesh?place=0", "large.stl", b"0" * 20_001).status == 413


def test_a_body_that_comes_drop_by_drop_is_refused(folder):
    hurried = replace(SMALL, seconds=0.6)
    with (
        Served(folder, allowed=hurried) as page,
        socket.create_connection(("127.0.0.1", page.keys.port), timeout=LONG) as wire,
    ):
        wire.sendall(head(page, "/metal/moves", "Content-Length: 2000"))
        began = time.monotonic()
        answer = b""
        wire.settimeout(0.1)
        while not answer and time.monotonic() - began < LONG:
            try:
                wire.sendall(b"1")
                answer = wire.recv(300)
            except TimeoutError:
                continue
        took = time.monotonic() - began
    assert status_of(answer) == 408
    assert 0.5 < took < LONG  # the limit is 0.6 s for the whole of a body, however lively it drips


def test_a_body_that_stops_leaves_the_page_working(strict):
    with socket.create_connection(("127.0.0.1", strict.keys.port), timeout=LONG) as wire:
        wire.sendall(head(strict, "/metal/moves", "Content-Length: 100") + b"price=1")
    assert strict.get("/metal").status == 200


def test_too_many_fields_are_refused(served):
    answer = served.post("/metal/moves", [(f"field{number}", "1") for number in range(2_100)])
    assert answer.status == 400
    assert "nothing was changed" in answer.words
