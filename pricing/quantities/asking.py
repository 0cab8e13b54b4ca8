"""What to ask: the price a policy asks, rounding, and the ladder between wholesale and retail.

A list price P is what the buyer sees. Per set every fee is `held(slope × P + start, low … high) + flat`, so
what is left over from a sale is piecewise linear in P, and it never falls as P rises. Whether a fee
stands at its least, runs, or stands at its most *at the solution* therefore follows from what is left
over at the fee's own two breakpoints; two sums over the fees and one division then give P exactly.
"""

from pricing.words import (
    both,
    ceil,
    decided_by_fixed,
    decided_by_keystone,
    decided_by_least_price,
    decided_by_one_retail_price,
    decided_by_policy,
    either,
    floor,
    largest,
    maximum,
    one_half,
    opposite,
    price_tolerance,
    total,
    where,
    whole_tolerance,
)


def _rounded_up(amount, step, ending):
    """The smallest price of the form ending + whole steps that is not below `amount`."""
    return ceil((amount - ending - price_tolerance) / step) * step + ending


def _rounded_near(amount, step, ending):
    """The nearest price of that form, a half going up, and never a negative one."""
    return (
        maximum(
            floor((amount - ending) / step + one_half + whole_tolerance),
            ceil((0 - ending) / step - whole_tolerance),
        )
        * step
        + ending
    )


def _rounded(required, rounds_up, least, target, step, ending):
    """`target`, the greater of what is required and the least price, rounded; a least price is never rounded down."""
    return where(
        either(rounds_up, least > required + price_tolerance),
        _rounded_up(target, step, ending),
        _rounded_near(target, step, ending),
    )


def _step_for(amount, applies_below_stated, applies_below, step_position, step_size):
    """The step whose bound is the first above `amount`: as many bounds as are at or below it are passed."""
    return total(where(step_position == _bounds_passed(amount, applies_below_stated, applies_below), step_size, 0))


def _bounds_passed(amount, applies_below_stated, applies_below):
    """How many price steps end at or below `amount`."""
    return total(where(both(applies_below_stated, applies_below <= amount + price_tolerance), 1, 0))


# ---- the price a policy asks


def keep_share(net_share, asked_margin) -> "price":
    """Share of the list price that is left to pay for the piece once the asked margin is set aside.

    Unit: 1
    Why: a margin is a share of net sales.
    """
    return net_share * (1 - asked_margin)


def to_carry(
    unit_cost,
    asked_markup,
    asks_earnings,
    asked_earnings,
    own_labour_hours,
    own_order_hours,
    own_labour_cost,
    own_order_cost,
) -> "price":
    """What a sale must leave over: the unit cost, and the markup or the earnings that are asked.

    Unit: cur
    Why: markup is a share of cost; wanted earnings per own hour count the own labour that is paid already.
    """
    return unit_cost * (1 + asked_markup) + where(
        asks_earnings,
        asked_earnings * (own_labour_hours + own_order_hours) - own_labour_cost - own_order_cost,
        0,
    )


def to_bring(to_carry, order_cost, channel_rate, postage_received) -> "price":
    """What the price must bring in after fees, in the channel's currency: that and the order, less postage.

    Unit: quoted
    Why: buyers pay in the channel's currency for what the maker pays in the workshop's.
    """
    return (to_carry + order_cost) / channel_rate - postage_received


def kept_slope(keep_share, running_fees) -> "price":
    """What each unit of list price leaves over when all fees run.

    Unit: 1
    Why: must be above 0, or no price pays what is asked.
    """
    return keep_share - running_fees


def leaves_room(asks_solving, kept_slope) -> "price":
    """Whether the fees leave room for what the policy asks.

    Unit: switch
    Why: where fees and margin take every unit that the price grows by, no price pays; a stated price asks nothing.
    """
    return opposite(both(asks_solving, kept_slope <= 0))


def has_hours(asks_earnings, own_labour_hours, own_order_hours) -> "price":
    """Whether there is an hour of the maker's own where earnings per hour are asked.

    Unit: switch
    Why: what takes no time can earn nothing an hour.
    """
    return opposite(both(asks_earnings, own_labour_hours + own_order_hours <= 0))


def own_can_be_had(leaves_room, has_hours) -> "price":
    """Whether a channel's own policy has a price at all.

    Unit: switch
    Why: fees leave room, and there is an hour to earn in.
    """
    return both(leaves_room, has_hours)


def can_be_had(own_can_be_had, follows, followed_own_can_be_had) -> "price":
    """Whether there is a price that brings what is asked.

    Unit: switch
    Why: a price that follows another channel's needs one there.
    """
    return both(own_can_be_had, either(opposite(follows), followed_own_can_be_had))


