"""Densities by the inverse rule, published alloys, and the sample's own alloys against handbooks."""

import periodictable
import pytest
from pydantic import ValidationError

from pricing.errors import Faults
from pricing.folder.checks.densities import ELEMENT_DENSITIES, density_by_contents, density_doubt
from pricing.folder.read import read_folder
from pricing.model.alloy import Alloy
from pricing.resources import sample_catalog

from .small_workshop import WORTHLESS, costed

# ---- the rule


def test_worked_example_of_the_rule():
    """Indium Corporation, R. Lasky, "Interest in Formula for Calculating Alloy Density Still Keen" (seen): 96 % Sn at
    7.31 and 4 % Ag at 10.5 are 7.39989 by hand (7.399927 exactly); the mean by mass, 7.4376, is wrong."""
    density = density_by_contents({"Sn": 0.96, "Ag": 0.04}, {"Sn": 7.31, "Ag": 10.5})
    assert density == pytest.approx(7.39989, abs=5e-5)
    assert density == pytest.approx(7.399927, abs=5e-7)


def test_worked_example_of_green_gold():
    """justaaa.com/chemistry/362701 (seen): 75 Au at 19.32, 25 Ag at 10.49: 15.96; the mean by mass, 17.11, is wrong."""
    density = density_by_contents({"Au": 0.75, "Ag": 0.25}, {"Au": 19.32, "Ag": 10.49})
    assert density == pytest.approx(15.96, abs=0.005)


def test_element_densities_are_near_those_of_periodictable():
    """Package periodictable, whichever figures its edition carries: handbooks differ by less than 0.3 % among
    themselves (from memory), save for two elements where its figures are of an older age: CRC Handbook of Chemistry
    and Physics, Physical Constants of Inorganic Compounds (from memory)."""
    newer = {"Ir": 22.562, "Ru": 12.1}
    for symbol, density in ELEMENT_DENSITIES.items():
        expected = newer.get(symbol, periodictable.elements.symbol(symbol).density)
        assert density == pytest.approx(expected, rel=0.003), symbol


@pytest.mark.parametrize(
    "percent",
    [{"Ag": 92.5, "Cu": 7.5}, {"Au": 58.5, "Ag": 4, "Cu": 31.2, "Zn": 6.3}, {"Cu": 94.9, "Si": 4, "Mn": 1.1}],
)
def test_rule_is_that_of_periodictable(percent):
    """Package periodictable, mix_by_weight, from its own densities; percentages do as well as fractions."""
    theirs = {symbol: periodictable.elements.symbol(symbol).density for symbol in percent}
    mixed = periodictable.mix_by_weight(*[part for item in percent.items() for part in item])
    assert density_by_contents(percent, theirs) == pytest.approx(mixed.density, rel=1e-12)


# ---- handbook alloys: how near the rule comes, and that none of them is doubted

