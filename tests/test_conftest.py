"""Strict mode: where nothing may be missing, a skip is a failure."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

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
