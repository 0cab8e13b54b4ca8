"""Where the metal goes: charge, sprues, losses, returns, what is bought and what is sold back."""

from pricing.words import both, either, minimum, total, where


def poured_g(step_poured_g) -> "variant":
    """Castings poured (or pieces cut) for one good set.

    Unit: g
    Why: more are begun than come out good.
    """
    return total(step_poured_g)


def flasks_per_set(step_flasks) -> "variant":
    """Flasks poured for one good set.

    Unit: 1/set
    Why: every flask has a button.
    """
    return total(step_flasks)


def sprue_g(sprue_ratio, poured_g, button_cm3, density, flasks_per_set) -> "variant":
    """Sprues, runners and buttons (for a cut piece: offcut) of one good set.

    Unit: g
    Why: a tree's sprues go with its castings, its button with its flask.
    """
    return sprue_ratio * poured_g + button_cm3 * density * flasks_per_set


def melt_loss_in_force(is_cut, is_bought, melt_loss) -> "variant":
    """Share of a charge lost to slag and fume.

    Unit: 1
    Why: nothing is melted where the piece is cut from sheet or wire, or the casting bought.
    """
    return where(either(is_cut, is_bought), 0, melt_loss)


def return_limit(is_cut, is_bought, max_return_share_stated, max_return_share, workshop_max_return_share) -> "variant":
    """Most of a charge that may be returned metal.

    Unit: 1
    Why: common practice is at most half; offcuts of sheet cannot go back into sheet, nor castings into a casting.
    """
    return where(
        either(is_cut, is_bought), 0, where(max_return_share_stated, max_return_share, workshop_max_return_share)
    )


def charge_g(poured_g, sprue_g, melt_loss_in_force) -> "variant":
    """Metal melted for one good set, failed pours included; one_pour_charge_g is what a crucible is charged with.

    Unit: g
    Why: what is poured is what is left after the melt.
    """
    return _into_crucible(poured_g, sprue_g, melt_loss_in_force)


def one_pour_g(is_cut, is_bought, step_poured_sets, as_cast_g) -> "variant":
    """Castings of one pour: a full tree of this piece alone, or as many as are poured together.

    Unit: g
    Why: this is what hangs on the tree, before any of it is known to be good.
    """
    return where(either(is_cut, is_bought), 0, total(step_poured_sets) * as_cast_g)


def one_pour_sprue_g(sprue_ratio, one_pour_g, flasks_per_set, button_cm3, density) -> "variant":
    """Sprues, runners and button of one pour.

    Unit: g
    Why: a tree's sprues go with its castings; a flask has one button, what is poured without a flask none.
    """
    return sprue_ratio * one_pour_g + where(both(flasks_per_set > 0, one_pour_g > 0), button_cm3 * density, 0)


def one_pour_charge_g(one_pour_g, one_pour_sprue_g, melt_loss_in_force) -> "variant":
    """What is weighed into the crucible for one full pour of this piece.

    Unit: g
    Why: the scale shows the charge of one pour, not what a good set costs in melted metal.
    """
    return _into_crucible(one_pour_g, one_pour_sprue_g, melt_loss_in_force)


def _into_crucible(castings_g, sprued_g, lost):
    return (castings_g + sprued_g) / (1 - lost)


def melt_lost_g(charge_g, melt_loss_in_force) -> "variant":
    """Metal lost in the melt for one good set.

    Unit: g
    Why: slag and fume; zinc goes first.
    """
    return charge_g * melt_loss_in_force


def removed_g(step_removed_g) -> "variant":
    """Metal taken off by all steps for one good set.

    Unit: g
    Why: sum of the steps.
    """
    return total(step_removed_g)


def caught_g(step_caught_g) -> "variant":
    """Filings and dust kept from one good set.

    Unit: g
    Why: sum of the steps.
    """
    return total(step_caught_g)


def rejected_g(step_rejected_g) -> "variant":
    """Metal in the spoiled pieces that fall on one good set.

    Unit: g
    Why: sum of the steps.
    """
    return total(step_rejected_g)


def reject_refined_g(step_reject_refined_g) -> "variant":
    """Spoiled pieces that must go to the refiner.

    Unit: g
    Why: sum of the steps.
    """
    return total(step_reject_refined_g)


def reject_lost_g(step_reject_lost_g) -> "variant":
    """Spoiled pieces that are lost.

    Unit: g
    Why: sum of the steps.
    """
    return total(step_reject_lost_g)


def returns_g(sprue_g, rejected_g, reject_refined_g, reject_lost_g) -> "variant":
    """Metal that can go back into the crucible (for a cut piece: clean offcut).

    Unit: g
    Why: sprues, buttons and clean spoiled pieces.
    """
    return sprue_g + rejected_g - reject_refined_g - reject_lost_g


def reused_g(returns_g, return_limit, charge_g) -> "variant":
    """Returned metal that the next charge really takes.

    Unit: g
    Why: a charge holds no more returned metal than its limit.
    """
    return minimum(returns_g, return_limit * charge_g)


def surplus_g(returns_g, reused_g, reject_refined_g) -> "variant":
    """Returned metal that is sold as clean scrap.

    Unit: g
    Why: what the charges cannot take and what must not be melted again.
    """
    return returns_g - reused_g + reject_refined_g


def fresh_g(charge_g, reused_g) -> "variant":
    """Metal bought for one good set.

    Unit: g
    Why: the rest of the charge comes back from the trees before.
    """
    return charge_g - reused_g


def metal_itself(fresh_g, buy_price_per_g, surplus_g, scrap_price_per_g, caught_g, lemel_price_per_g) -> "variant":
    """Metal of one good set without its parts: bought, less what scrap and filings bring back.

    Unit: cur
    Source: normal loss with scrap value in process costing: what scrap brings lowers the cost of the good units.
    """
    return fresh_g * buy_price_per_g - surplus_g * scrap_price_per_g - caught_g * lemel_price_per_g


def finding_melt_value(finding_quantity, finding_metal_g, melt_value_per_g) -> "finding":
    """Value of the metal in a set's findings of one kind.

    Unit: cur
    Why: what is paid by weight is metal like the piece's own.
    """
    return finding_quantity * finding_metal_g * melt_value_per_g


def melt_value_itself(finished_g, melt_value_per_g, finding_melt_value) -> "variant":
    """Value of the metal in one finished set and its findings, without its parts.

    Unit: cur
    Why: no premium, tax or spoil is in it: what they are worth as metal alone.
    """
    return finished_g * melt_value_per_g + total(finding_melt_value)


def grams_itself(finished_g, finding_quantity, finding_metal_g, finding_other_g) -> "variant":
    """Mass of one finished set with its findings, without its parts.

    Unit: g
    Why: a stone weighs too in the post.
    """
    return finished_g + total(finding_quantity * (finding_metal_g + finding_other_g))
