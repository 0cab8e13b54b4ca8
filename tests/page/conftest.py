"""Folders and pages that the tests of the page share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from shutil import copytree

import pytest

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from pricing.resources import sample_catalog  # noqa: E402
from tests.cli.conftest import troytag  # noqa: F401 (a fixture: what the terminal says to the same)
from tests.folders import small_sample  # noqa: E402
from tests.page.served import Served  # noqa: E402


@pytest.fixture
def folder(tmp_path) -> Path:
    """A copy of the sample with few products, to be written to."""
    return small_sample(tmp_path / "fernhollow")


@pytest.fixture
def served(folder) -> Iterator[Served]:
    """Its page, entered already."""
    with Served(folder) as page:
        yield page


@pytest.fixture(scope="module")
def looking(tmp_path_factory) -> Iterator[Served]:
    """A page that is only looked at, one for a whole module."""
    root = Path(copytree(sample_catalog(), tmp_path_factory.mktemp("looking") / "fernhollow"))
    with Served(root) as page:
        yield page
