"""Quantities whose units are wrong, each in its own way: proof that the unit check can fail."""
# ruff: noqa: F821  (the annotation names a table)

from pricing.words import (
    ceil,
    cube,
    decided_by_fixed,
    downstream,
    held,
    maximum,
    minutes_per_hour,
    no_limit,
    square,
    total,
    where,
)


def packing_cost(order_minutes, asked_earnings) -> "price":
    """Minutes taken for hours.

    Unit: cur
    Why: 60 times too much; minutes and hours are one dimension.
    """
    return order_minutes * asked_earnings


def packing_hours(order_minutes) -> "channel":
    """Multiplied instead of divided.

    Unit: h
    Why: 3,600 times too much.
    """
    return order_minutes * minutes_per_hour


def powder_volume(flask_diameter_mm, flask_height_mm) -> "flask":
    """Cubic millimetres taken for cubic centimetres.

    Unit: cm3
    Why: 1,000 times too much.
    """
    return square(flask_diameter_mm) * flask_height_mm


def metal_and_money(finding_metal_g, finding_price) -> "finding":
    """Grams added to money.

    Unit: cur
    Why: no such thing.
    """
    return finding_metal_g + finding_price


def grain_worth(fabrication_per_g) -> "alloy":
    """A price per gram said to be a price.

    Unit: cur
    Why: the stated unit is wrong.
    """
    return fabrication_per_g * 1


def pin_worth(fabrication_per_g) -> "alloy":
    """A unit that is none.

    Unit: cru/g
    Why: a slip of the pen.
    """
    return fabrication_per_g * 1


def whole_grams(finding_metal_g) -> "finding":
    """Grams made whole: which whole number that is depends on the unit.

    Unit: g
    Why: 1.2 g would be 2 g, and 0.0012 kg 1 kg.
    """
    return ceil(finding_metal_g)


def surcharge(finding_price) -> "finding":
    """A number without a unit added to money.

    Unit: cur
    Why: one of which currency?
    """
    return 1 + finding_price


def dear_or_heavy(finding_price, finding_metal_g) -> "finding":
    """The greater of money and grams.

    Unit: cur
    Why: they cannot be compared.
    """
    return maximum(finding_price, finding_metal_g)


def dear_or_one(finding_price) -> "finding":
    """The greater of money and a bare number that is not 0.

    Unit: cur
    Why: only 0 goes with any unit.
    """
    return maximum(finding_price, 1)


def money_or_grams(finding_price, finding_metal_g, spoil) -> "finding":
    """Money in one case, grams in the other.

    Unit: cur
    Why: a column has one unit.
    """
    return where(spoil > 0, finding_price, finding_metal_g)


def mixed_total(finding_price, finding_metal_g) -> "variant":
    """A total of grams held against money.

    Unit: cur
    Why: what is totalled has a unit too.
    """
    return held(total(finding_metal_g), 0, total(finding_price))


def is_heavy(finding_price, finding_metal_g) -> "finding":
    """Whether a finding weighs more than it costs.

    Unit: switch
    Why: a comparison of different kinds.
    """
    return finding_metal_g > finding_price


def is_even(finding_price, finding_metal_g) -> "finding":
    """Whether a finding weighs what it costs.

    Unit: switch
    Why: pint itself would say no, always.
    """
    return finding_metal_g == finding_price


def masked(weighed_finished, area_cm2) -> "casting":
    """A flag used as a 0 or 1.

    Unit: cm2
    Why: where() says it, and cannot make 0 of what is undefined.
    """
    return (1 - weighed_finished) * area_cm2


def chosen_by_amount(area_cm2, volume_cm3) -> "casting":
    """An amount used as a condition.

    Unit: cm3
    Why: a number holds neither.
    """
    return where(area_cm2, volume_cm3, 0)


def is_wide(area_cm2) -> "casting":
    """An amount said to be a condition.

    Unit: switch
    Why: the stated unit is wrong.
    """
    return area_cm2 * 1


def width(area_cm2) -> "casting":
    """A condition said to be an amount.

    Unit: cm2
    Why: the stated unit is wrong.
    """
    return area_cm2 > 0


def minutes_after(step_minutes) -> "step":
    """A product of a varying number of minutes.

    Unit: min
    Why: its unit would vary along the steps.
    """
    return downstream(step_minutes)


def cubed_surface(casting_count, area_cm2) -> "variant":
    """A surface taken three times.

    Unit: cm3
    Why: it is a volume of a volume.
    """
    return cube(total(casting_count * area_cm2))


def capped_share(fee_share) -> "fee":
    """A share capped by money.

    Unit: 1
    Why: the constant has a unit.
    """
    return where(fee_share > no_limit, 1, fee_share)


def coded(fee_share, fee_min) -> "fee":
    """Money in place of a reason.

    Unit: reason
    Why: reasons are plain numbers.
    """
    return where(fee_share > 0, decided_by_fixed, fee_min)
