"""Servers of this machine that answer as told: byte by byte, so that they can lie."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field

#: Sends whatever it likes through the connection, having read the request.
Answer = Callable[[socket.socket], None]


def body(content: bytes, *headers: str, status: str = "200 OK", length: int | None = None) -> Answer:
    """A whole answer; `length` is what it says its length were."""

    def answer(connection: socket.socket) -> None:
        head = [f"HTTP/1.1 {status}", f"Content-Length: {len(content) if length is None else length}", *headers]
        connection.sendall("\r\n".join(head).encode() + b"\r\n\r\n" + content)

    return answer


def dripping(pieces: int, pause: float, headers: bool = False) -> Answer:
    """An answer that comes one byte at a time: its body, or its headers."""

    def answer(connection: socket.socket) -> None:
        if not headers:
            connection.sendall(f"HTTP/1.1 200 OK\r\nContent-Length: {pieces}\r\n\r\n".encode())
        for _ in range(pieces):
            connection.sendall(b"x")
            time.sleep(pause)

    return answer


@dataclass
class Server:
    """Where it listens, and the first line and the headers of every request that came."""

    port: int
    requests: list[str] = field(default_factory=list)


@contextmanager
def nobody() -> Iterator[Server]:
    """A port at which nobody listens and that nobody else can take meanwhile."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        yield Server(held.getsockname()[1])


@contextmanager
def serving(answer: Answer, tls: ssl.SSLContext | None = None) -> Iterator[Server]:
    """Answer every connection in this way until the block ends."""
    listener = socket.create_server(("127.0.0.1", 0))
    server = Server(listener.getsockname()[1])
    ended = threading.Event()

    def work() -> None:
        while not ended.is_set():
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            with suppress(OSError), connection:
                with tls.wrap_socket(connection, server_side=True) if tls else connection as spoken:
                    request = b""
                    while b"\r\n\r\n" not in request:
                        piece = spoken.recv(4096)
                        if not piece:
                            raise OSError
                        request += piece
                    server.requests.append(request.decode())
                    answer(spoken)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        ended.set()
        with suppress(OSError):
            listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join(timeout=5)