def standing_fees(
    to_bring,
    keep_share,
    runs_from,
    fees_at_runs_from,
    runs_to,
    fees_at_runs_to,
    fee_low,
    fee_high,
    fee_standing,
) -> "price":
    """What does not move with the price in all fees, as they stand at the solution.

    Unit: quoted
    Why: at its least, at its most, or running, by what each fee's own breakpoints leave over.
    """
    return total(
        where(
            to_bring <= keep_share * runs_from - fees_at_runs_from,
            fee_low,
            where(to_bring >= keep_share * runs_to - fees_at_runs_to, fee_high, fee_standing),
        )
    )


def moving_fees(to_bring, keep_share, runs_from, fees_at_runs_from, runs_to, fees_at_runs_to, fee_slope) -> "price":
    """How much all fees grow per unit of list price, as they run at the solution.

    Unit: 1
    Why: only fees between their breakpoints move.
    """
    return total(
        where(
            both(
                to_bring > keep_share * runs_from - fees_at_runs_from,
                to_bring < keep_share * runs_to - fees_at_runs_to,
            ),
            fee_slope,
            0,
        )
    )


def solved_price(asks_solving, to_bring, standing_fees, flat_fees, keep_share, moving_fees) -> "price":
    """List price that leaves exactly what is asked; 0 where even that is more than enough.

    Unit: quoted
    Source: break-even with a target profit (OpenStax Principles of Accounting 2, section 3.2), solved per fee segment.
    """
    return where(
        asks_solving,
        maximum(0, (to_bring + standing_fees + flat_fees) / where(asks_solving, keep_share - moving_fees, 1)),
        0,
    )


def multiplied_cost(
    unit_multiple, metal_multiple, work_multiple, unit_cost, metal_cost, findings_metal_cost
) -> "price":
    """Ex-tax price by multiples of cost.

    Unit: cur
    Why: common practice: all of the cost times one figure, or metal and work each by its own.
    """
    return (
        unit_multiple * unit_cost
        + metal_multiple * (metal_cost + findings_metal_cost)
        + work_multiple * (unit_cost - metal_cost - findings_metal_cost)
    )


def own_required_price(
    is_fixed, fixed_price, asks_solving, solved_price, multiplied_cost, channel_rate, list_tax
) -> "price":
    """List price that a channel's own policy asks; 0 where it follows another channel.

    Unit: quoted
    Why: fixed, solved or multiplied.
    """
    return where(is_fixed, fixed_price, where(asks_solving, solved_price, multiplied_cost / channel_rate * list_tax))


def own_target(own_required_price, least_price) -> "price":
    """That price, or the least price where it is greater: what is rounded.

    Unit: quoted
    Why: no price goes below the least.
    """
    return maximum(own_required_price, least_price)


def own_step(own_target, applies_below_stated, applies_below, step_position, step_size) -> "price":
    """Step that the channel's own price is rounded to.

    Unit: quoted
    Why: the first whose bound is above the target.
    """
    return _step_for(own_target, applies_below_stated, applies_below, step_position, step_size)


def own_rounded_price(is_fixed, own_required_price, rounds_up, least_price, own_target, own_step, ending) -> "price":
    """The channel's own price, rounded, before any other channel is looked at.

    Unit: quoted
    Why: what a channel that follows this one multiplies.
    """
    return where(
        is_fixed, own_required_price, _rounded(own_required_price, rounds_up, least_price, own_target, own_step, ending)
    )


def own_ex_tax_price(own_rounded_price, list_tax, channel_rate) -> "price":
    """The same without tax, in the workshop's currency.

    Unit: cur
    Why: channels may be taxed differently, and be in different currencies.
    """
    return own_rounded_price / list_tax * channel_rate


def required_price(
    follows, follow_multiple, followed_own_ex_tax_price, channel_rate, list_tax, own_required_price
) -> "price":
    """List price that the policy asks, before rounding, least price and ladder.

    Unit: quoted
    Why: a channel may ask so many times another channel's price.
    """
    return where(follows, follow_multiple * followed_own_ex_tax_price / channel_rate * list_tax, own_required_price)


def target_price(required_price, least_price) -> "price":
    """That price, or the least price where it is greater: what is rounded.

    Unit: quoted
    Why: no price goes below the least.
    """
    return maximum(required_price, least_price)


def target_step(target_price, applies_below_stated, applies_below, step_position, step_size) -> "price":
    """Step that the price is rounded to.

    Unit: quoted
    Why: the first whose bound is above the target.
    """
    return _step_for(target_price, applies_below_stated, applies_below, step_position, step_size)


