"""Runs commands within limits, each in a process split off from this one, and tells what each used.

It has read the command line's modules and numpy, once for all commands. A process apart from the tests: what the system
calls the most memory of a process begins with what its parent held, and the tests hold a lot.
Arguments: seconds of the processor and bytes of memory at which the system ends a command. What is asked comes over the
socket that is its standard input, a line each, with the three streams of the command.
"""

from __future__ import annotations

import gc
import io
import json
import os
import resource
import socket
import sys
import time

import numpy as np  # noqa: F401 (for the commands)
import rich.console
import rich.table  # noqa: F401

import pricing.cli.commands.check
import pricing.cli.commands.cost
import pricing.cli.commands.import_file
import pricing.cli.commands.measure
import pricing.cli.main
import pricing.cli.screens.cost
import pricing.costing
import pricing.formulas.by_itself
import pricing.meshes  # noqa: F401 (all of these for the commands)


def serve(asks: socket.socket) -> tuple[dict, list[int]] | None:
    """Splits off a process for each line that is asked: there it gives back that and its streams, here None at last."""
    read = time.process_time()  # each command would have read the modules by itself
    while asked_with := line(asks):
        asked, streams = asked_with
        if (command := os.fork()) == 0:
            return json.loads(asked), streams
        for stream in streams:
            os.close(stream)
        _, status, used = os.wait4(command, 0)
        seconds = read + used.ru_utime + used.ru_stime
        asks.sendall(json.dumps([os.waitstatus_to_exitcode(status), seconds, used.ru_maxrss]).encode() + b"\n")
    return None


def line(asks: socket.socket) -> tuple[bytes, list[int]] | None:
    """The next line and the streams that came with its beginning; None where no more is asked."""
    asked, streams, _, _ = socket.recv_fds(asks, 2**16, 3)
    while asked and not asked.endswith(b"\n"):
        asked += asks.recv(2**16)
    return (asked, streams) if asked else None


def begin(asked: dict, streams: list[int]) -> None:
    """Makes this process the one that was asked for: its limits, folder, words, surroundings and streams."""
    seconds, most = map(int, sys.argv[1:])
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    os.environ.clear()
    os.environ.update(asked["surroundings"])
    for place, stream in enumerate(streams):
        os.dup2(stream, place)
        os.close(stream)
    sys.stdout, sys.stderr = printing(1, "strict"), printing(2, "backslashreplace")
    os.chdir(asked["folder"])
    sys.argv = ["troytag", *asked["words"]]


def printing(stream: int, errors: str) -> io.TextIOWrapper:
    """What an interpreter that begins in these surroundings prints to (PYTHONIOENCODING, PYTHONUNBUFFERED)."""
    encoding = os.environ.get("PYTHONIOENCODING") or sys.__stdout__.encoding
    through = bool(os.environ.get("PYTHONUNBUFFERED"))
    raw = open(stream, "wb", 0 if through else -1, closefd=False)
    at_once = stream == 2 or os.isatty(stream)
    return io.TextIOWrapper(raw, encoding, errors, line_buffering=at_once, write_through=through)


if __name__ == "__main__":
    gc.collect()
    gc.freeze()
    with socket.socket(fileno=os.dup(0)) as asks:
        command = serve(asks)
    if command:
        begin(*command)
        pricing.cli.main.main()
