"""How sure costs and prices are: against closed forms, and against folders in which each figure is another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy import optimize, stats

from pricing.costing import Costing, asked_for, cost, cost_folder
from pricing.errors import UsageFault
from pricing.model.doubt import Doubt
from pricing.studies.doubt.figures import Posterior, in_words
from pricing.studies.doubt.in_doubt import DRAWS, InDoubt, in_doubt, until_repricing
from pricing.studies.doubt.sobol import uniform
from pricing.studies.doubt.what_to_measure import to_measure, what_matters
from pricing.studies.map.price_map import with_figure
from pricing.studies.prices_out import prices_out
from tests.folders import tin_lane
from tests.published.small_workshop import AS_OF, POUR, QUOTED, written

#: Half an hour of work; nothing else costs anything.
FILE = {"name": "file", "per": "set", "labour": "bench", "minutes": 30}
TABLES = {
    "workshop": {"labour": {"bench": {"rate": 20.0}}, "overhead": {"per_month": 0.0, "productive_hours": 100.0}},
    "steps": [POUR, FILE],
}
RATE, MINUTES = "labour.bench.rate", "processes.work.file.minutes"
IN_DOUBT = "pricing.studies.doubt.in_doubt."
#: Standard deviations between the 5 % and the 95 % point of a normal distribution, and of its 10 % point.
BETWEEN, TENTH = 2 * stats.norm.ppf(0.95), stats.norm.ppf(0.9)


def with_doubts(costing: Costing, doubts: Mapping[str, tuple[float, float]]) -> Costing:
    told = {path: Doubt(low=low, high=high) for path, (low, high) in doubts.items()}
    folder = replace(costing.folder, stated=costing.folder.stated.model_copy(update={"doubts": told}))
    return replace(costing, folder=folder)


def study(root, doubts: Mapping[str, tuple[float, float]], tables: Mapping = TABLES, **said) -> InDoubt:
    written(root, **tables)
    return in_doubt(prices_out(with_doubts(cost(root, asked_for(AS_OF)), doubts)), **said)


def log_of(low: float, high: float) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of a lognormal figure with these two points."""
    return float(np.log(low * high) / 2), float(np.log(high / low) / BETWEEN)


# ---- closed forms


def test_a_product_of_two_doubted_figures_is_lognormal(tmp_path):
    """minutes / 60 × rate: logarithms add up, so do their variances."""
    (m1, s1), (m2, s2) = log_of(20, 45), log_of(16, 25)
    fixed = {"shop": {"policy": {"fixed": 14.0}, "reprice": {"keep_within": 0.05, "least_margin": 0.2}}}
    (row,) = study(tmp_path, {MINUTES: (20, 45), RATE: (16, 25)}, {**TABLES, "channels": fixed}).rows
    middle, spread = m1 + m2 - np.log(60), np.hypot(s1, s2)
    exact = np.exp(middle + np.array([-TENTH, 0, TENTH]) * spread)
    np.testing.assert_allclose(row.cost, exact, rtol=0.003)
    (price,) = row.prices
    np.testing.assert_allclose(price.margin, (1 - exact / 14)[::-1], atol=0.003)
    assert price.loss == pytest.approx(stats.norm.sf((np.log(14) - middle) / spread), abs=0.003)  # cost above 14
    assert price.under_least == pytest.approx(stats.norm.sf((np.log(14 * 0.8) - middle) / spread), abs=0.003)
    assert row.unit_cost == pytest.approx(0.5 * 20)
    whole = np.exp(s1**2 + s2**2) - 1  # variance of a product of lognormals by the square of its mean
    for path, own, other in ((MINUTES, s1, s2), (RATE, s2, s1)):
        share = row.shares[path]
        assert share.alone == pytest.approx((np.exp(own**2) - 1) / whole, abs=0.02)
        assert share.in_all == pytest.approx((np.exp(own**2) - 1) * np.exp(other**2) / whole, abs=0.02)
        assert price.shares[path] == pytest.approx(share, abs=1e-9)  # the margin is a line in the cost


