"""What tests of kept editions share."""

from __future__ import annotations

import pytest

from pricing.editions.publishing import publish
from tests.editions.small_editions import content


@pytest.fixture
def chain(request, tmp_path):
    """A folder with an edition for each of the `DAYS` of the module that asks."""
    before = None
    for number, day in enumerate(request.module.DAYS, 1):
        before = publish(tmp_path, content(day, f"the {number}th"), before)
    return tmp_path
