"""The costing of the sample and the kept pictures of the lists' tests serve here too; a workshop and its workbook."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pricing.workbook.back.cells import read_workbook
from pricing.workbook.back.proposal import WANTED
from pricing.workbook.sheets import write_workbook
from tests.lists.conftest import kept, own_cache, sample  # noqa: F401
from tests.workbook.incoming_workshop import costing_of, workshop


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
