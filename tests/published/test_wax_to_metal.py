"""From the weight of a wax to the weight of metal: suppliers' worked examples, each as a workshop folder.

The trade takes wax as 1.0 g/cm3 and puts 10 % on top for sprue and button; here that is the sprue ratio, and
what the supplier calls the metal needed is the charge of the crucible.
"""

import pytest

from pricing.units import GRAMS_PER

from .small_workshop import WORTHLESS, costed


def wax(grams, density=1.0):
    return {"name": "model", "count": 1, "model_g": grams, "model_density": density}


def alloy(density):
    return {**WORTHLESS, "density": density}


def test_rio_grande(tmp_path):
    """Rio Grande, Determining-Metal-Weight-HT, 2019 (seen): wax 5 g and 10 %, 14 ct yellow 13.07: 71.89 g (71.885)."""
    (record,) = costed(tmp_path, alloys={"gold": alloy(13.07)}, product={"castings": [wax(5.0)], "sprue_ratio": 0.10})
    assert record["charge_g"] == pytest.approx(71.885, rel=1e-12)
    assert record["charge_g"] == pytest.approx(71.89, abs=0.0051)
    assert record["as_cast_g"] == pytest.approx(71.885 / 1.1, rel=1e-12)  # 5 g × 13.07, without the 10 %
    assert record["sprue_g"] == pytest.approx(0.5 * 13.07, rel=1e-12)  # and the 10 % of 5 g in metal


def test_romanoff_by_factor(tmp_path):
    """Romanoff, wax-weight-metal-weight (seen): 5.5 g × 13.5 is 74.25 g.

    13.5 is a factor with the button in it, not the specific gravity of 14 ct (its brass is 10.0 beside 8.4): so
    no sprue ratio comes on top.
    """
    (record,) = costed(tmp_path, alloys={"gold": alloy(13.5)}, product={"castings": [wax(5.5)]})
    assert record["charge_g"] == pytest.approx(74.25, rel=1e-12)


def test_romanoff_by_density(tmp_path):
    """Romanoff, calculate-weight-metal-jewelry-casting-tips-tricks (seen): tree on its base 43.5 g, base 38 g: silver
    (10.5) 57.75 g, 750 gold (15.20) 83.60 g."""
    silver, gold = costed(
        tmp_path,
        alloys={"silver": alloy(10.5), "gold": alloy(15.20)},
        product={"castings": [wax(43.5 - 38)]},
    )
    assert silver["charge_g"] == pytest.approx(57.75, rel=1e-12)
    assert gold["charge_g"] == pytest.approx(83.60, rel=1e-12)


def test_the_models_own_density(tmp_path):
    """Orchid forum 27807, S. Cser (seen): metal is wax / its gravity × the metal's.

    Orchid forum 15741 quoting Untracht (seen): wax is 0.95 to 0.98 g/cm3; at 0.96 there is 4 % more metal than at 1.0,
    as 1 / 0.96 = 1.0417.
    """
    castings = [{**wax(5.0, 0.96), "name": "light"}]
    (light,) = costed(tmp_path / "light", alloys={"silver": alloy(10.36)}, product={"castings": castings})
    (plain,) = costed(tmp_path / "plain", alloys={"silver": alloy(10.36)}, product={"castings": [wax(5.0)]})
    assert light["as_cast_g"] == pytest.approx(5.0 / 0.96 * 10.36, rel=1e-12)
    assert light["as_cast_g"] / plain["as_cast_g"] - 1 == pytest.approx(0.04, abs=0.005)


def test_swapping_alloys(tmp_path):
    """Stuller, "Where can I find the specific gravity of various materials?", 2012 (seen): 4 dwt in sterling (10.40)
    are 5.02 dwt in 14 ct yellow (13.07). Unrounded 4 × 13.07 / 10.40 = 5.0269: the page cuts the digits off."""
    piece = {
        "name": "piece",
        "count": 1,
        "metal_g": 4 * GRAMS_PER["dwt"],
        "in_alloy": "sterling",
        "weighed": "as-cast",
    }
    sterling, gold = costed(
        tmp_path, alloys={"sterling": alloy(10.40), "gold": alloy(13.07)}, product={"castings": [piece]}
    )
    assert sterling["as_cast_g"] / GRAMS_PER["dwt"] == pytest.approx(4, rel=1e-12)
    in_gold = gold["as_cast_g"] / GRAMS_PER["dwt"]
    assert in_gold == pytest.approx(4 * 13.07 / 10.40, rel=1e-12)
    assert int(in_gold * 100) / 100 == 5.02