def test_a_sum_of_two_doubted_figures(tmp_path):
    """rate / 2 + overhead / 200: the distribution function of a sum is an integral over one of them."""
    tables = {**TABLES, "workshop": {**TABLES["workshop"], "overhead": {"per_month": 2400.0, "productive_hours": 100}}}
    (row,) = study(tmp_path, {RATE: (16, 25), "overhead.per_month": (1500, 4000)}, tables).rows
    first, second = (
        stats.lognorm(s=spread, scale=np.exp(middle + np.log(times)))
        for (middle, spread), times in ((log_of(16, 25), 1 / 2), (log_of(1500, 4000), 1 / 200))
    )

    nodes = first.ppf((np.arange(4000) + 0.5) / 4000)  # the integral, by its midpoints

    exact = [
        optimize.brentq(lambda x, share=share: second.cdf(x - nodes).mean() - share, 8, 60, xtol=1e-5)
        for share in (0.1, 0.5, 0.9)
    ]
    np.testing.assert_allclose(row.cost, exact, rtol=0.003)
    whole = first.var() + second.var()
    assert row.shares[RATE].alone == pytest.approx(first.var() / whole, abs=0.02)
    assert row.shares["overhead.per_month"].in_all == pytest.approx(second.var() / whole, abs=0.02)


def test_a_fraction_good_is_what_the_log_knows_of_it(tmp_path):
    """10 / good: the dear tenth is that of the worst tenth of good ones. What the log says takes the doubt's place."""
    path = "processes.work.file.good"
    tables = {**TABLES, "steps": [POUR, {**FILE, "good": 0.85}]}
    found = study(tmp_path, {path: (0.5, 0.99)}, tables, learned=[Posterior(path, 0.8, 0.92)], shares=False)
    (figure,) = found.doubted.figures
    assert (figure.from_log, figure.stated, figure.shape.kind) == (True, 0.85, "beta")
    good = stats.beta(figure.shape.first, figure.shape.second)
    np.testing.assert_allclose(good.ppf([0.05, 0.95]), [0.8, 0.92], rtol=1e-6)
    np.testing.assert_allclose(found.rows[0].cost, 10 / good.ppf([0.9, 0.5, 0.1]), rtol=0.002)


def test_the_default_number_of_draws_is_enough(tmp_path, monkeypatch):
    """P10 and P90 from other draws lie within 1 %; `bench_doubt` shows it for the sample."""
    ends = []
    for seed in (1, 2, 3):
        monkeypatch.setattr(
            "pricing.studies.doubt.in_doubt.uniform", lambda draws, dims, seed=seed: uniform(draws, dims, seed)
        )
        found = study(tmp_path, {MINUTES: (20, 45), RATE: (16, 25), "labour.bench.on_cost": (0.02, 0.2)}, shares=False)
        ends.append(found.rows[0].cost)
    ends = np.array(ends)
    assert found.draws == DRAWS
    assert (ends.max(axis=0) / ends.min(axis=0)).max() < 1.01


# ---- the same formulas


@pytest.fixture(scope="module")
def costing() -> Costing:
    read = cost(tin_lane(), asked_for(date(2026, 11, 20)))
    stated = read.folder.stated
    process, steps = next(iter(stated.processes.items()))
    pour = next(step.name for step in steps if step.takes_metal)
    alloy, channel = next(iter(stated.alloys)), next(iter(stated.channels))
    return with_doubts(
        read,
        {
            "overhead.productive_hours": (90.0, 110.0),
            f"processes.{process}.{pour}.good": (0.85, 0.97),
            f"alloys.{alloy}.melt_loss": (0.005, 0.03),
            f"channels.{channel}.units_per_order": (8, 14),
        },
    )


