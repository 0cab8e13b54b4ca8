"""Ring sizes: how far it is around the inside by published charts, and what a band weighs by the closed form.

A band is its section carried along a circle: by Pappus's theorem (Collection, book 7; Guldin 1641) its volume is
the section times the way of the section's middle, π × (inner diameter + thickness).
"""

import math

import pytest

from .small_workshop import WORTHLESS, costed_twice

SILVER = {**WORTHLESS, "density": 10.36}


def ring(tmp_path, standard, sizes, master, band_mm=2.0, volume_cm3=1.0, **more):
    """What one price for all tells of every size, the pattern drawn at `master`."""
    casting = {"name": "ring", "count": 1, "volume_cm3": volume_cm3}
    table = {"standard": standard, "list": sizes, "master": master, "band_mm": band_mm, **more}
    (record,) = costed_twice(
        tmp_path, alloys={"silver": SILVER}, product={"castings": [casting], "sizes": table, "expected_sales": 1}
    )
    return {row["size"]: row for row in record["sizes"]}


def inside_mm(tmp_path, standard, sizes):
    """Inner circumferences: the length of the band's middle less π × its thickness."""
    told = ring(tmp_path, standard, sizes, sizes[0])
    return {size: row["length_mm"] - math.pi * 2.0 for size, row in told.items()}


US_CHART = {
    # An encyclopaedia's conversion chart of ring sizes, as kept at liquisearch.com/ring_size/systems (seen): inches
    # across, mm across, mm around.
    "0": (0.458, 11.63, 36.5),
    "0.25": (0.466, 11.84, 37.2),
    "0.5": (0.474, 12.04, 37.8),
    "1": (0.490, 12.45, 39.1),
    "1.5": (0.506, 12.85, 40.4),
    "2": (0.522, 13.26, 41.7),
    "3": (0.554, 14.07, 44.2),
    "4": (0.586, 14.88, 46.8),
}


def test_us_sizes(tmp_path):
    """A size more is 0.032 inch more across (the same page), 0 is 0.458 inch.

    The chart is rounded to 0.01 mm across and 0.1 mm around, not always to the nearest: 0.522 inch are 41.65 mm around.
    """
    found = inside_mm(tmp_path, "us", list(US_CHART))
    for size, (inches, across, around) in US_CHART.items():
        assert inches == pytest.approx(0.458 + 0.032 * float(size), abs=0.00051)
        assert found[size] / math.pi == pytest.approx(across, abs=0.0101)
        assert found[size] / math.pi == pytest.approx(inches * 25.4, abs=0.0051)
        assert found[size] == pytest.approx(around, abs=0.06)


def test_iso_sizes(tmp_path):
    """ISO 8653: the size is the inner circumference in mm (the same page; navettejewellery.org, 2020, seen)."""
    assert inside_mm(tmp_path, "iso", ["41", "54", "62.5"]) == pytest.approx(
        {"41": 41, "54": 54, "62.5": 62.5}, rel=1e-12
    )


# A chart of UK sizes at businessmanchester.co.uk, 2023-05-15 (seen), mm around. Its Y (57.8) is a slip for 67.8.
UK_CHART = dict(
    zip(
        "ABCDEFGHIJKLMNOPQRSTUVWXZ",
        [37.8, 39.1, 40.4, 41.7, 42.9, 44.2, 45.5, 46.8, 48.0, 48.7, 50.0, 51.2, 52.5, 53.8, 55.1, 56.3, 57.6, 58.9]
        + [60.2, 61.4, 62.7, 64.0, 65.3, 66.6, 68.5],
        strict=True,
    )
)


def test_uk_sizes(tmp_path):
    """BS 6820: C is 40 mm, a letter 1.25 mm (from memory). Charts made from half US sizes are up to 0.6 mm off."""
    found = inside_mm(tmp_path, "uk", [*UK_CHART, "C½"])
    assert found["C"] == pytest.approx(40, rel=1e-12)
    assert found["C½"] == pytest.approx(40.625, rel=1e-12)
    for size, around in UK_CHART.items():
        assert found[size] == pytest.approx(around, abs=0.6)
    # From J to Z the chart keeps the standard's steps: 16 letters are 20 mm, within its rounding to 0.1 and 0.25.
    assert UK_CHART["Z"] - UK_CHART["J"] == pytest.approx(found["Z"] - found["J"], abs=0.35)


@pytest.mark.parametrize(("standard", "master", "others"), [("iso", "50", ["60", "44.5"]), ("us", "7", ["4", "12"])])
@pytest.mark.parametrize("section_cm2", [math.pi / 4 * 0.2**2, 0.2 * 0.5], ids=["round wire", "flat band"])
def test_the_mass_of_a_band_by_pappus(tmp_path, standard, master, others, section_cm2):
    """A ring of 2 mm wire, and a band 2 mm thick and 5 mm wide: section × π × (inner diameter + 2 mm)."""

    def volume_cm3(size):
        inner_mm = float(size) / math.pi if standard == "iso" else 25.4 * (0.458 + 0.032 * float(size))
        return section_cm2 * math.pi * (inner_mm + 2.0) / 10

    told = ring(tmp_path, standard, others, master, volume_cm3=volume_cm3(master))
    for size in others:
        # US sizes start at 11.63 mm here, at 0.458 inch = 11.6332 mm there: 0.00002 of a ring.
        rel = 1e-12 if standard == "iso" else 1e-4
        assert told[size]["finished_g"] == pytest.approx(volume_cm3(size) * 10.36, rel=rel)


def test_two_torus_volumes(tmp_path):
    """The volume of a torus is 2 π² R r². Silver wire of 2 mm (r = 1) in ISO 50 and 60: R is 50/2π + 1 and 60/2π + 1.

    2 π² × 8.9577 × 1 = 176.82 mm³ × 10.36 mg = 1.8318 g; 2 π² × 10.5493 = 208.23 mm³, 2.1573 g.
    """
    told = ring(tmp_path, "iso", ["50", "60"], "50", volume_cm3=2 * math.pi**2 * (50 / (2 * math.pi) + 1) / 1000)
    assert told["50"]["finished_g"] == pytest.approx(1.8318, abs=0.0001)
    assert told["60"]["finished_g"] == pytest.approx(2.1573, abs=0.0001)


def test_a_head_does_not_grow(tmp_path):
    """A ring of which three quarters lie in the band: from ISO 50 to 60, 2 mm thick, 10 mm on 50 + 2π of that grow."""
    told = ring(tmp_path, "iso", ["60"], "50", band_share=0.75)
    assert told["60"]["finished_g"] == pytest.approx(10.36 * (1 + 0.75 * 10 / (50 + 2 * math.pi)), rel=1e-12)
