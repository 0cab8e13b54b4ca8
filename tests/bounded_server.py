"""Runs commands within limits, each in a process split off from this one, and tells what each used.

It has read the command line's modules and numpy, once for all commands. A process apart from the tests: what the system
calls the most memory of a process begins with what its parent held, and the tests hold a lot.
Arguments: seconds of the processor and bytes of memory at which the system ends a command.
"""

from __future__ import annotations

import gc
import json
import os
import resource
import sys
import time

import numpy as np  # noqa: F401 (for the commands)

import pricing.cli.commands.check
import pricing.cli.commands.import_file
import pricing.cli.commands.measure
import pricing.cli.main
import pricing.formulas.by_itself
import pricing.meshes  # noqa: F401 (all of these for the commands)


def serve() -> dict | None:
    """Splits off a process for each line that is asked: there it gives back what was asked, here None at the end."""
    read = time.process_time()  # each command would have read the modules by itself
    while line := sys.stdin.readline():
        asked = json.loads(line)
        if (command := os.fork()) == 0:
            return asked
        _, status, used = os.wait4(command, 0)
        seconds = read + used.ru_utime + used.ru_stime
        print(json.dumps([os.waitstatus_to_exitcode(status), seconds, used.ru_maxrss]), flush=True)
    return None


def begin(asked: dict) -> None:
    """Makes this process the one that was asked for: its limits, folder, words, surroundings and streams."""
    seconds, most = map(int, sys.argv[1:])
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    os.environ.clear()
    os.environ.update(asked["surroundings"])
    for stream, name, how in ((0, os.devnull, os.O_RDONLY), (1, asked["said"], os.O_WRONLY)):
        os.dup2(os.open(name, how), stream)
    os.dup2(1, 2)
    os.chdir(asked["folder"])
    sys.argv = ["troytag", *asked["words"]]


if __name__ == "__main__":
    gc.collect()
    gc.freeze()
    if asked := serve():
        begin(asked)
        pricing.cli.main.main()