def test_what_matters_is_what_a_folder_with_the_figure_changed_asks(costing):
    found = in_doubt(prices_out(costing), shares=False, draws=2)
    matters = what_matters(found)
    sold = costing.computed.sold_places
    today = costing.computed["required_price"][sold]
    assert len(matters) == len(found.doubted.figures) == 4
    assert [each.moves for each in matters] == sorted((each.moves for each in matters), reverse=True)
    for each in matters:
        figure = each.figure
        ends = [
            cost_folder(with_figure(costing.folder, each.path, end, costing.asked), costing.asked).computed
            for end in (figure.low, figure.high)
        ]
        low, high = (computed["required_price"][sold] / today - 1 for computed in ends)
        np.testing.assert_allclose(
            [each.at_low, each.at_high, each.moves, each.most],
            [low.mean(), high.mean(), np.abs(high - low).mean(), np.abs(high - low).max()],
            rtol=1e-6, atol=1e-12,
        )  # fmt: skip
        assert each.measure
    assert to_measure(matters, 2) == matters[:2]


def test_slabs_of_variants_are_the_same_as_all_at_once(costing, monkeypatch):
    out = prices_out(costing)
    whole = in_doubt(out, draws=16, shares=False, rows=[1, 4])
    monkeypatch.setattr(IN_DOUBT + "AT_ONCE", 1)
    assert in_doubt(out, draws=16, shares=False, rows=[1, 4]).rows == whole.rows


def test_only_what_a_figure_reaches_is_run_for_its_share(costing, monkeypatch):
    """Sprues of one product: the same shares as where every variant is run for it; none for the others."""
    own = f"products.{next(iter(costing.folder.products))}.sprue_ratio"
    doubts = {own: (0.2, 1.4), "overhead.productive_hours": (90.0, 110.0)}
    out = prices_out(with_doubts(costing, doubts))
    monkeypatch.setattr("pricing.studies.doubt.in_doubt.SHARE_POINTS", 16)
    quick = in_doubt(out, draws=1).rows
    reaches = []
    monkeypatch.setattr(IN_DOUBT + "reach_of", lambda worlds, figure: reaches.append(figure))
    for row, other in zip(quick, in_doubt(out, draws=1).rows, strict=True):
        assert row.shares == other.shares
        assert [price.shares for price in row.prices] == [price.shares for price in other.prices]
    assert reaches == [0, 1]
    reached = [row.shares[own].in_all or 0.0 for row in quick]
    assert max(reached) > 0 and min(reached) == 0


def test_each_world_is_a_folder_of_its_own(costing):
    """The first draw, written into the folder figure by figure, costs and asks what its world does."""
    found = in_doubt(prices_out(costing), draws=1, shares=False)
    points = uniform(1, len(found.doubted.figures))
    folder = costing.folder
    for place, figure in enumerate(found.doubted.figures):
        folder = with_figure(folder, figure.path, float(figure.shape.at(points[0, place])), costing.asked)
    own = cost_folder(folder, costing.asked).computed
    for row, sure in enumerate(found.rows):
        assert sure.cost.middle == pytest.approx(own["unit_cost"][row], rel=1e-9)
        asked = [price.asked.middle for price in sure.prices]
        np.testing.assert_allclose(asked, own["price"][row][own.sold_places[row]], rtol=1e-9)


# ---- what is lacking


def test_nothing_in_doubt_is_refused_with_what_is_lacking(tmp_path):
    with pytest.raises(UsageFault, match=r"nothing is in doubt: doubts.toml says of no figure how sure it is, and the"):
        study(tmp_path, {})
    with pytest.raises(UsageFault, match=r"nothing is in doubt: .* and metal stands still\. Add a line such as"):
        study(tmp_path, {}, weeks=0)


def test_a_short_history_is_refused_where_weeks_are_asked(tmp_path):
    quotes = [("grain", 9.0, "kg", "GBP")]
    tables = {**TABLES, "alloys": {"metal": QUOTED}, "quotes": quotes}
    with pytest.raises(UsageFault, match=r"too short to say how metal moves: prices of grain 1\. Of each 6 days"):
        study(tmp_path, {RATE: (16, 25)}, tables, weeks=8)
    found = study(tmp_path, {RATE: (16, 25)}, tables, shares=False, draws=8)
    assert found.notes == ("taken as unmoved, since the price history tells too little of it: grain",)


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ({"draws": 0}, "--draws 0"),
        ({"draws": 2**21}, "--draws"),
        ({"weeks": -1}, "--weeks -1"),
        ({"weeks": 200}, "200"),
    ],
)
def test_numbers_that_make_no_sense(tmp_path, said, problem):
    with pytest.raises(UsageFault, match=problem):
        study(tmp_path, {RATE: (16, 25)}, **said)


