"""The sample written to Parquet once, with prices in force of an earlier day."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest

from pricing.costing import Costing, asked_for, cost
from pricing.editions.chain import Edition, newest
from pricing.many.write import written
from pricing.resources import sample_catalog
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.cli.conftest import troytag  # noqa: F401 (a fixture)

BEFORE, AS_OF = date(2024, 12, 2), date(2026, 11, 20)


@dataclass(frozen=True)
class Exported:
    """A folder's figures, the edition in force, and where its Parquet files lie."""

    costing: Costing
    edition: Edition
    folder: Path


def put(into: Path, files: dict[str, bytes]) -> Path:
    into.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (into / name).write_bytes(content)
    return into


@pytest.fixture(scope="package")
def exported(tmp_path_factory) -> Exported:
    """Published two years before it is looked at again: metal has moved since. Nobody writes into it."""
    root = tmp_path_factory.mktemp("sample")
    folder = root / "workshop"
    shutil.copytree(sample_catalog(), folder)
    publish_prices(reprice(cost(folder, asked_for(BEFORE)), None))
    costing, edition = cost(folder, asked_for(AS_OF)), newest(folder)
    return Exported(costing, edition, put(root / "files", written(costing, edition)))
