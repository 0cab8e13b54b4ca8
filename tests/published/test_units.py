"""Weights, lengths and temperatures against outside tables of units."""

from fractions import Fraction

import pytest
import scipy.constants

from pricing import units
from pricing.units import GRAMS_PER, MILLIMETRES_PER_INCH, fahrenheit

# ---- exact factors


def test_factors_are_those_of_pint():
    """Package pint, its table of troy and avoirdupois units, in exact fractions (seen, package output)."""
    import pint

    registry = pint.UnitRegistry(non_int_type=Fraction)

    def grams(unit):
        return registry.Quantity(Fraction(1), unit).to("gram").magnitude

    assert units.GRAMS_PER_GRAIN == grams("grain")
    assert units.GRAMS_PER_PENNYWEIGHT == grams("pennyweight")
    assert units.GRAMS_PER_TROY_OUNCE == grams("troy_ounce")
    assert units.GRAMS_PER_POUND == grams("pound")
    names = {"g": "gram", "dwt": "pennyweight", "ozt": "troy_ounce", "lb": "pound", "kg": "kilogram", "t": "metric_ton"}
    assert GRAMS_PER == {ours: float(grams(theirs)) for ours, theirs in names.items()}
    inch = registry.Quantity(Fraction(1), "inch").to("millimeter").magnitude
    assert Fraction(str(MILLIMETRES_PER_INCH)) == inch


def test_factors_are_those_of_scipy():
    """scipy.constants, in kilogram and metre (seen, package output); 1e-15 is its float noise."""
    assert GRAMS_PER["ozt"] / 1000 == pytest.approx(scipy.constants.troy_ounce, rel=1e-15)
    assert float(units.GRAMS_PER_GRAIN) / 1000 == pytest.approx(scipy.constants.grain, rel=1e-15)
    assert GRAMS_PER["lb"] / 1000 == pytest.approx(scipy.constants.pound, rel=1e-15)
    assert MILLIMETRES_PER_INCH / 1000 == pytest.approx(scipy.constants.inch, rel=1e-15)


@pytest.mark.parametrize(
    ("ours", "published"),
    [
        # NIST Handbook 44, Appendix C, General Tables of Units (from memory); all exact.
        (units.GRAMS_PER_GRAIN, "0.06479891"),
        (units.GRAMS_PER_PENNYWEIGHT, "1.55517384"),
        (units.GRAMS_PER_TROY_OUNCE, "31.1034768"),
        (12 * units.GRAMS_PER_TROY_OUNCE, "373.2417216"),  # 12 ozt are a troy pound
        (units.GRAMS_PER_POUND / 16, "28.349523125"),  # 16 oz are a pound
        (units.GRAMS_PER_POUND, "453.59237"),
    ],
)
def test_handbook_44(ours, published):
    assert ours == Fraction(published)


def test_how_troy_units_make_each_other_up():
    """auminer.com/troy.htm (seen): 20 dwt are an ozt, 24 gr a dwt, 480 gr an ozt, 14.5833 ozt a pound."""
    assert GRAMS_PER["ozt"] / GRAMS_PER["dwt"] == pytest.approx(20, rel=1e-15)
    assert units.GRAMS_PER_PENNYWEIGHT / units.GRAMS_PER_GRAIN == 24
    assert units.GRAMS_PER_TROY_OUNCE / units.GRAMS_PER_GRAIN == 480
    assert GRAMS_PER["lb"] / GRAMS_PER["ozt"] == pytest.approx(14.5833, abs=5e-5)


def test_tola():
    """auminer.com/troy.htm (seen): 3.75 ozt are 10 tolas; a tola is 11.6638038 g, from memory."""
    assert 3.75 * GRAMS_PER["ozt"] / 10 == pytest.approx(11.6638038, rel=1e-12)


def test_pounds_in_a_tonne():
    """NIST Handbook 44, Appendix C (from memory): 1 t is 2,204.623 lb."""
    assert GRAMS_PER["t"] / GRAMS_PER["lb"] == pytest.approx(2204.623, abs=5e-4)


def test_carats_of_wax_in_pennyweight():
    """Orchid forum 15741 (seen): 0.1286 dwt to a carat; a metric carat is 0.2 g exactly."""
    assert 0.2 / GRAMS_PER["dwt"] == pytest.approx(0.1286, abs=5e-5)


@pytest.mark.parametrize(
    ("ours", "spreadsheet"),
    [
        # LibreOffice 7.4.7, CONVERT to "g" (seen, program output): off from the seventh digit on.
        (GRAMS_PER["lb"] / 16, 28.3495152079732),
        (float(units.GRAMS_PER_GRAIN), 0.0647989030841686),
        (GRAMS_PER["lb"], 453.592309748811),
    ],
)
def test_must_not_trust_a_spreadsheets_convert(ours, spreadsheet):
    assert ours == pytest.approx(spreadsheet, rel=1e-6)  # the same unit
    assert ours != pytest.approx(spreadsheet, rel=1e-7)  # not the same figure


# ---- temperatures and densities as data sheets print them


@pytest.mark.parametrize(
    ("celsius", "printed"),
    [
        (904, 1660),  # C27000 solidus, shree-extrusion.com/c2700 (seen)
        (932, 1710),  # C27000 liquidus, same page
        (916, 1680),  # C26000 solidus, diversifiedbronze.com c26000 (seen)
        (954, 1750),  # C26000 liquidus, same page
        (988, 1810),  # C23000 solidus, shree-extrusion.com (seen)
        (1027, 1880),  # C23000 liquidus, same page
        (893, 1640),  # sterling liquidus, Orchid forum 31266 (seen)
        (970, 1778),  # casting temperature of sterling, Stuller, silver comparisons (seen)
        (982, 1800),  # pouring yellow brass: common practice, no source
    ],
)
def test_fahrenheit(celsius, printed):
    """Data sheets print whole degrees of both scales: half a degree Celsius is 0.9 °F."""
    assert fahrenheit(celsius) == pytest.approx(printed, abs=0.9)


@pytest.mark.parametrize(
    ("pounds_per_cubic_inch", "grams_per_cm3"),
    [
        (0.306, 8.47),  # C27000, shree-extrusion.com/c2700 (seen)
        (0.308, 8.53),  # C26000, diversifiedbronze.com c26000 and olinbrass.com (seen)
        (0.316, 8.75),  # C23000, shree-extrusion.com and azom.com 6338 (seen)
        (0.299, 8.28),  # C87500, conex-casting.com (seen)
    ],
)
def test_density_of_data_sheets(pounds_per_cubic_inch, grams_per_cm3):
    """Both printed; half of the last digit of 0.306 is 0.0005 lb/in3, which is 0.014 g/cm3."""
    cubic_inch_cm3 = (MILLIMETRES_PER_INCH / 10) ** 3
    assert pounds_per_cubic_inch * GRAMS_PER["lb"] / cubic_inch_cm3 == pytest.approx(grams_per_cm3, abs=0.014)