def test_a_doubt_that_moves_nothing_or_is_no_range_is_told(tmp_path):
    doubts = {RATE: (16, 25), "stale_after_days": (3, 9), "processes.work.file.good": (0.9, 1.4)}
    tables = {**TABLES, "steps": [POUR, {**FILE, "good": 0.95}]}
    found = study(tmp_path, doubts, tables, shares=False, draws=8)
    assert [figure.path for figure in found.doubted.figures] == [RATE]
    assert found.notes == (
        "stale_after_days: it moves no cost and no price of these pieces",
        "processes.work.file.good: 0.9 to 1.4 is no range of a number above 0 to 1",
    )


def test_doubts_that_move_nothing_are_told_in_one_sentence(tmp_path):
    doubts = {RATE: (16, 25), "stale_after_days": (3, 9), "week.flasks": (1, 3), "week.weeks_a_year": (40, 48)}
    workshop = {**TABLES["workshop"], "week": {"weeks_a_year": 46, "flasks": 2}}
    found = study(tmp_path, doubts, {**TABLES, "workshop": workshop}, shares=False, draws=8)
    assert found.notes == ("stale_after_days and 2 more: they move no cost and no price of these pieces",)


def test_worlds_without_a_price_are_told_and_not_counted(tmp_path):
    """Of each 1.00 the margin leaves 0.70: where the fee takes as much no price can be had."""
    fees = [{"name": "placement", "rate": 0.5}]
    tables = {**TABLES, "channels": {"shop": {"policy": {"margin": 0.3}, "fees": fees}}}
    path = "channels.shop.fees.placement.rate"
    found = study(tmp_path, {path: (0.3, 0.75)}, tables, shares=False)
    shape = found.doubted.figures[0].shape
    eaten = stats.beta(shape.first, shape.second).sf(0.7)
    (note,) = found.notes
    assert note == f"in {100 * eaten:.2g} % of the worlds fees and margin leave no price: not counted"
    (price,) = found.rows[0].prices
    exact = 10 / (0.7 - stats.beta(shape.first, shape.second).ppf(np.array([0.1, 0.5, 0.9]) * (1 - eaten)))
    np.testing.assert_allclose(price.asked, exact, rtol=0.02)  # of those that there are; 10.00 is what one costs


def test_weeks_are_the_middle_of_the_channels_days(tmp_path):
    reprice = [{"reprice": {"keep_within": 0.05, **days}} for days in ({}, {"days_between": 30}, {"days_between": 90})]
    written(tmp_path, channels={name: each for name, each in zip("abc", reprice, strict=True)})
    out = prices_out(cost(tmp_path, asked_for(AS_OF)))
    assert until_repricing(out) == 13  # of 30 and 90 days the later, 12 weeks and 6 days
    written(tmp_path)
    assert until_repricing(prices_out(cost(tmp_path, asked_for(AS_OF)))) == 4


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("overhead.productive_hours", "overhead: productive hours"),
        ("workshop.overhead.productive_hours", "overhead: productive hours"),
        ("products.acorn-knob.steps.cut and grind.minutes", "acorn-knob, cut and grind: minutes"),
        ("products.acorn-knob.for_alloy.sterling.steps.pour.good", "acorn-knob in sterling, pour: good"),
        ("processes.cast.pour.good", "cast, pour: good"),
        ("materials.box.pack_price", "box: pack price"),
        ("channels.shop.fees.card.rate", "shop, card: rate"),
        ("stale_after_days", "stale after days"),
    ],
)
def test_a_path_in_words(path, words):
    assert in_words(path) == words
