"""Harbour Lane costed once."""

from __future__ import annotations

import pytest

from pricing.costing import Costing, asked_for, cost
from tests.learning.harbour import AS_OF, write_folder


@pytest.fixture(scope="package")
def harbour(tmp_path_factory) -> Costing:
    return cost(write_folder(tmp_path_factory.mktemp("harbour")), asked_for(AS_OF))
