"""Processes that share the tests out share the compiling of them: in a new checkout it takes each several seconds."""

from __future__ import annotations

import py_compile
from collections.abc import Sequence
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path

import pytest
from _pytest.assertion import rewrite

CHECKOUT = Path(__file__).parent.parent


def compile_share(config: pytest.Config, place: int, of: int) -> list[Path]:
    """Compile what of this process's share is not compiled yet; gives the files.

    What cannot be compiled is passed over: it is told where it is imported. So is everything where the test runner
    compiles in another way than it did when this was written.
    """
    done = []
    for path in sources()[place::of]:
        with suppress(Exception):
            if _compile_test(config, path) if _is_rewritten(path) else _compile(path):
                done.append(path)
    return done


def sources() -> Sequence[Path]:
    """Every module of the package and of the tests, the long ones first."""
    found = [path for folder in ("pricing", "tests") for path in (CHECKOUT / folder).rglob("*.py")]
    return sorted(found, key=lambda path: (-path.stat().st_size, path))


def _is_rewritten(path: Path) -> bool:
    """Whether the test runner compiles it, so that its assertions tell what they saw."""
    return path.name.startswith("test_") or path.name == "conftest.py"


def _is_done(path: Path, target: Path) -> bool:
    """Whether it is compiled; where that is out of date nevertheless, importing it compiles it."""
    return target.exists() and target.stat().st_mtime >= path.stat().st_mtime


def _compile(path: Path) -> bool:
    if _is_done(path, Path(cache_from_source(str(path)))):
        return False
    py_compile.compile(str(path), doraise=True)
    return True


def _compile_test(config: pytest.Config, path: Path) -> bool:
    target = rewrite.get_cache_dir(path) / (path.name[:-3] + rewrite.PYC_TAIL)
    if _is_done(path, target):
        return False
    target.parent.mkdir(exist_ok=True)
    known, code = rewrite._rewrite_test(path, config)
    return rewrite._write_pyc(config.stash[rewrite.assertstate_key], code, known, target)
