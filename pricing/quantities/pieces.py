"""The pieces of a set: volumes, surfaces and masses, as drawn, as cast and finished."""

from pricing.words import (
    cube,
    product,
    square,
    total,
    where,
)


def metal_kept(metal_loss) -> "step":
    """Share of a piece's mass that a step leaves.

    Unit: 1
    Why: what is cut, ground or polished away does not come back on.
    """
    return 1 - metal_loss


def finished_share(metal_loss) -> "variant":
    """Share of the as-cast mass that is left after the last step.

    Unit: 1
    Why: losses follow one another, so the shares that are left multiply.
    """
    return product(1 - metal_loss)


def castings_per_set(casting_count) -> "variant":
    """Castings in one set, of all kinds.

    Unit: 1
    Why: what is done per piece is done once for each.
    """
    return total(casting_count)


def stated_cm3(volume_cm3_stated, volume_cm3, model_g_stated, model_g, model_density, metal_g, density) -> "casting":
    """Volume of one casting as the maker states it: drawn, or by a weighed model or a weighed piece.

    Unit: cm3
    Source: wax-to-metal rule of the trade: volume is the model's mass by its own density.
    """
    return where(volume_cm3_stated, volume_cm3, where(model_g_stated, model_g / model_density, metal_g / density))


def casting_pattern_cm3(weighed_finished, stated_cm3, finished_share) -> "casting":
    """Volume of one casting's pattern before scaling and shrinkage.

    Unit: cm3
    Why: a piece weighed when finished was larger as cast, by what finishing took off.
    """
    return where(weighed_finished, stated_cm3 / finished_share, stated_cm3)


def casting_metal_cm3(metal_g_stated, casting_pattern_cm3, shrinkage) -> "casting":
    """Volume of one casting in metal, before scaling.

    Unit: cm3
    Why: metal shrinks along every length as it cools; a weighed piece has shrunk already.
    """
    return where(metal_g_stated, casting_pattern_cm3, casting_pattern_cm3 * cube(1 - shrinkage))


def pattern_cm3(casting_count, casting_pattern_cm3, scale) -> "variant":
    """Volume of a set's patterns.

    Unit: cm3
    Why: a linear scale acts three times on a volume.
    """
    return total(casting_count * casting_pattern_cm3) * cube(scale)


def pattern_cm2(casting_count, area_cm2, scale) -> "variant":
    """Surface of a set's patterns.

    Unit: cm2
    Why: a linear scale acts twice on a surface.
    """
    return total(casting_count * area_cm2) * square(scale)


def as_cast_g(casting_count, casting_metal_cm3, scale, density) -> "variant":
    """Mass of one set as it comes out of the flask (or is cut out of the sheet), before finishing.

    Unit: g
    Why: mass is volume by density.
    """
    return total(casting_count * casting_metal_cm3) * cube(scale) * density


def finished_g(as_cast_g, finished_share) -> "variant":
    """Mass of one set after the last step.

    Unit: g
    Why: what finishing takes off is gone from the piece.
    """
    return as_cast_g * finished_share