def rounded_price(is_fixed, required_price, rounds_up, least_price, target_price, target_step, ending) -> "price":
    """Price by policy, least price and rounding, before the ladder.

    Unit: quoted
    Why: a least price is never rounded down.
    """
    return where(
        is_fixed, required_price, _rounded(required_price, rounds_up, least_price, target_price, target_step, ending)
    )


# ---- the ladder between wholesale and retail


def wholesale_ex_tax_price(is_wholesale, sold, rounded_price, list_tax, channel_rate) -> "price":
    """Ex-tax price where this is a wholesale channel in which the product is sold, else 0.

    Unit: cur
    Why: what the ladder stands on; a fixed price counts too.
    """
    return where(both(is_wholesale, sold), rounded_price / list_tax * channel_rate, 0)


def highest_wholesale(other_wholesale_ex_tax_price) -> "price":
    """Highest wholesale ex-tax price of the variant.

    Unit: cur
    Why: retail must stand above every shop's buying price.
    """
    return largest(other_wholesale_ex_tax_price)


def is_on_ladder(has_ladder, is_wholesale, sold, is_fixed) -> "price":
    """Whether the ladder may move this price: a retail price that is not fixed, of a product sold there.

    Unit: switch
    Why: a fixed price stands as it is.
    """
    return both(both(has_ladder, opposite(is_wholesale)), both(sold, opposite(is_fixed)))


def keystone_price(keystone, highest_wholesale, channel_rate, list_tax) -> "price":
    """List price below which no retail price may stand.

    Unit: quoted
    Why: common practice: a shop sells at about twice what it pays, and the maker must not undercut it.
    """
    return keystone * highest_wholesale / channel_rate * list_tax


def keystone_step(keystone_price, applies_below_stated, applies_below, step_position, step_size) -> "price":
    """Step that the keystone price is rounded to.

    Unit: quoted
    Why: the first whose bound is above it.
    """
    return _step_for(keystone_price, applies_below_stated, applies_below, step_position, step_size)


def is_lifted_by_keystone(is_on_ladder, rounded_price, keystone_price) -> "price":
    """Whether the keystone lifts this price.

    Unit: switch
    Why: it stands below the keystone price by more than rounding noise.
    """
    return both(is_on_ladder, rounded_price < keystone_price - price_tolerance)


def laddered_price(is_lifted_by_keystone, keystone_price, keystone_step, ending, rounded_price) -> "price":
    """Price after the keystone, rounded again by the channel's rule, always up.

    Unit: quoted
    Why: rounded down it would undercut the shops again.
    """
    return where(is_lifted_by_keystone, _rounded_up(keystone_price, keystone_step, ending), rounded_price)


def currency_mark(currency_number) -> "price":
    """Which currency the channel's prices are in.

    Unit: 1
    Why: one retail price binds the channels of one currency together.
    """
    return currency_number


def retail_price(is_on_ladder, laddered_price) -> "price":
    """Price where the ladder may move it, else 0.

    Unit: quoted
    Why: what the one retail price is taken from.
    """
    return where(is_on_ladder, laddered_price, 0)


def highest_retail(currency_mark, other_currency_mark, other_retail_price) -> "price":
    """Highest retail list price of the variant in the channel's currency.

    Unit: quoted
    Why: one price everywhere can only be the highest, or a channel would lose money.
    """
    return largest(where(other_currency_mark == currency_mark, other_retail_price, 0))


def is_lifted_to_one_price(is_on_ladder, one_retail_price, laddered_price, highest_retail) -> "price":
    """Whether the one retail price lifts this price.

    Unit: switch
    Why: it stands below the highest by more than rounding noise.
    """
    return both(both(is_on_ladder, one_retail_price), laddered_price < highest_retail - price_tolerance)


def price(is_on_ladder, one_retail_price, highest_retail, laddered_price) -> "price":
    """List price to ask: what the buyer sees.

    Unit: quoted
    Why: policy, least price, rounding and ladder, in this order.
    """
    return where(both(is_on_ladder, one_retail_price), highest_retail, laddered_price)


def binds(is_fixed, is_lifted_to_one_price, is_lifted_by_keystone, least_price, required_price) -> "price":
    """What decided the price.

    Unit: reason
    Why: a margin that never binds is decoration, and the maker should know.
    """
    return where(
        is_fixed,
        decided_by_fixed,
        where(
            is_lifted_to_one_price,
            decided_by_one_retail_price,
            where(
                is_lifted_by_keystone,
                decided_by_keystone,
                where(least_price > required_price + price_tolerance, decided_by_least_price, decided_by_policy),
            ),
        ),
    )
