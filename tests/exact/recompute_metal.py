"""Metal in exact fractions: its five prices per gram, and where every gram of a good set goes."""

from __future__ import annotations

from fractions import Fraction

from .recompute_folder import Folder, spot_per_g

ZERO = Fraction(0)
NO_METAL = dict.fromkeys(
    (
        "poured_g flasks_per_set sprue_g charge_g melt_lost_g removed_g caught_g rejected_g reject_refined_g "
        "reject_lost_g returns_g reused_g surplus_g fresh_g"
    ).split(),
    ZERO,
)


def metal_prices(folder: Folder, alloy: str, takes_metal: str = "pour") -> dict:
    """The five prices per gram of an alloy, bought as grain, as stock for a cut, or as castings."""
    stated = folder.alloys[alloy]
    if stated["priced_by"] == "quote":
        melt_value = scrap_value = spot_per_g(folder, stated["quote"])
    else:
        melt_value = scrap_value = ZERO
        for element, share in stated["composition"].items():
            if element in stated.get("unpriced", []):
                continue
            value = share * spot_per_g(folder, element)
            melt_value += value
            if "scrap_pays" not in stated or element in stated["scrap_pays"]:
                scrap_value += value
    premium = stated.get("premium", ZERO)
    fabrication = stated.get("fabrication_per_g", ZERO)
    if takes_metal == "cut":
        premium = stated.get("stock_premium", premium)
        fabrication = stated.get("stock_fabrication_per_g", fabrication)
    if takes_metal == "bought":
        premium = stated.get("bought_premium", premium)
        fabrication = stated.get("bought_fabrication_per_g", fabrication)
    scrap = scrap_value * stated.get("scrap_payout", ZERO) - stated.get("scrap_fee_per_g", ZERO)
    lemel = scrap_value * stated.get("lemel_payout", ZERO) - stated.get("lemel_fee_per_g", ZERO)
    return {
        "melt_value_per_g": melt_value,
        "scrap_value_per_g": scrap_value,
        "buy_price_per_g": (melt_value * (1 + premium) + fabrication) * (1 + purchase_tax(folder)),
        "scrap_price_per_g": max(ZERO, scrap),
        "lemel_price_per_g": max(ZERO, lemel),
    }


def purchase_tax(folder: Folder) -> Fraction:
    """The tax on purchases that stays with the maker."""
    return folder.workshop.get("unreclaimed_tax", ZERO)


def metal_balance(
    folder: Folder, figures: dict, alloy: str, steps: list[dict], rows: list[dict], metal_step: int, flasks: Fraction
) -> dict:
    """Where the metal goes, in grams per good set; `rows` hold what is known of the steps so far."""
    stated = folder.alloys[alloy]
    melt_loss = stated.get("melt_loss", ZERO)
    share = stated.get("max_return_share", folder.workshop.get("max_return_share", Fraction(1, 2)))
    if steps[metal_step]["takes_metal"] != "pour":
        melt_loss = share = ZERO
    poured = rows[metal_step]["starts"] * rows[metal_step]["mass_in"]
    sprue_ratio = figures.get("sprue_ratio", ZERO)
    if "sprue_ratio" not in figures and steps[metal_step]["takes_metal"] != "bought":
        raise LookupError(f"{figures['sku']} states no sprue_ratio")
    sprue = sprue_ratio * poured
    if flasks:
        button_cm3 = folder.workshop["flasks"][figures["flask"]].get("button_cm3", ZERO)
        sprue += button_cm3 * stated["density"] * flasks
    charge = (poured + sprue) / (1 - melt_loss)
    removed = caught = rejected = refined = lost = ZERO
    for step, row in zip(steps[metal_step:], rows[metal_step:], strict=True):
        loss = step.get("metal_loss", ZERO)
        entering = row["starts"] * row["mass_in"]
        removed += entering * loss
        caught += entering * loss * step.get("caught", ZERO)
        spoiled = entering * (1 - step.get("good", Fraction(1))) * (1 - loss)
        rejected += spoiled
        if step.get("rejects", "crucible") == "refiner":
            refined += spoiled
        elif step.get("rejects", "crucible") == "lost":
            lost += spoiled
    returns = sprue + rejected - refined - lost
    reused = min(returns, share * charge)
    return {
        "poured_g": poured,
        "flasks_per_set": flasks,
        "sprue_g": sprue,
        "charge_g": charge,
        "melt_lost_g": charge * melt_loss,
        "removed_g": removed,
        "caught_g": caught,
        "rejected_g": rejected,
        "reject_refined_g": refined,
        "reject_lost_g": lost,
        "returns_g": returns,
        "reused_g": reused,
        "surplus_g": returns - reused + refined,
        "fresh_g": charge - reused,
    }
