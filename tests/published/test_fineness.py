"""Marks of fineness: legal standards, the rule that they are minima, and the weight from which a piece is marked."""

import pytest
from pydantic import ValidationError

from pricing.errors import Faults
from pricing.model.alloy import Alloy

from .small_workshop import POUR, WORTHLESS, costed


def marked(element, share, mark):
    rest = {} if share == 1 else {"Cu": 1 - share}
    return Alloy.model_validate({**WORTHLESS, "composition": {element: share, **rest}, "unpriced": [], "mark": mark})


def refused(element, share, mark):
    with pytest.raises(ValidationError, match=f"{element} is .* short of"):
        marked(element, share, mark)
    return True


# ---- marks


def test_fineness_is_rounded_down_to_a_standard():
    """Tukes, fineness requirements (seen): gold of 588 per mille is marked 585, of 584 it is marked 375."""
    assert marked("Au", 0.588, "585").mark == "585"
    assert refused("Au", 0.584, "585")
    assert marked("Au", 0.584, "375").mark == "375"


@pytest.mark.parametrize(
    ("karat", "mark", "short_of"),
    [
        (18, "750", "916"),  # 18/24 = 0.75
        (14, "375", "585"),  # 14/24 = 0.58333: short of 585
        (10, "375", "585"),  # 10/24 = 0.41667
        (22, "916", "990"),  # 22/24 = 0.91667
        (9, "375", "585"),  # 9/24 = 0.375
    ],
)
def test_karats(karat, mark, short_of):
    """A karat is a twenty-fourth part by mass (definition, several pages seen); UK standards as below."""
    assert marked("Au", karat / 24, mark).mark == mark
    assert refused("Au", karat / 24, short_of)


# Hallmarking Convention, country profile of the United Kingdom (seen).
STANDARDS = [
    *(("Pt", mark) for mark in (999, 950, 900, 850)),
    *(("Au", mark) for mark in (999, 990, 916, 750, 585, 375)),
    *(("Pd", mark) for mark in (999, 950, 500)),
    *(("Ag", mark) for mark in (999, 958, 925, 800)),
]


@pytest.mark.parametrize(("element", "mark"), STANDARDS)
def test_uk_standards(element, mark):
    """ISO 9202 (seen, page of the 2026 edition): minimum values; one part per thousand under is no such metal."""
    assert marked(element, mark / 1000, str(mark)).mark == str(mark)
    assert marked(element, (mark + 0.5) / 1000, str(mark)).mark == str(mark)
    assert refused(element, (mark - 1) / 1000, str(mark))


def test_sterling_by_rule():
    """16 CFR 23.5 (seen): sterling is at least 925/1000 silver; coin silver, 900/1000, is not."""
    assert marked("Ag", 0.925, "925").mark == "925"
    assert refused("Ag", 0.900, "925")


def test_short_alloy_in_a_folder_is_told_with_its_place(tmp_path):
    """14/24 of gold under a mark of 585 (karat by definition, UK standard as above)."""
    short = {**WORTHLESS, "composition": {"Au": 0.58333, "Cu": 0.41667}, "unpriced": ["Au", "Cu"], "mark": "585"}
    with pytest.raises(Faults, match=r"alloys\.toml:\d+:\d+ alloys\.gold\.mark: Au is 0\.58333 .* short of the 0\.585"):
        costed(tmp_path, alloys={"gold": short})


# ---- the weight from which a hallmark is due


@pytest.mark.parametrize(
    ("metal", "exempt_below_g", "density"),
    [
        # Weights: Hallmarking Act 1973, Schedule 1, Part II, "of a weight less than", with the Convention's country
        # profile (seen). Densities: test_alloys.py.
        ("silver", 7.78, 10.36),
        ("gold", 1.0, 13.07),
        ("palladium", 1.0, 12.0),
        ("platinum", 0.5, 20.7),
    ],
)
def test_exempt_is_what_weighs_less(tmp_path, metal, exempt_below_g, density):
    """A piece of exactly the weight must be marked, one of a hundredth of a gram less need not be. It is weighed when
    finishing has taken 10 % off."""

    def fee_cost(finished_g):
        casting = {"name": metal, "count": 1, "volume_cm3": finished_g / 0.9 / density}
        (record,) = costed(
            tmp_path / f"{finished_g:.2f}",
            alloys={metal: {**WORTHLESS, "density": density}},
            steps=[
                POUR,
                {"name": "grind", "per": "piece", "metal_loss": 0.1},
                {"name": "assay mark", "per": "set", "fee": 3.0, "from_g": exempt_below_g},
            ],
            product={"castings": [casting]},
        )
        assert record["finished_g"] == pytest.approx(finished_g, rel=1e-12)
        return record["fee_cost"]

    assert fee_cost(exempt_below_g) == 3.0
    assert fee_cost(exempt_below_g + 0.01) == 3.0
    assert fee_cost(exempt_below_g - 0.01) == 0.0
