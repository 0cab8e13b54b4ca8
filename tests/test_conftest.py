"""Strict mode: where nothing may be missing, a skip is a failure. Fixed seeds: nothing is red by chance."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.internal.cache import LRUCache
from hypothesis.internal.conjecture import providers

from tests import conftest
from tests.conftest import of_no_machine

CHECKOUT = Path(__file__).parent.parent
FILES = {
    "test_one.py": "import pytest\ndef test_passed(): pass\ndef test_skipped(): pytest.skip('no such program')\n",
    "test_two.py": "import pytest\npytest.skip('no such program', allow_module_level=True)\n",
    "test_three.py": "import pytest\n@pytest.mark.xfail\ndef test_expected(): raise AssertionError\n",
}


@pytest.mark.parametrize(
    ("mode", "code", "counted", "failures"),
    [("0", 0, "1 passed, 2 skipped, 1 xfailed", 0), ("1", 1, "1 failed, 1 passed, 1 xfailed, 1 error", 2)],
)
def test_a_skip_fails_in_strict_mode_alone(tmp_path, mode, code, counted, failures):
    for name, content in FILES.items():
        (tmp_path / name).write_text(content)
    command = [sys.executable, "-m", "pytest", "-p", "tests.conftest", "-c", os.devnull, "--rootdir", str(tmp_path)]
    ended = subprocess.run(
        [*command, "--continue-on-collection-errors", "-rN", str(tmp_path)],
        cwd=CHECKOUT,
        env={**os.environ, "TROYTAG_STRICT": mode},
        capture_output=True,
        text=True,
    )
    assert counted in ended.stdout
    assert ended.returncode == code
    assert ended.stdout.count("TROYTAG_STRICT=1 allows no skip. Skipped: no such program") == failures


@pytest.mark.skipif(not hasattr(os, "ST_NOEXEC"), reason="the disk in memory is one of Linux")
def test_folders_lie_in_memory_only_where_there_is_room_and_programs_may_run(tmp_path, monkeypatch):
    blocks = conftest.ROOM // 4096
    monkeypatch.setattr(conftest, "IN_MEMORY", str(tmp_path))

    def place(free: int, flag: int = 0, **said: str) -> str | None:
        monkeypatch.setattr(os, "statvfs", lambda _: SimpleNamespace(f_bavail=free, f_frsize=4096, f_flag=flag))
        return conftest.place_of_folders(said)

    assert place(blocks) == str(tmp_path)
    assert place(blocks - 1) is None
    assert place(blocks, os.ST_NOEXEC) is None
    assert place(blocks, PYTEST_DEBUG_TEMPROOT="elsewhere") is None
    monkeypatch.setattr(conftest, "IN_MEMORY", str(tmp_path / "nowhere"))
    assert place(blocks) is None


DRAWS = """
from hypothesis import given, settings, strategies as st

@settings(max_examples=5)
@given(st.integers(0, 10**12))
def test_drawn(number): print("drawn", number)
"""


@pytest.mark.parametrize(("explore", "same"), [("0", True), ("1", False)])
def test_examples_are_the_same_at_every_run_unless_we_explore(tmp_path, explore, same):
    """Where CI is set too, in which the library would take other settings as its own."""
    (tmp_path / "test_draws.py").write_text(DRAWS)
    command = [sys.executable, "-m", "pytest", "-p", "tests.conftest", "-c", os.devnull, "--rootdir", str(tmp_path)]
    drawn = []
    for _ in range(2):
        ended = subprocess.run(
            [*command, "-s", str(tmp_path)],
            cwd=CHECKOUT,
            env={**os.environ, "TROYTAG_EXPLORE": explore, "CI": "true"},
            capture_output=True,
            text=True,
        )
        assert ended.returncode == 0, ended.stdout
        drawn.append(
            [line for line in ended.stdout.splitlines() if line.endswith(tuple("0123456789")) and "drawn" in line]
        )
    assert len(drawn[0]) >= 5
    assert (drawn[0] == drawn[1]) is same


def test_the_habits_of_the_machine_are_left_out():
    """Its people write 1.234,50 and its builds ask for colours; what is none of that stays."""
    said = {"LANG": "de_DE.UTF-8", "LC_ALL": "tr_TR.UTF-8", "LC_MONETARY": "fr_CH", "LANGUAGE": "de", "COLUMNS": "300",
            "GITHUB_ACTIONS": "true", "FORCE_COLOR": "1", "PYTHONDONTWRITEBYTECODE": "1",
            "PATH": "/bin", "TROYTAG_STRICT": "1"}  # fmt: skip
    assert of_no_machine(said) == {"LANG": "C.UTF-8", "PATH": "/bin", "TROYTAG_STRICT": "1"}
    assert dict(os.environ) == of_no_machine(os.environ) | {
        name: value for name, value in os.environ.items() if name == "PYTEST_CURRENT_TEST"
    }


def drawn() -> list[list[str]]:
    found: list[list[str]] = []

    @settings(max_examples=10)
    @given(st.lists(st.text(), min_size=30))
    def each(texts):
        found.append(texts)

    each()
    return found


@pytest.mark.skipif(os.environ.get("TROYTAG_EXPLORE") == "1", reason="exploring draws others each time")
def test_what_is_drawn_does_not_hang_on_what_is_imported(tmp_path, monkeypatch):
    before = drawn()
    words = ", ".join(f'"{number} spoons"' for number in range(200))
    (tmp_path / "full_of_words.py").write_text(f"WORDS = ({words})\n")
    monkeypatch.syspath_prepend(tmp_path)
    importlib.import_module("full_of_words")
    monkeypatch.setattr(providers, "CONSTANTS_CACHE", LRUCache(100))  # it keeps the constants that it first saw
    assert drawn() == before
