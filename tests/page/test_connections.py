"""Hundreds of connections that say nothing, half of something, or read nothing: the page goes on answering."""

from __future__ import annotations

import logging
import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import ExitStack
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from pricing.page.scratch import LOCK, PREFIX, YOUNG, Scratch, sweep
from pricing.page.server.connections import FewLines, Patience
from pricing.page.server.guard import Keys
from tests.page.served import Served
from tests.waiting import LONG

HALF = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Half: "
HUNDREDS = 300


def opened(stack: ExitStack, port: int, count: int, said: bytes) -> list[socket.socket]:
    wires = []
    for _ in range(count):
        wire = stack.enter_context(socket.create_connection(("127.0.0.1", port), timeout=LONG))
        wire.sendall(said)
        wires.append(wire)
    return wires


def ended(wire: socket.socket, within: float) -> bool:
    """Whether the other side has closed it."""
    wire.settimeout(within)
    try:
        return wire.recv(100) == b""
    except TimeoutError:
        return False
    except ConnectionError:
        return True


@pytest.mark.parametrize("said", [b"", HALF])
def test_hundreds_that_are_half_open_keep_nobody_out(folder, said):
    endless = Patience(asking=10 * LONG, idle=10 * LONG)  # no room is made by waiting
    with Served(folder, patience=endless) as page, ExitStack() as stack:
        opened(stack, page.keys.port, HUNDREDS, said)
        assert page.get("/static/page.css").status == 200
        assert len(page._server.server_state.connections) <= page.patience.most


def test_a_header_must_come_whole_and_soon(folder):
    with Served(folder, patience=Patience(asking=0.4), enters=False) as page, ExitStack() as stack:
        silent, half = (opened(stack, page.keys.port, 1, said)[0] for said in (b"", HALF))
        dripping = opened(stack, page.keys.port, 1, HALF)[0]
        began = time.monotonic()
        while time.monotonic() - began < LONG and not ended(dripping, 0.05):
            try:
                dripping.sendall(b"x")
            except OSError:
                break
        assert 0.3 < time.monotonic() - began < LONG  # however lively it drips
        assert ended(silent, LONG) and ended(half, LONG)


@pytest.mark.parametrize("said", [b"", HALF])
def test_a_connection_between_two_requests_is_closed_after_a_while(folder, said):
    with Served(folder, patience=Patience(asking=1.0, idle=0.4), enters=False) as page, ExitStack() as stack:
        wire = opened(stack, page.keys.port, 1, f"GET / HTTP/1.1\r\nHost: {page.host}\r\n\r\n".encode())[0]
        began, came = time.monotonic(), b""
        while b"</html>" not in came:
            came += wire.recv(4096) or pytest.fail(f"closed after {came!r}")
        assert b" 403 " in came
        wire.sendall(said)  # half of a second request has the time of a header
        assert ended(wire, LONG) and time.monotonic() - began > 0.3


def test_who_reads_nothing_is_dropped(folder):
    with Served(folder, patience=Patience(reading=0.4)) as page, ExitStack() as stack:
        wire = stack.enter_context(socket.socket())
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        wire.settimeout(LONG)
        wire.connect(("127.0.0.1", page.keys.port))
        asked = f"GET {page.room}/ HTTP/1.1\r\nHost: {page.host}\r\nCookie: {page.cookie}\r\n\r\n".encode()
        try:
            wire.sendall(asked * 100)  # answers of a hundred catalogues are not read
        except OSError:
            pass
        deadline = time.monotonic() + LONG
        while page._server.server_state.connections and time.monotonic() < deadline:
            time.sleep(0.05)
        assert not page._server.server_state.connections
        assert page.get("/static/page.css").status == 200


