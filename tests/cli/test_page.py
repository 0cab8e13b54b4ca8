"""`troytag page`: it says where it is, lets in once, and tells what stands in the way."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from pricing.resources import sample_catalog
from tests.waiting import LONG

pytest.importorskip("uvicorn")
pytest.importorskip("starlette")


def test_it_is_served_until_it_is_interrupted():
    words = [sys.executable, "-m", "pricing.cli.main", "page", str(sample_catalog()), "--no-open", "--port", "0"]
    where = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=where) as run:
        try:
            address = urlsplit(run.stdout.readline().strip())
            assert address.hostname == "127.0.0.1" and address.query.startswith("token=")
            connection = HTTPConnection("127.0.0.1", address.port, timeout=LONG)
            connection.request("GET", f"/?{address.query}")
            welcome = connection.getresponse()
            welcome.read()
            cookie = {"Cookie": welcome.headers["Set-Cookie"].split(";")[0]}
            connection.request("GET", welcome.headers["Location"], headers=cookie)
            assert "Acorn drawer knob" in connection.getresponse().read().decode()
            connection.close()
            run.send_signal(signal.SIGINT)
            _, told = run.communicate(timeout=LONG)
        finally:
            run.kill()  # what fails above may not leave a server that is waited for without end
    assert run.returncode == 0
    assert "Only this machine can see it" in told and "Traceback" not in told


def test_a_port_that_is_taken_is_told(troytag):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        ran = troytag("page", sample_catalog(), "--no-open", "--port", port)
    assert ran.code == 2 and ran.err.startswith(f"port {port} cannot be had")


@pytest.mark.parametrize("port", ["-1", "65536"])
def test_a_port_that_is_none_is_told(troytag, port):
    ran = troytag("page", sample_catalog(), "--no-open", "--port", port)
    assert ran.code == 2 and "a port is a number from 0 to 65535" in ran.err


def test_a_file_in_the_place_of_the_folder_is_told(troytag, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    ran = troytag("page", tmp_path / "notes.txt", "--no-open")
    assert ran.code == 2 and "is a file. Name a folder, or one that shall be." in ran.err


def test_of_a_folder_that_is_not_there_the_page_asks(troytag, tmp_path, monkeypatch):
    monkeypatch.setattr("pricing.page.server.serve.serve", lambda root, port, opens, as_of, tell: tell("http://page"))
    ran = troytag("page", tmp_path / "hill", "--no-open")
    assert (ran.code, ran.out) == (0, "http://page\n")
    assert "yet: the page asks what it needs to begin one." in " ".join(ran.err.split())
    assert "yet" not in troytag("page", sample_catalog(), "--no-open").err
