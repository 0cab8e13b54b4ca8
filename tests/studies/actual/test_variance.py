"""Standard against actual: by textbooks, and by the engine's own quantities put together again by hand."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.batches.model import Batch, Flask, Metal, Pieces
from pricing.costing import asked_for, cost
from pricing.drawer.model import KeptEntry, Line
from pricing.drawer.state import Drawer, drawer_after
from pricing.resources import sample_catalog
from pricing.studies.actual.earned import at_cost_paid, margin_records, really_earned
from pricing.studies.actual.variance import MetalVariance, TimeVariance, variances

DAY = date(2026, 11, 20)
EMPTY = Drawer({}, ())


@pytest.fixture(scope="module")
def computed():
    return cost(sample_catalog(), asked_for(DAY)).computed


def row_of(computed, sku: str, alloy: str) -> int:
    variants = computed.resolved.variants
    return next(row for row, each in enumerate(variants) if (each.sku, each.alloy) == (sku, alloy))


def price_of(computed, alloy: str) -> float:
    names = [each.name for each in computed.resolved.alloys]
    return float(computed["grain_price_per_g"][names.index(alloy)])


def batch(*flasks: Flask, **more) -> Batch:
    return Batch(**{"day": DAY, "flasks": flasks, "number": 1, "recorded": "", "currency": "GBP", "form": 1,
                    "previous": None, **more})  # fmt: skip


def flask(charge: float, back: float, castings: float, *pieces: Pieces, rejected: float = 0.0) -> Flask:
    return Flask(alloy="sterling", fresh_g=charge, back_g=back, castings_g=castings, rejected_g=rejected, pieces=pieces)


def knobs(good: int, **more) -> Pieces:
    return Pieces(**{"sku": "acorn-knob", "started": good, "good": good, **more})


def drawer_of(computed, number: int, grams: float, per_g: float) -> Drawer:
    """A drawer from which one batch took so much, which had cost so much a gram."""
    kept = {"day": DAY, "currency": "GBP", "recorded": "", "form": 1, "previous": None}
    bought = Line(what="bought", alloy="sterling", form="fresh", grams=2 * grams, money=2 * grams * per_g)
    used = Line(what="used", alloy="sterling", form="fresh", grams=grams)
    return drawer_after([KeptEntry(number=1, lines=(bought,), **kept),
                         KeptEntry(number=2, lines=(used,), batch=number, **kept)])  # fmt: skip


# ---- textbooks


def test_price_and_usage_of_a_textbook():
    """Horngren, Datar, Rajan, Cost Accounting, ch. 7, Webb Company, from memory.

    22,200 square yards at 28 where 20,000 at 30 were the standard: price 44,400 favourable, efficiency (usage) 66,000
    unfavourable, 21,600 unfavourable in all.
    """
    cloth = MetalVariance(1, "cloth", standard_g=20_000, actual_g=22_200, loss_g=0, price=30, price_paid=28)
    assert (cloth.by_price, cloth.by_usage, cloth.by_loss) == (-44_400, 66_000, 0)
    assert cloth.actual - cloth.standard == 21_600


def test_time_of_a_textbook():
    """The same, labour: 9,000 hours where 8,000 at 20 were the standard: efficiency 20,000 unfavourable."""
    sewing = TimeVariance(1, "sew", standard_minutes=8_000 * 60, actual_minutes=9_000 * 60, rate=20)
    assert sewing.by_time == pytest.approx(20_000)


def test_abnormal_loss_is_worth_what_process_costing_says(computed):
    """The usual case of process costing (common practice): 1,000 g at 9.00 go in, 10 % is normal loss, 850 g come out.

    A good gram costs 9,000 / 900 = 10.00, so the abnormal loss of 50 g is worth 500. Here with the melt loss that the
    sample states, 1 %: 1,000 g go in, 940 come out; 990 were expected; 50 x price / 0.99.
    """
    assert (1000 - 850 / (1 - 0.1)) * 9.00 == pytest.approx(50 * 10.00)
    (metal,) = variances([batch(flask(1000.0, 500.0, 440.0, knobs(18)))], EMPTY, computed).metal
    assert metal.by_loss == pytest.approx(50 * price_of(computed, "sterling") / 0.99)


# ---- the engine's own


def test_the_parts_add_up_whatever_happened(computed):
    done = [
        batch(flask(520.0, 102.3, 383.0, knobs(14, started=16, rejected={"pour": 1, "fit": 1}), rejected=25.4),
              minutes={"pour": 25.0, "fit": 60.0}),
        batch(flask(300.0, 95.0, 200.0, knobs(8, minutes={"fit": 31.0})), number=2, minutes={"fit": 5.0}),
    ]  # fmt: skip
    found = variances(done, drawer_of(computed, 1, 520.0, 0.97), computed)
    assert sum(found.causes.values()) == pytest.approx(found.actual - found.standard, abs=1e-9)
    assert {name for name, amount in found.causes.items() if abs(amount) > 0.01} == {"price", "usage", "loss", "time"}
    shared = sum(each.sets * (each.metal_more + each.time_more) for each in found.made)
    assert shared == pytest.approx(found.actual - found.standard, abs=1e-9)


def test_a_batch_just_as_believed_has_no_variance(computed):
    """What the engine says of seven pairs in silver, written down as if it had come out so."""
    row = row_of(computed, "acorn-knob", "sterling")
    sets, of = 7.0, {name: float(computed[name][row]) for name in ("charge_g", "sprue_g", "melt_lost_g", "returns_g")}
    back = sets * of["returns_g"]
    castings = sets * (of["charge_g"] - of["melt_lost_g"]) - back
    fit = [step.name for step in computed.resolved.variants[row].steps].index("fit")
    minutes = {"fit": sets * 60 * float(computed["step_labour_hours"][row, fit])}
    done = batch(flask(sets * of["charge_g"], back, castings, knobs(14)), minutes=minutes)
    found = variances([done], EMPTY, computed)
    assert all(abs(amount) < 1e-9 for amount in found.causes.values())
    (made,) = found.made
    assert made.sets == 7 and abs(made.metal_more) + abs(made.time_more) < 1e-9


def test_what_metal_had_cost_comes_from_the_drawer_else_from_its_day(computed):
    done = batch(flask(520.0, 102.3, 410.0, knobs(14)), metal={"sterling": Metal(buy_price_per_g=1.1, melt_loss=0.01)})
    (of_drawer,) = variances([done], drawer_of(computed, 1, 520.0, 0.97), computed).metal
    (of_day,) = variances([done], EMPTY, computed).metal
    (of_today,) = variances([done.model_copy(update={"metal": {}})], EMPTY, computed).metal
    assert (of_drawer.price_paid, of_day.price_paid) == (pytest.approx(0.97), 1.1)
    assert of_today.price_paid == of_today.price == price_of(computed, "sterling")


def test_what_cannot_be_compared_is_left_out_and_told(computed):
    done = batch(
        flask(520.0, 102.3, 410.0, knobs(14), Pieces(sku="gone", started=1, good=1)),
        Flask(alloy="yellow-brass", fresh_g=100.0, back_g=40.0, castings_g=58.0),
        minutes={"yodel": 3.0},
    )
    found = variances([done], EMPTY, computed)
    assert found.metal == found.time == ()
    assert found.left_out == (
        "batch 1: gone in sterling, which is not made here any more",
        "batch 1: the sterling of it, since not every flask says which castings it held",
        "batch 1: the yellow-brass of it, since not every flask says which castings it held",
        'batch 1: "yodel", which no piece that is known here has',
    )


# ---- margins


def test_margins_at_cost_paid_are_the_engines_with_another_price_of_a_gram(computed):
    """metal_cost = fresh x price paid - surplus x scrap - caught x lemel; the price in the shop stands as it is."""
    row = row_of(computed, "acorn-knob", "sterling")
    found = at_cost_paid(computed, drawer_of(computed, 1, 500.0, 0.8))
    alloy = [each.name for each in computed.resolved.alloys].index("sterling")
    metal = computed["fresh_g"][row] * 0.8 - computed["surplus_g"][row] * computed["scrap_price_per_g"][alloy]
    metal -= computed["caught_g"][row] * computed["lemel_price_per_g"][alloy]
    assert found["metal_cost"][row] == pytest.approx(metal)
    less = computed["metal_cost"][row] - metal
    assert found["unit_cost"][row] == pytest.approx(computed["unit_cost"][row] - less)
    brass = row_of(computed, "acorn-knob", "yellow-brass")
    assert found["unit_cost"][brass] == computed["unit_cost"][brass]
    record = next(each for each in margin_records(computed, found, [row]) if each["channel"] == "shop")
    column = [each.name for each in computed.resolved.channels].index("shop")
    shop = computed.resolved.channels[column]
    more = less * (1 + shop.refund_share * shop.refund_loss)  # what is sent back has lost less, too
    assert record["other_margin"] - record["margin"] == pytest.approx(more / computed["net_sales"][row, column])


def test_margins_really_earned_bear_the_variances(computed):
    done = batch(flask(520.0, 102.3, 400.0, knobs(14)), minutes={"fit": 90.0})
    found = variances([done], EMPTY, computed)
    (made,) = found.made
    row = row_of(computed, "acorn-knob", "sterling")
    really = really_earned(computed, found.made)
    assert really["unit_cost"][row] - computed["unit_cost"][row] == pytest.approx(made.metal_more + made.time_more)
    others = [place for place in range(len(computed.resolved.variants)) if place != row]
    assert (really["unit_cost"][others] == computed["unit_cost"][others]).all()
