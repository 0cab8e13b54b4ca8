"""The command line in this process, as in `tests/cli`, and folders to be spoilt."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import troytag
from tests.folders import tin_lane

__all__ = ["lane", "troytag"]


@pytest.fixture
def lane(tmp_path) -> Path:
    """A copy of the Tin Lane workshop that may be spoilt; its exact results are known."""
    return shutil.copytree(tin_lane(), tmp_path / "lane")