def seconds_worked(process: int) -> float:
    """Seconds of a processor that a process has used; 0 where the system does not tell."""
    stat = Path(f"/proc/{process}/stat")
    if not stat.is_file():
        return 0.0
    used = stat.read_text().rpartition(")")[2].split()  # fields 14 and 15 of proc(5), two of them before the bracket
    return (int(used[11]) + int(used[12])) / os.sysconf("SC_CLK_TCK")


def comes_to_rest(process: int) -> bool:
    """Whether it uses less than half a core for a while: no core is kept busy by who says nothing."""
    for _ in range(100):
        before = seconds_worked(process)
        time.sleep(0.3)
        if seconds_worked(process) - before < 0.15:
            return True
    return False


def test_a_process_of_few_descriptors_says_little_and_goes_on(folder, tmp_path):
    """The command itself with 160 descriptors, as some systems give few: 300 connections, then an answer."""
    resource = pytest.importorskip("resource")

    def few() -> None:
        resource.setrlimit(resource.RLIMIT_NOFILE, (160, 160))
        signal.signal(signal.SIGHUP, signal.SIG_DFL)  # tests may be run with nohup, and with it the page would go on

    words = [sys.executable, "-m", "pricing.cli.main", "page", str(folder), "--no-open", "--port", "0"]
    with (tmp_path / "said").open("wb") as said:
        process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=said, text=True, preexec_fn=few,
                                   env={**os.environ, "TMPDIR": str(tmp_path)})  # fmt: skip
        try:
            address = urlsplit(process.stdout.readline().strip())
            page = Served(folder)
            page.keys = Keys(address.port)
            with ExitStack() as stack:
                opened(stack, address.port, HUNDREDS, HALF)
                welcome = page.get(f"/?{address.query}")
                assert welcome.status == 303
                page.cookie, page.room = welcome.headers["set-cookie"].split(";")[0], welcome.headers["location"][:-1]
                assert page.get("/").status == 200
                assert comes_to_rest(process.pid)
            assert page.post_file("/design/mesh?place=0", "a.stl", b"x" * 200).status == 200
            assert list(tmp_path.glob(f"{PREFIX}*"))
            process.send_signal(signal.SIGHUP)
            process.wait(LONG)
        finally:
            process.kill()
            process.wait(LONG)
    assert (tmp_path / "said").stat().st_size < 20_000
    assert list(tmp_path.glob(f"{PREFIX}*")) == []  # swept away although the terminal was hung up


def test_a_flood_of_lines_is_cut():
    now = [0.0]
    few = FewLines(most=3, clock=lambda: now[0])
    lines = [logging.LogRecord("asyncio", logging.ERROR, "", 0, f"line {number}", (), None) for number in range(10)]
    kept = [line.getMessage() for line in lines if few.filter(line)]
    assert kept == ["line 0", "line 1", "line 2", "further lines of this minute are left out"]
    now[0] = 61.0
    assert few.filter(logging.LogRecord("asyncio", logging.ERROR, "", 0, "line", (), None))


def test_what_a_killed_page_left_is_swept_at_the_next_start(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    alive, later = Scratch(), time.time() + YOUNG + 1
    code = (
        "import os, signal; from pricing.page.scratch import Scratch; its_own = Scratch()\n"
        "print(its_own.path, flush=True); os.kill(os.getpid(), signal.SIGKILL)"
    )
    left = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True,
                          env={**os.environ, "TMPDIR": str(tmp_path)})  # fmt: skip
    dead = Path(left.stdout.strip())
    (dead / "mesh.stl").write_bytes(b"x")
    other = tmp_path / f"{PREFIX}of-another-program"
    other.mkdir()
    linked = tmp_path / f"{PREFIX}link"
    linked.symlink_to(alive.path.parent)
    assert sweep(tmp_path) == []  # all are young: their pages may be just starting
    assert sweep(tmp_path, later) == [dead]
    assert alive.path.is_dir() and other.is_dir() and linked.is_symlink() and not dead.exists()
    alive.close()
    assert not alive.path.exists() and (other / LOCK).exists() is False
