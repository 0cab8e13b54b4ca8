"""Runs tests on each mistake of some files: they are read once, then a process is split off for every mistake."""

from __future__ import annotations

import os
import resource
import signal
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from gc import freeze, unfreeze  # themselves: what the tests share makes `gc.unfreeze` do nothing
from pathlib import Path
from types import FrameType

import pytest
from hypothesis import Phase, settings

from tests.formulas.prepared import prepared
from tests.formulas.test_drawn import FIRST
from tests.mutation.at_work import NothingToChange, Running
from tests.mutation.mutants import OWN_LINES, Mutant

#: What became of a mistake, by the exit code of its process.
UNSEEN, NOTICED, NOT_PUT_IN = 0, 1, 3
SPARE_SECONDS = 20  # of the processor, beyond twice what all tests take
REMEMBERED = 12  # tests that noticed something lately


class Watch:
    """A plugin of pytest: in place of running the tests once, runs them on every mistake until one notices it.

    Tests that noticed the last mistakes go first, then the quickest files of tests; a file that never reaches the
    mistaken function is left out.
    """

    def __init__(self, mutants: Mapping[Path, list[Mutant]], tell: Callable[[Path, Mutant, int, str], None]):
        self.mutants, self.tell = mutants, tell
        self.reached: defaultdict[str, set[str]] = defaultdict(set)
        self.seconds: Counter[str] = Counter()
        self.lately: list[str] = []

    def pytest_collection(self) -> None:
        """The examples of every run, without looking for the smallest that fails."""
        settings.register_profile("until the first", settings.default, phases=(Phase.explicit, Phase.generate))
        settings.load_profile("until the first")

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            raise session.Interrupted("the tests cannot be read")
        session.config._tmp_path_factory.getbasetemp()  # one for all processes
        for number in range(FIRST):
            prepared(number)
        unfreeze()  # an earlier run of this process has left its functions there
        self.running = Running(self.mutants)
        freeze()
        failed = self.look_around(session.items)
        if failed:
            raise session.Failed(f"fails without a mistake: {failed}")
        print(f"{len(session.items)} tests asked; all of them take {self.seconds.total():.0f} s", flush=True)
        for file, mutants in self.mutants.items():
            for mutant in mutants:
                items = self.who_may_notice(session.items, f"{file}:{mutant.within}")
                code, told = split_off(lambda f=file, m=mutant, i=items: self.try_one(f, m, i))
                if code == NOTICED and "::" in told:
                    self.lately = [told, *(name for name in self.lately if name != told)][:REMEMBERED]
                self.tell(file, mutant, code, told)
        return True

    def look_around(self, items: list[pytest.Item]) -> str:
        """Run everything once without a mistake, to see what it takes and which files reach which functions."""
        _, told = split_off(lambda: self.run_all(items))
        failed, *lines = told.split("\n")
        for line in filter(None, lines):
            name, _, rest = line.partition("\t")
            if rest.startswith("/"):
                self.reached[name].add(rest)
            else:
                self.seconds[name] += float(rest)
        return failed

    def run_all(self, items: list[pytest.Item]) -> tuple[int, str]:
        seen: set[tuple[str, str]] = set()
        seconds: Counter[str] = Counter()
        places, now = {str(file) for file in self.mutants}, ""

        def called(frame: FrameType, event: str, _: object) -> None:
            if event == "call" and frame.f_code.co_filename in places:
                seen.add((now, f"{frame.f_code.co_filename}:{_outermost(frame.f_code.co_qualname)}"))

        for number, item in enumerate(items):
            if file_of(item) != now:
                self.running.forget()
                now = file_of(item)
            began = resource.getrusage(resource.RUSAGE_SELF).ru_utime
            sys.setprofile(called)
            passed = run(item, items[number + 1] if number + 1 < len(items) else None)
            sys.setprofile(None)
            seconds[now] += resource.getrusage(resource.RUSAGE_SELF).ru_utime - began
            if not passed:
                return NOTICED, item.nodeid
        lines = [*(f"{name}\t{place}" for name, place in seen), *(f"{name}\t{took}" for name, took in seconds.items())]
        return UNSEEN, "\n".join(["", *lines])

    def who_may_notice(self, items: list[pytest.Item], place: str) -> list[pytest.Item]:
        of_all = place.endswith(f":{OWN_LINES}")
        places = {place, place.rpartition(".")[0]}  # a function within a function is reached by way of it
        may = [item for item in items if of_all or places & self.reached[file_of(item)]]
        may.sort(key=lambda item: self.seconds[file_of(item)])
        first = [item for name in self.lately for item in may if item.nodeid == name]
        return first + [item for item in may if item not in first]

    def try_one(self, file: Path, mutant: Mutant, items: list[pytest.Item]) -> tuple[int, str]:
        limit = int(2 * self.seconds.total()) + SPARE_SECONDS
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        try:
            self.running.put_in(file, mutant.text)
        except (NothingToChange, ValueError) as problem:
            return NOT_PUT_IN, str(problem)
        self.running.forget()
        for number, item in enumerate(items):
            if not run(item, items[number + 1] if number + 1 < len(items) else None):
                return NOTICED, item.nodeid
        return UNSEEN, ""


def split_off(work: Callable[[], tuple[int, str]]) -> tuple[int, str]:
    """What some work in a process of its own comes to; a process that is ended by its limit has noticed too."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        os.close(reading)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1), os.dup2(quiet, 2)
        code, told = NOTICED, "the run itself"
        try:
            code, told = work()
        finally:
            with os.fdopen(writing, "w", encoding="utf-8") as answer:
                answer.write(told)
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8") as answer:
        told = answer.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return NOTICED, f"the limit of time ({signal.Signals(os.WTERMSIG(status)).name})"
    return os.WEXITSTATUS(status), told


def run(item: pytest.Item, following: pytest.Item | None) -> bool:
    """Whether one test passes."""
    before = item.session.testsfailed
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
    return item.session.testsfailed == before


def file_of(item: pytest.Item) -> str:
    """The file that a test stands in."""
    return item.nodeid.partition("::")[0]


def _outermost(qualified: str) -> str:
    return qualified.partition(".<locals>")[0]
