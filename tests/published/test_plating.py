"""Plating by the thickness of its layer: worked examples and the least thickness of what is sold as vermeil."""

import pytest

from .small_workshop import POUR, WORTHLESS, costed_twice

# Density of gold 19.3 g/cm3: CRC Handbook of Chemistry and Physics (from memory), periodictable 2.1.0 (seen).
GOLD = {**WORTHLESS, "density": 19.3, "composition": {"Au": 1.0}, "unpriced": [], "priced_by": "content"}
MICRON_PER_MICROINCH = 0.0254  # an inch is 25.4 mm exactly


def gold_g(tmp_path, area_cm2, microns, **more):
    """Grams of a layer: what it costs where a gram of gold costs 1."""
    casting = {"name": "piece", "count": 1, "volume_cm3": 1.0, "area_cm2": area_cm2}
    (record,) = (
        record
        for record in costed_twice(
            tmp_path,
            alloys={"metal": WORTHLESS, "gold": GOLD},
            steps=[POUR, {"name": "plate", "per": "set", "uses": [{"alloy": "gold", "microns": microns, **more}]}],
            product={"castings": [casting], "alloys": ["metal"]},
            quotes=[("Au", 1.0, "g", "GBP")],
        )
    )
    return record["material_cost"]


def test_a_leaf_beaten_out(tmp_path):
    """A textbook question (bartleby.com, seen): 6.4 mg of gold, 19.3 g/cm3, beaten to 8.6e-6 cm, 0.086 microns.

    0.0064 g / 19.3 / 8.6e-6 cm = 38.56 cm2, a square of 6.2 cm.
    """
    assert gold_g(tmp_path, 38.56, 0.086) == pytest.approx(0.0064, rel=1e-3)
    assert 38.56**0.5 == pytest.approx(6.2, abs=0.05)


def test_one_micron_on_a_square_centimetre(tmp_path):
    """1 cm2 × 0.0001 cm × 19.3 g/cm3 = 1.93 mg; 5 microns on 100 cm2 are 100 × 0.0005 × 19.3 = 0.965 g.

    Must not trust: an answer page (a-ha.io, seen) has 0.0193 g for the first, another page (seen) 0.0966 g for the
    second. Both have lost a factor of ten.
    """
    assert gold_g(tmp_path / "one", 1.0, 1.0) == pytest.approx(0.00193, rel=1e-12)
    assert gold_g(tmp_path / "hundred", 100.0, 5.0) == pytest.approx(0.965, rel=1e-12)


def test_vermeil(tmp_path):
    """Vermeil is sterling silver under at least 2.5 microns of gold, "approximately 100/1,000,000ths of an inch".

    US guides for the jewelry industry, 16 CFR 23.5(b) before 2018 (text seen), 23.4 since 83 FR 40665 (number from
    memory). A pendant of 8 cm2 carries 8 × 0.00025 × 19.3 = 38.6 mg of fine gold; by inches, 8 / 2.54² in2 × 100
    microinches, 1.6 % more. What may be called so where a piece is sold is for the law there.
    """
    least = gold_g(tmp_path / "microns", 8.0, 2.5)
    assert least == pytest.approx(0.0386, rel=1e-12)
    by_inches = gold_g(tmp_path / "inches", 8.0, 100 * MICRON_PER_MICROINCH)
    assert by_inches == pytest.approx(8 / 2.54**2 * 100e-6 * 2.54**3 * 19.3, rel=1e-12)
    assert by_inches / least == pytest.approx(1.016, rel=1e-12)  # 2.54 / 2.5


def test_a_layer_on_a_part_of_the_piece(tmp_path):
    """Half of it covered, a tenth wasted: 8 cm2 × 0.5 × 0.00025 cm × 19.3 × 1.1 = 21.23 mg."""
    assert gold_g(tmp_path, 8.0, 2.5, covers=0.5, waste=0.1) == pytest.approx(0.02123, rel=1e-12)