# name, per cent by mass, published density, how far the rule lies from it (least, most) in per cent, source
PUBLISHED = [
    # Silver: sources differ by 0.4 % among themselves (10.36 or 10.40).
    ("sterling", {"Ag": 92.5, "Cu": 7.5}, 10.36, (-0.5, 0.5), "espimetals.com data 81, Rio Grande (seen)"),
    ("sterling", {"Ag": 92.5, "Cu": 7.5}, 10.40, (-0.5, 0.5), "Stuller 2012 (seen)"),
    ("Britannia 958", {"Ag": 95.84, "Cu": 4.16}, 10.4, (-0.5, 0.5), "trade data sheets (from memory)"),
    ("coin 900", {"Ag": 90, "Cu": 10}, 10.31, (-0.5, 0.5), "ASM Handbook vol. 2 (from memory)"),
    ("pure silver", {"Ag": 100}, 10.53, (-0.5, 0.5), "Stuller 2012 (seen)"),
    # Gold: compositions from ISO 8654 as quoted at omegaforums.net 76895 (seen), densities Stuller 2012 (seen).
    ("pure gold", {"Au": 100}, 19.36, (-0.5, 0.5), "Stuller 2012 (seen)"),
    ("18 ct green", {"Au": 75, "Ag": 25}, 15.90, (-0.5, 0.5), "ISO 8654; Stuller 2012 (seen)"),
    ("18 ct yellow 3N", {"Au": 75, "Ag": 12.5, "Cu": 12.5}, 15.58, (-1, 1), "ISO 8654; Stuller 2012 (seen)"),
    ("18 ct red 5N", {"Au": 75, "Ag": 4.5, "Cu": 20.5}, 15.18, (-0.5, 0.5), "ISO 8654; Stuller 2012 (seen)"),
    ("14 ct red", {"Au": 58.5, "Ag": 9, "Cu": 32.5}, 13.26, (-0.5, 0.5), "ISO 8654; Stuller 2012 (seen)"),
    # One density for every 14 ct yellow, whatever is in it: right for a coppery one, 7 % off for a silvery one.
    (
        "14 ct yellow",
        {"Au": 58.5, "Ag": 4, "Cu": 31.2, "Zn": 6.3},
        13.07,
        (-2, 2),
        "composition World Gold Council at rosegold.co.uk, density Stuller 2012 (seen)",
    ),
    ("14 ct yellow", {"Au": 58.5, "Ag": 30, "Cu": 11.5}, 13.07, (6, 7), "ISO 8654; Stuller 2012 (seen)"),
    ("22 ct", {"Au": 91.7, "Ag": 5.5, "Cu": 2.8}, 17.8, (-1, 1), "World Gold Council (from memory)"),
    (
        "9 ct yellow",
        {"Au": 37.5, "Ag": 10, "Cu": 45, "Zn": 7.5},
        11.2,
        (-1, 2),
        "composition rosegold.co.uk (seen), density UK bullion data sheets, 11.1 to 11.4 (from memory)",
    ),
    ("14 ct white", {"Au": 58.5, "Ag": 0.5, "Cu": 27, "Zn": 7, "Ni": 7}, 12.61, (-1, 1), "the same; Stuller (seen)"),
    # Platinum: the cobalt alloy's 20.8 equals the wrong mean by mass, so it is suspect itself.
    ("Pt950Ru", {"Pt": 95, "Ru": 5}, 20.7, (-0.5, 0.5), "Johnson Matthey (from memory)"),
    ("Pt900Ir", {"Pt": 90, "Ir": 10}, 21.54, (-0.5, 0.5), "Stuller 2012 (seen)"),
    ("Pt950Co", {"Pt": 95, "Co": 5}, 20.8, (-4, -3), "Stuller 2012 (seen)"),
    ("Pd950Ru", {"Pd": 95, "Ru": 5}, 12.0, (-0.5, 0.5), "Johnson Matthey (from memory)"),
    # Brasses and nickel silver: always low.
    ("C22000", {"Cu": 90, "Zn": 10}, 8.8, (-3.5, -0.5), "makeitfrom.com UNS-C22000, azom.com 6355 (seen)"),
    ("C23000", {"Cu": 85, "Zn": 15}, 8.75, (-3.5, -0.5), "azom.com 6338, shree-extrusion.com (seen)"),
    ("C26000", {"Cu": 70, "Zn": 30}, 8.53, (-3.5, -0.5), "azom.com 6341, olinbrass.com (seen)"),
    ("C27000", {"Cu": 65, "Zn": 35}, 8.47, (-3.5, -0.5), "shree-extrusion.com/c2700 (seen)"),
    ("C46400", {"Cu": 60, "Zn": 39.25, "Sn": 0.75}, 8.41, (-3.5, -0.5), "CDA, ASM Handbook vol. 2 (from memory)"),
    ("C75200", {"Cu": 65, "Ni": 18, "Zn": 17}, 8.73, (-3.5, -0.5), "CDA, ASM Handbook vol. 2 (from memory)"),
    # Silicon bronzes and silicon brass: low by more.
    ("C65500", {"Cu": 96.1, "Si": 3, "Mn": 0.9}, 8.53, (-6, -3), "atlasmetal.com/c65500 (seen)"),
    ("C87300", {"Cu": 94.9, "Si": 4, "Mn": 1.1}, 8.36, (-6, -3), "C87300 data sheet, 0.302 lb/in3 (seen)"),
    ("C87500", {"Cu": 82, "Zn": 14, "Si": 4}, 8.28, (-6, -3), "conex-casting.com C87500 (seen)"),
    ("C87600", {"Cu": 90, "Zn": 5.5, "Si": 4.5}, 8.3, (-6, -3), "CDA (from memory)"),
    # Tin bronzes and pewter.
    ("C90500", {"Cu": 88, "Sn": 10, "Zn": 2}, 8.72, (-0.5, 0.5), "concast.com/c90500 (seen)"),
    ("C90700", {"Cu": 89, "Sn": 11}, 8.77, (-0.5, 0.5), "conex-casting.com C90700 (seen)"),
    ("Britannia metal", {"Sn": 92, "Sb": 6, "Cu": 2}, 7.28, (-0.5, 0.5), "ASM Handbook vol. 2 (from memory)"),
]


