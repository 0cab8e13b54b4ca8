"""What an hour, a machine hour, a unit of material and a flask of powder cost or take in this workshop."""

from pricing.words import (
    millimetres_per_centimetre,
    parts_of_powder,
    quarter_of_pi,
    square,
    where,
)


def overhead_rate(overhead_per_month, productive_hours) -> "workshop":
    """Overhead that each attended hour carries.

    Unit: cur/h
    Source: predetermined overhead rate, OpenStax Principles of Accounting 2, section 4.4.
    """
    return overhead_per_month / productive_hours


def labour_rate(wage, on_cost) -> "role":
    """What an hour of a role costs, with what falls on top of the wage.

    Unit: cur/h
    Why: holiday pay, pension and insurance are paid per hour worked too.
    """
    return wage * (1 + on_cost)


def machine_rate(purchase, residual, life_hours, maintenance_per_hour, power_kw, duty, price_per_kwh) -> "machine":
    """What an hour of a machine costs: wear, upkeep and power.

    Unit: cur/h
    Source: units-of-production depreciation, OpenStax Principles of Accounting 1, section 11.3; power by its mean.
    """
    return (purchase - residual) / life_hours + maintenance_per_hour + power_kw * duty * price_per_kwh


def material_unit_cost(pack_price, pack_size, waste, unreclaimed_tax) -> "material":
    """What one unit of a material costs as used.

    Unit: cur/pack_unit
    Why: what is bought and never used is paid for by what is used.
    """
    return pack_price / pack_size * (1 + waste) * (1 + unreclaimed_tax)


def flask_cm3(flask_diameter_mm, flask_height_mm) -> "flask":
    """Room in an empty flask.

    Unit: cm3
    Why: a round flask holds its section by its height.
    """
    return (
        quarter_of_pi
        * square(flask_diameter_mm / millimetres_per_centimetre)
        * (flask_height_mm / millimetres_per_centimetre)
    )


def flask_powder_g(powder_g_stated, powder_g, flask_cm3, slurry_density, water_per_100) -> "flask":
    """Investment powder that fills one empty flask.

    Unit: g
    Why: slurry mass is volume by density, and powder is slurry less its water; a weighed figure replaces it.
    """
    return where(powder_g_stated, powder_g, flask_cm3 * slurry_density / (1 + water_per_100 / parts_of_powder))
