"""The pieces of a set: volumes, surfaces and masses, as drawn, as cast and finished."""

from pricing.words import (
    cube,
    full_pi,
    product,
    ratio,
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


def mean_effort(casting_count, effort) -> "variant":
    """Minutes of a casting of this set against those of a step per piece, on the mean.

    Unit: 1
    Why: eight little posts are not eight handles; undefined where there is no casting.
    """
    return ratio(total(casting_count * effort), total(casting_count))


def size_length_mm(inner_mm, band_mm) -> "size":
    """Length of a size: what of the piece grows with it.

    Unit: mm
    Why: a band is as long as its middle, half its thickness outside the finger: C + pi times the thickness.
    """
    return inner_mm + full_pi * band_mm


def mean_length_mm(size_sales, size_length_mm) -> "variant":
    """Mean length over the sizes, by what of each is sold; 0 where there are none.

    Unit: mm
    Why: volume and surface are straight lines in the length, so the mean of them is that at the mean length.
    """
    return total(size_sales * size_length_mm) / where(total(size_sales) > 0, total(size_sales), 1)


def size_growth(master_inner_mm, band_mm, band_share, mean_length_mm) -> "variant":
    """Volume and surface at the size that is made, in times those at which the pattern is drawn.

    Unit: 1
    Source: Pappus: a band's volume is its section by the length of its middle; only that share of the piece grows.
    """
    return where(
        master_inner_mm > 0,
        1
        + band_share
        * (mean_length_mm / where(master_inner_mm > 0, master_inner_mm + full_pi * band_mm, mean_length_mm) - 1),
        1,
    )


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


def pattern_cm3(casting_count, casting_pattern_cm3, scale, size_growth) -> "variant":
    """Volume of a set's patterns.

    Unit: cm3
    Why: a linear scale acts three times on a volume.
    """
    return total(casting_count * casting_pattern_cm3) * cube(scale) * size_growth


def pattern_cm2(casting_count, area_cm2, scale, size_growth) -> "variant":
    """Surface of a set's patterns.

    Unit: cm2
    Why: a linear scale acts twice on a surface.
    """
    return total(casting_count * area_cm2) * square(scale) * size_growth


def as_cast_g(casting_count, casting_metal_cm3, scale, size_growth, density) -> "variant":
    """Mass of one set as it comes out of the flask (or is cut out of the sheet), before finishing.

    Unit: g
    Why: mass is volume by density.
    """
    return total(casting_count * casting_metal_cm3) * cube(scale) * size_growth * density


def finished_g(as_cast_g, finished_share) -> "variant":
    """Mass of one set after the last step.

    Unit: g
    Why: what finishing takes off is gone from the piece.
    """
    return as_cast_g * finished_share