@pytest.mark.parametrize(("name", "percent", "published", "off", "source"), PUBLISHED)
def test_rule_against_handbooks(name, percent, published, off, source):
    least, most = off
    assert least <= 100 * (density_by_contents(percent) / published - 1) <= most, source


@pytest.mark.parametrize(("name", "percent", "published", "off", "source"), PUBLISHED)
def test_no_handbook_density_is_doubted(name, percent, published, off, source):
    assert density_doubt({element: share / 100 for element, share in percent.items()}, published) is None, source


# ---- densities that must be doubted


@pytest.mark.parametrize(
    ("composition", "wrong", "says"),
    [
        # Orchid forum 27807, a poster's table with "??" in it (seen); compositions World Gold Council, rosegold.co.uk.
        ({"Au": 0.917, "Ag": 0.055, "Cu": 0.028}, 19.4, "above the 19.3 of Au, the densest element in it"),
        # 0.585 / 19.3 + 0.04 / 10.5 + 0.312 / 8.96 + 0.063 / 7.133 = 0.077774 = 1 / 12.858
        ({"Au": 0.585, "Ag": 0.04, "Cu": 0.312, "Zn": 0.063}, 15.2, "18 % above the 12.86"),
        # 0.378 / 19.3 + 0.40 / 8.96 + 0.104 / 7.133 + 0.118 / 8.902 = 0.092064 = 1 / 10.862
        ({"Au": 0.378, "Cu": 0.40, "Zn": 0.104, "Ni": 0.118}, 12.8, "18 % above the 10.86"),
        # 0.585 / 19.3 + 0.005 / 10.5 + 0.27 / 8.96 + 0.07 / 7.133 + 0.07 / 8.902 = 0.078598 = 1 / 12.723
        ({"Au": 0.585, "Ag": 0.005, "Cu": 0.27, "Zn": 0.07, "Ni": 0.07}, 14.3, "12 % above the 12.72"),
        # The mean by mass of 14 ct red: 0.585 × 19.3 + 0.09 × 10.5 + 0.325 × 8.96 = 15.15, against 13.26 tabled.
        ({"Au": 0.585, "Ag": 0.09, "Cu": 0.325}, 15.15, "14 % above the 13.31"),
        # Slips of the hand on sterling, 10.36: the point, kg/m3, silver's own figure beside a gold's.
        ({"Ag": 0.925, "Cu": 0.075}, 1.036, "90 % below the 10.37"),
        ({"Ag": 0.925, "Cu": 0.075}, 103.6, "above the 10.5 of Ag"),
        ({"Ag": 0.925, "Cu": 0.075}, 10360.0, "10360 g/cm3 is above the 10.5 of Ag"),
        ({"Au": 0.75, "Ag": 0.125, "Cu": 0.125}, 10.36, "33 % below the 15.45"),
        # The wax's figure, 1.0 (Stuller 2012, seen), where the metal's belongs.
        ({"Cu": 0.65, "Zn": 0.35}, 1.0, "88 % below the 8.22"),
    ],
)
def test_doubtful_densities(composition, wrong, says):
    doubt = density_doubt(composition, wrong)
    assert doubt is not None and says in doubt
    assert doubt.startswith(f"{wrong:g} g/cm3 is ") and not doubt.endswith(".")


def test_what_cannot_be_told():
    """Mercury is in no alloy that is cast over gypsum: there is no figure for it here, so there is no doubt to tell."""
    assert "Hg" not in ELEMENT_DENSITIES
    assert density_doubt({"Ag": 0.5, "Hg": 0.5}, 1.0) is None
    with pytest.raises(KeyError):
        density_by_contents({"Ag": 0.5, "Hg": 0.5})


# ---- the sample's alloys

