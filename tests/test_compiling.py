"""Modules are compiled by several processes as each would compile them by itself."""

from __future__ import annotations

from importlib.util import cache_from_source
from pathlib import Path

from _pytest.assertion import rewrite

from tests import compiling


def test_a_share_is_compiled_as_it_is_where_it_is_imported(request, tmp_path, monkeypatch):
    """What the test runner and Python find beside the modules is taken by them, and is not made twice."""
    monkeypatch.setattr(compiling, "CHECKOUT", tmp_path)
    for name, text in (
        ("pricing/sums.py", "def both(): return 1\n"),
        ("pricing/torn.py", "def ("),  # told where it is imported
        ("tests/test_sums.py", "def test_sums():\n    assert 1 + 1 == 2\n"),
        ("tests/conftest.py", "NOTHING = 0\n"),
    ):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    shares = [compiling.compile_share(request.config, place, 2) for place in (0, 1)]
    test = tmp_path / "tests" / "test_sums.py"
    assert {path.name for share in shares for path in share} == {"sums.py", "test_sums.py", "conftest.py"}
    assert all(shares)
    assert [compiling.compile_share(request.config, place, 2) for place in (0, 1)] == [[], []]
    kept = rewrite._read_pyc(test, rewrite.get_cache_dir(test) / f"test_sums{rewrite.PYC_TAIL}")
    assert kept == rewrite._rewrite_test(test, request.config)[1] and kept.co_filename == str(test)
    assert Path(cache_from_source(str(tmp_path / "pricing" / "sums.py"))).is_file()
