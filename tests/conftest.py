"""What every test may use, the strict mode, and where generated examples come from."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.database import DirectoryBasedExampleDatabase
from hypothesis.internal.conjecture import providers

from pricing.cli import again
from tests.compiling import compile_share
from tests.office import Office, OfficeMissing, office_programs

#: What a machine says of its own people and of its screens: how numbers are written on papers, colours, widths.
#: And whether compiled modules are kept: where they are not, every process that a test starts compiles them all anew.
HABITS = (
    "LANGUAGE", "LINES", "COLUMNS", "FORCE_COLOR", "PY_COLORS", "CLICOLOR_FORCE", "NO_COLOR", "GITHUB_ACTIONS",
    "PYTHONDONTWRITEBYTECODE",
)  # fmt: skip


def of_no_machine(surroundings: Mapping[str, str]) -> dict[str, str]:
    """The surroundings of a process, without the habits of the machine: papers and screens are the same everywhere."""
    plain = {name: value for name, value in surroundings.items() if name not in HABITS and not name.startswith("LC_")}
    return plain | {"LANG": "C.UTF-8"}


for name in set(os.environ) - set(plain := of_no_machine(os.environ)):
    del os.environ[name]
os.environ.update(plain)
sys.dont_write_bytecode = False
gc.disable()  # until all tests are collected: what is made by then stays
# Tests put other things in the place of functions: in this process answers are remembered only where one asks for it.
again.LEAST_FILES = sys.maxsize

#: Where the tests' folders are made if it is a disk in memory with so much room, on which programs may run: what is
#: written is kept for good (fsync) thousands of times, which a disk takes its time for.
IN_MEMORY, ROOM = "/dev/shm", 4 * 2**30


def place_of_folders(surroundings: Mapping[str, str]) -> str | None:
    """Where the tests make their folders; None for where the system says."""
    if "PYTEST_DEBUG_TEMPROOT" in surroundings or not hasattr(os, "ST_NOEXEC") or not os.access(IN_MEMORY, os.W_OK):
        return None
    found = os.statvfs(IN_MEMORY)
    return IN_MEMORY if found.f_bavail * found.f_frsize >= ROOM and not found.f_flag & os.ST_NOEXEC else None


if place := place_of_folders(os.environ):
    os.environ["PYTEST_DEBUG_TEMPROOT"] = place

# No test is red by chance: the same examples at every run, whatever an earlier one left behind. TROYTAG_EXPLORE=1
# draws others each time and keeps what fails. No limit of time for an example or for drawing them: a busy machine
# would fail it. Both say all that they need: where CI is set, the library takes other settings as its own.
UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("same", UNHURRIED, derandomize=True, database=None, max_examples=40)  # exploring draws more
settings.register_profile(
    "explore",
    UNHURRIED,
    derandomize=False,
    database=DirectoryBasedExampleDatabase(".hypothesis/examples"),
    print_blob=True,
)
# What is drawn hangs on the constants in every module of ours that is imported by then, which are others in each
# process that shares the tests out. Without them a seed draws the same everywhere; exploring has them.
if os.environ.get("TROYTAG_EXPLORE") != "1":
    providers._get_local_constants = lambda: providers._local_constants
settings.load_profile("explore" if os.environ.get("TROYTAG_EXPLORE") == "1" else "same")


@pytest.fixture(scope="session")
def office():
    """One LibreOffice for all tests (`tests/office.py`); skips where it is not installed."""
    try:
        office_programs()
    except OfficeMissing as missing:
        pytest.skip(str(missing))
    with Office() as office:
        yield office


@pytest.fixture(scope="session")
def kernel(tmp_path_factory):
    """All quantities of variants compiled, once for all tests and processes; skips where there is no C compiler."""
    from pricing.formulas.graph import cost_model
    from pricing.formulas.kernel.library import compiler
    from pricing.formulas.kernel.run import Kernel

    if compiler() is None:
        pytest.skip("no C compiler: cc, gcc, clang or ziglang")
    with pytest.MonkeyPatch.context() as patch, of_all_processes(tmp_path_factory, "kernel") as cache:
        patch.setenv("TROYTAG_CACHE", str(cache))
        return Kernel(cost_model(), cost_model().quantities)


@contextmanager
def of_all_processes(tmp_path_factory, name: str) -> Iterator[Path]:
    """A folder that all processes of a run share, for one of them after the other."""
    of_this = tmp_path_factory.getbasetemp()
    folder = (of_this.parent if "PYTEST_XDIST_WORKER" in os.environ else of_this) / f"shared-{name}"
    folder.mkdir(mode=0o700, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        if os.name == "posix":
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX)
        yield folder


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session):
    if told := getattr(session.config, "workerinput", None):  # one of several processes
        compile_share(session.config, int(told["workerid"].removeprefix("gw")), told["workercount"])


def pytest_collection_finish():
    """Six thousand collected tests are millions of objects that stay; looking through them for garbage takes a tenth
    of the whole run."""
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    gc.enable()
    gc.freeze = gc.unfreeze = lambda: None  # `uncollected` would thaw them, and have them looked through again


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    for item in items:
        if "office" in getattr(item, "fixturenames", ()):
            item.add_marker("office")
            item.add_marker("slow")
    # What takes longest begins first: several processes end together, and one of them has LibreOffice for most of it.
    long = {item.path for item in items if item.get_closest_marker("office")}
    items.sort(key=lambda item: item.path not in long)


# Strict mode, TROYTAG_STRICT=1: a skip means that something is missing, and there nothing may be.


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    return _no_skip((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector):
    return _no_skip((yield))


def _no_skip(report):
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("TROYTAG_STRICT") == "1":
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"TROYTAG_STRICT=1 allows no skip. {reason}"
    return report