SAMPLE = [
    # alloy, per cent by mass, density, solidus, liquidus, source
    ("yellow-brass", {"Cu": 65, "Zn": 35}, 8.47, 904, 932, "C27000: shree-extrusion.com/c2700, 1660 to 1710 F (seen)"),
    ("silicon-bronze", {"Cu": 94.9, "Si": 4, "Mn": 1.1}, 8.36, 821, 971, "C87300 data sheet, 1510 to 1780 F (seen)"),
    (
        "sterling",
        {"Ag": 92.5, "Cu": 7.5},
        10.36,
        802,
        893,
        "espimetals.com data 81 and Rio Grande for density (seen), trade figure 1475 F (from memory) to 1640 F (seen)",
    ),
    (
        "gold-9ct",
        {"Au": 37.5, "Ag": 10, "Cu": 45, "Zn": 7.5},
        11.2,
        880,
        900,
        "composition rosegold.co.uk (seen), UK bullion data sheets (from memory)",
    ),
    (
        "gold-14ct",
        {"Au": 58.5, "Ag": 4, "Cu": 31.2, "Zn": 6.3},
        13.07,
        None,
        None,
        "composition World Gold Council at rosegold.co.uk, density Stuller 2012 and Rio Grande (seen)",
    ),
    ("fine-gold", {"Au": 100}, 19.32, None, None, "gold at 20 C in tables of the elements, 19.32 g/cm3 (from memory)"),
]


@pytest.fixture(scope="module")
def sample_alloys():
    return read_folder(sample_catalog()).stated.alloys


def test_every_alloy_of_the_sample_is_looked_up(sample_alloys):
    assert set(sample_alloys) == {row[0] for row in SAMPLE}


@pytest.mark.parametrize(("name", "percent", "density", "solidus", "liquidus", "source"), SAMPLE)
def test_sample_against_handbooks(sample_alloys, name, percent, density, solidus, liquidus, source):
    """Densities to the last digit published; ranges to 1 °C, since most were read in whole °F."""
    alloy = sample_alloys[name]
    assert alloy.density == density, source
    assert alloy.composition == pytest.approx({element: share / 100 for element, share in percent.items()}), source
    for stated, published in ((alloy.solidus_c, solidus), (alloy.liquidus_c, liquidus)):
        assert stated == (None if published is None else pytest.approx(published, abs=1)), source
    assert density_doubt(alloy.composition, alloy.density) is None


def test_sample_pours_yellow_brass_as_it_is_done(sample_alloys):
    """Yellow brass is poured near 982 °C (1800 °F): common practice, no source. C27000's liquidus is 932 °C (above)."""
    assert 932 < sample_alloys["yellow-brass"].pour_c == pytest.approx(982, abs=5)


def test_sample_pours_sterling_as_it_is_done(sample_alloys):
    """Stuller, silver comparisons (seen): sterling is cast at 970 °C (1778 °F)."""
    assert sample_alloys["sterling"].pour_c == pytest.approx(970, abs=5)


# ---- pour and melting range in the model


def brass(**temperatures):
    return Alloy.model_validate({**WORTHLESS, **temperatures})


@pytest.mark.parametrize(
    ("liquidus", "alloy"),
    [(932, "C27000, shree-extrusion.com/c2700 (seen)"), (954, "C26000, azom.com 6341 (seen)")],
)
def test_yellow_brasses_may_be_poured_at_1800_f(liquidus, alloy):
    """982 °C is 1800 °F: common practice, no source."""
    assert brass(liquidus_c=liquidus, pour_c=982).pour_c == 982, alloy


@pytest.mark.parametrize(
    ("pour", "liquidus"),
    [
        (982, 1027),  # red brass C23000, azom.com 6338 (seen): not molten at the yellow brass's heat
        (930, 932),  # C27000 below its liquidus
        (932, 932),  # and at it
    ],
)
def test_no_pour_below_the_liquidus(pour, liquidus):
    with pytest.raises(ValidationError, match=f"{pour} °C is not above the liquidus, {liquidus} °C"):
        brass(liquidus_c=liquidus, pour_c=pour)


def test_pour_below_the_liquidus_is_refused_in_a_folder(tmp_path):
    """The maker who pours red brass (C23000, liquidus 1027 °C, azom.com 6338, seen) as yellow is told where."""
    with pytest.raises(Faults, match=r"alloys\.toml:\d+:\d+ alloys\.red-brass\.pour_c: 982 °C is not above"):
        costed(tmp_path, alloys={"red-brass": {**WORTHLESS, "liquidus_c": 1027, "pour_c": 982}})


def test_swapped_melting_range_is_refused():
    """espimetals.com data 81 prints sterling with liquidus 788 and solidus 891 °C (seen): swapped, not to trust."""
    with pytest.raises(ValidationError, match="788 °C is below the solidus, 891 °C"):
        brass(solidus_c=891, liquidus_c=788)
