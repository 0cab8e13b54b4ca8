"""Compiles C once, with whatever compiler is there, keeps the library in the user's cache folder, and loads it.

A library is code that runs, so one is believed only where nobody else can have put it there: `pricing.remembered` looks
at the folder and at the file through the handles that it reads from, and the very bytes that it read are loaded, out of
a new folder that only this process knows; so nothing can be changed in between. Who could forge one could as well
change the user's own programs. One that is damaged is compiled again.
"""

from __future__ import annotations

import ctypes
import hashlib
import os
import platform
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from pricing.remembered import cache_folder, keep, recalled

#: Names a compiler (a command that takes the usual options), or `off` for none.
VARIABLE = "TROYTAG_COMPILER"
#: Arithmetic as it is written: nothing is fused or put in another order. Traps and errno are of no use here.
FLAGS = ("-O3", "-std=gnu11", "-fPIC", "-shared", "-ffp-contract=off", "-fno-math-errno", "-fno-trapping-math")
#: For this very processor; a compiler that does not know it does without.
NATIVE = "-march=native"
#: Seconds after which a compiler is given up.
PATIENCE = 120
#: What a compiler is tried with.
TRIED = "#include <math.h>\ndouble tried(double x) { return ceil(x); }\n"
MOST_BYTES = 2**24


class NotCompiled(Exception):
    """Why there is no library, in a sentence without a full stop."""


def compiler() -> tuple[str, ...] | None:
    """The command of a C compiler: the one that is named, one of the system, one from a package; None without any."""
    named = os.environ.get(VARIABLE, "").strip()
    if named == "off" or not hasattr(os, "geteuid"):  # what keeps a forged library out is known of POSIX alone
        return None
    if named:
        try:
            return tuple(shlex.split(named))
        except ValueError:  # quotes that are not closed
            return (named,)
    for name in ("cc", "gcc", "clang"):
        if found := shutil.which(name):
            return (found,)
    return (sys.executable, "-m", "ziglang", "cc") if find_spec("ziglang") else None


def told(many: int) -> str:
    """Who computes here, in a sentence or two for the maker; so `many` rows are compiled."""
    command = compiler()
    if command is None:
        off = os.environ.get(VARIABLE) == "off"
        why = f"{VARIABLE} is off" if off else "no C compiler was found"
        mend = "" if off else ' Install cc, gcc or clang, or: pip install "troytag[compiled]"'
        return f"numpy computes everything: {why}.{mend}"
    try:
        _loaded(compiled(TRIED, FLAGS))
    except NotCompiled as fault:
        return f"numpy computes everything: {fault}."
    folder = cache_folder("kernels")
    kept = "kept nowhere" if folder is None else f"kept in {folder}"
    return (
        f"numpy computes what is small. From {many:,} variants, or variants × worlds, on, the same formulas run "
        f"compiled by {shlex.join(command)}, {kept}."
    )


@cache
def library(source: str, flags: tuple[str, ...] | None = None) -> ctypes.CDLL:
    """The loaded library of a C source, compiled where none is kept. Raises NotCompiled."""
    flags = FLAGS if flags is None else flags
    name = hashlib.sha256("\0".join((source, *flags, platform.machine(), _processor())).encode()).hexdigest()
    content = recalled("kernels", name, MOST_BYTES) if hasattr(os, "geteuid") else None
    if content is not None:
        with suppress(NotCompiled):  # whole, but of a system that was another then: it cannot be loaded any more
            return _loaded(content)
    content = compiled(source, flags)
    keep("kernels", name, content)
    return _loaded(content)


def compiled(source: str, flags: Sequence[str]) -> bytes:
    """What the compiler makes of a source. Raises NotCompiled."""
    command = compiler()
    if command is None:
        raise NotCompiled("no C compiler was found")
    with _private_folder() as private:
        written, made = Path(private) / "kernel.c", Path(private) / "kernel.so"
        written.write_text(source, encoding="utf-8")
        said = ""
        for options in ((*flags, NATIVE), flags):
            try:
                ended = subprocess.run(
                    [*command, *options, str(written), "-o", str(made), "-lm"],
                    stdin=subprocess.DEVNULL, capture_output=True, timeout=PATIENCE, text=True, errors="replace",
                )  # fmt: skip
            except (OSError, subprocess.SubprocessError) as fault:
                raise NotCompiled(f"{command[0]} did not run ({fault})") from None
            if ended.returncode == 0 and made.is_file():
                return made.read_bytes()
            said = said or next(iter(ended.stderr.splitlines()), f"it ended with {ended.returncode}")
        raise NotCompiled(f"{command[0]} compiled nothing: {said}")


def _loaded(content: bytes) -> ctypes.CDLL:
    with _private_folder() as private:
        file = Path(private) / "kernel.so"
        file.write_bytes(content)
        try:
            return ctypes.CDLL(str(file))
        except OSError as fault:
            raise NotCompiled(f"the library cannot be loaded ({fault})") from None


@contextmanager
def _private_folder() -> Iterator[str]:
    """A new folder that only this user may look into.

    Raises NotCompiled where none can be had, nothing put in, or nothing run that lies in it: else every command would
    compile anew what cannot be loaded.
    """
    try:
        with tempfile.TemporaryDirectory(prefix="troytag-") as private:
            if hasattr(os, "ST_NOEXEC") and os.statvfs(private).f_flag & os.ST_NOEXEC:
                raise NotCompiled("nothing may be run that lies in the folder for temporary files")
            yield private
    except OSError as fault:
        raise NotCompiled(f"there is no room for temporary files ({fault.strerror or fault})") from None


@cache
def _processor() -> str:
    """What tells processors apart that cannot run each other's code."""
    with suppress(OSError):
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8", errors="replace").splitlines():
            if line.startswith(("flags", "Features")):
                return line
    return f"{platform.processor()} {platform.node()}"
