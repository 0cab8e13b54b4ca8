"""A few products of the sample, for every cell counts here; kept pictures; a workshop and its workbook."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pricing.workbook.back.cells import read_workbook
from pricing.workbook.back.proposal import WANTED
from pricing.workbook.sheets import write_workbook
from tests.folders import small_sample
from tests.lists import fernhollow
from tests.lists.conftest import kept, own_cache  # noqa: F401
from tests.workbook.incoming_workshop import costing_of, workshop


@pytest.fixture(scope="package")
def sample(tmp_path_factory):
    """The sample with few of its products as of 2026-11-20; nobody changes it."""
    return fernhollow.costing_of(small_sample(tmp_path_factory.mktemp("small") / "fernhollow"))


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """The workshop, its costing, its workbook as a file and as cells; nobody changes them."""
    directory = tmp_path_factory.mktemp("incoming")
    root = workshop(directory / "workshop")
    costing = costing_of(root)
    book = directory / "book.xlsx"
    write_workbook(costing, book)
    return root, costing, book, read_workbook(book, WANTED)


@pytest.fixture
def root(made, tmp_path):
    """A copy of the workshop that was made, to be changed."""
    return Path(shutil.copytree(made[0], tmp_path / "workshop"))
