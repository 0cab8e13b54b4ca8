"""The first workshops of the comparison over very many, from resolved model to record; one in five lies on an edge."""

import pytest

from tests.formulas.prepared import prepared

FIRST = 20


@pytest.mark.parametrize("number", range(FIRST))
def test_the_engine_makes_of_it_what_is_exact(number):
    assert prepared(number).differences() == []
