"""What the log knows of figures takes the place of a doubt that was only stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.learning.posteriors import posteriors
from pricing.model.doubt import Doubt
from pricing.studies.doubt.in_doubt import in_doubt
from pricing.studies.prices_out import prices_out
from tests.learning.harbour import AS_OF, write_folder, write_log

GOOD = "processes.cast.file.good"


def test_the_worlds_are_drawn_from_what_the_log_knows(tmp_path):
    """File: 20 trials a flask of clasps, 19 good, in eight flasks, beside 40 hooks that all came out."""
    assert posteriors(cost(write_folder(tmp_path / "empty"), asked_for(AS_OF))) == ()
    root = write_folder(tmp_path / "lane")
    write_log(root)
    costing = cost(root, asked_for(AS_OF))
    stated = costing.folder.stated.model_copy(update={"doubts": {GOOD: Doubt(low=0.4, high=0.8)}})
    costing = replace(costing, folder=replace(costing.folder, stated=stated))
    learned = posteriors(costing)
    known = next(each for each in learned if each.path == GOOD)
    assert 0.8 < known.low < known.high < 1  # 192 of 200 good outweigh a doubt as wide as that
    found = in_doubt(prices_out(costing), learned, draws=256, shares=False)
    figure = next(each for each in found.doubted.figures if each.path == GOOD)
    assert figure.from_log
    from scipy import stats

    ends = stats.beta(figure.shape.first, figure.shape.second).cdf([known.low, known.high])
    np.testing.assert_allclose(ends, [0.05, 0.95], atol=1e-9)
    assert {each.path for each in found.doubted.figures if each.from_log} <= {each.path for each in learned}
    without = in_doubt(prices_out(costing), draws=256, shares=False)
    assert without.doubted.figures[0].shape.at(0.5) == pytest.approx(0.6, abs=0.02)
    assert found.rows[0].cost.middle < without.rows[0].cost.middle  # more comes out good than was feared
