"""What selling takes in each channel, tax, fees and order cost, and what a price brings after it.

A channel may be in another currency. What its buyers see or are charged is in it (unit `quoted`): prices, fees, postage
charged. What the maker pays, and all that is left over, is in the workshop's (`cur`); `channel_rate` lies between.
"""

from pricing.words import (
    both,
    held,
    mass_tolerance,
    minutes_per_hour,
    no_limit,
    ratio,
    total,
    where,
)

# ---- the channel: what does not depend on the product


def list_tax(tax_included, tax_rate) -> "channel":
    """What the list price is divided by to take tax out of it.

    Unit: 1
    Source: VAT fraction: tax in a price is rate / (1 + rate) of it (HMRC, calculating VAT).
    """
    return where(tax_included, 1 + tax_rate, 1)


def net_share(discount, list_tax) -> "channel":
    """Share of the list price that is left after tax and the mean discount.

    Unit: 1
    Why: fees, margin and earnings are counted on what is really received.
    """
    return (1 - discount) / list_tax


def tiers(up_to_g) -> "channel":
    """How many masses there are up to which a channel's postage has a tier.

    Unit: 1
    Why: what is heavier than all of them posts by the rest.
    """
    return total(where(up_to_g > 0, 1, 0))


# ---- an order of this variant in the channel


def channel_rate(exchange_rate) -> "price":
    """Workshop currency for one unit of the channel's.

    Unit: cur/quoted
    Why: the exchange rate in force; 1 where they are the same.
    """
    return exchange_rate


def order_sets(own_sets_per_order_stated, own_sets_per_order, sets_per_order) -> "price":
    """Sets in a usual order.

    Unit: 1
    Why: door knockers are not ordered like studs: a product's own figure counts before the channel's.
    """
    return where(own_sets_per_order_stated, own_sets_per_order, sets_per_order)


def order_g(order_sets, total_g, packing_g) -> "price":
    """Mass of an order as it is posted.

    Unit: g
    Why: its sets and the parcel around them.
    """
    return order_sets * total_g + packing_g


def tiers_passed(order_g, up_to_g) -> "price":
    """How many tiers of postage the order is too heavy for.

    Unit: 1
    Why: tiers rise, and the first that the order does not pass holds.
    """
    return total(where(both(up_to_g > 0, up_to_g < order_g - mass_tolerance), 1, 0))


def order_postage_charged(tiers_passed, tiers, tier_position, tier_charged, postage_charged) -> "price":
    """Postage that the buyer of the order pays, tax in.

    Unit: quoted
    Why: of its tier; what passes all of them, and every order without tiers, pays the rest's.
    """
    return total(where(tier_position == tiers_passed, tier_charged, 0)) + where(
        tiers_passed >= tiers, postage_charged, 0
    )


def order_postage_cost(tiers_passed, tiers, tier_position, tier_cost, postage_cost) -> "price":
    """Postage that the order costs.

    Unit: cur
    Why: of its tier; what passes all of them, and every order without tiers, costs the rest's.
    """
    return total(where(tier_position == tiers_passed, tier_cost, 0)) + where(tiers_passed >= tiers, postage_cost, 0)


def order_hours(order_minutes, order_sets) -> "price":
    """Attended hours of packing and sending, per set.

    Unit: h
    Why: an order of several sets is packed once.
    """
    return order_minutes / minutes_per_hour / order_sets


def own_order_hours(is_own, order_hours) -> "price":
    """Attended hours of an order that are the maker's own, per set.

    Unit: h
    Why: hired help is a cost like any other.
    """
    return where(is_own, order_hours, 0)


def order_labour_cost(order_hours, labour_rate) -> "price":
    """Cost of packing and sending, per set.

    Unit: cur
    Why: hours by what an hour of the role costs.
    """
    return order_hours * labour_rate


def own_order_cost(own_order_hours, labour_rate) -> "price":
    """Cost of the maker's own hours of packing and sending, per set.

    Unit: cur
    Why: what the maker pays the maker is earned too.
    """
    return own_order_hours * labour_rate


def order_cost(
    order_labour_cost,
    order_hours,
    overhead_rate,
    order_postage_cost,
    packing,
    order_sets,
    packing_per_set,
    refund_share,
    refund_cost,
    refund_loss,
    unit_cost,
) -> "price":
    """What a sale costs besides fees, per set: labour, its overhead, postage, packing, refunds.

    Unit: cur
    Why: all of it is spent again for every order; what is sent back has lost a part of its cost.
    """
    return (
        order_labour_cost
        + order_hours * overhead_rate
        + (order_postage_cost + packing) / order_sets
        + packing_per_set
        + refund_share * (refund_cost + refund_loss * unit_cost)
    )


def postage_received(order_postage_charged, tax_rate, order_sets) -> "price":
    """Postage that the buyer pays, without tax, per set, in the channel's currency.

    Unit: quoted
    Why: what is charged for postage has tax in it.
    """
    return order_postage_charged / (1 + tax_rate) / order_sets


def postage_income(postage_received, channel_rate) -> "price":
    """The same in the workshop's currency.

    Unit: cur
    Why: what is left over is counted in the workshop's.
    """
    return postage_received * channel_rate


# ---- fees, per set, in the channel's currency


def fee_tax(fee_taxed, tax_rate) -> "fee":
    """What the net amounts are multiplied by to get what the fee is counted on.

    Unit: 1
    Why: most fees are taken on what the buyer pays, tax and all.
    """
    return where(fee_taxed, 1 + tax_rate, 1)


def fee_slope(fee_rate, fee_share, net_share, fee_tax) -> "fee":
    """How much a fee grows per unit of list price while it runs.

    Unit: 1
    Why: rate on what is paid, on the share of orders it falls on.
    """
    return fee_rate * net_share * fee_tax * fee_share


def running_fees(fee_slope) -> "channel":
    """How much all fees of a channel grow per unit of list price when all of them run.

    Unit: 1
    Why: at or above what a sale keeps, no price could pay.
    """
    return total(fee_slope)


def fee_weight(fee_per_set, order_sets, fee_share) -> "price_fee":
    """How much of a fee's fixed amounts falls on one set.

    Unit: 1
    Why: a fee per order is shared by the sets of the order; some fall on a part of the orders only.
    """
    return where(fee_per_set, 1, 1 / order_sets) * fee_share


def fee_start(fee_of_order, fee_rate, fee_share, postage_received, fee_tax) -> "price_fee":
    """What a running fee would be at a list price of 0: its part on postage.

    Unit: quoted
    Why: a fee on the whole order is taken on postage too.
    """
    return where(fee_of_order, fee_rate * postage_received * fee_tax * fee_share, 0)


def fee_low(fee_min, fee_weight) -> "price_fee":
    """The least a fee can be, per set, before its fixed part.

    Unit: quoted
    Why: a stated minimum.
    """
    return fee_min * fee_weight


def fee_high(fee_max_stated, fee_max, fee_weight) -> "price_fee":
    """The most a fee can be, per set, before its fixed part.

    Unit: quoted
    Why: a stated cap; no cap is a number beyond any price.
    """
    return where(fee_max_stated, fee_max * fee_weight, no_limit)


def flat_fees(fee_fixed, fee_weight) -> "price":
    """The fixed parts of all fees of a sale, per set.

    Unit: quoted
    Why: so much per order or set, whatever its price.
    """
    return total(fee_fixed * fee_weight)


def fee_standing(fee_slope, fee_start, fee_low, fee_high) -> "price_fee":
    """A fee's part that does not move with the price while it runs.

    Unit: quoted
    Why: a fee without a rate does not run at all and is held where it stands.
    """
    return where(fee_slope > 0, fee_start, held(fee_start, fee_low, fee_high))


def runs_from(fee_low, fee_start, fee_slope) -> "price_fee":
    """List price from which a fee leaves its least.

    Unit: quoted
    Why: its lower breakpoint.
    """
    return where(fee_slope > 0, (fee_low - fee_start) / where(fee_slope > 0, fee_slope, 1), 0 - no_limit)


def runs_to(fee_high, fee_start, fee_slope) -> "price_fee":
    """List price at which a fee reaches its most.

    Unit: quoted
    Why: its upper breakpoint.
    """
    return where(fee_slope > 0, (fee_high - fee_start) / where(fee_slope > 0, fee_slope, 1), no_limit)


def fees_at_runs_from(
    runs_from, other_fee_slope, other_fee_start, other_fee_low, other_fee_high, flat_fees
) -> "price_fee":
    """All fees of the sale at the list price where this one leaves its least.

    Unit: quoted
    Why: tells on which side of its breakpoint the solution lies.
    """
    return total(held(other_fee_slope * runs_from + other_fee_start, other_fee_low, other_fee_high)) + flat_fees


def fees_at_runs_to(runs_to, other_fee_slope, other_fee_start, other_fee_low, other_fee_high, flat_fees) -> "price_fee":
    """All fees of the sale at the list price where this one reaches its most.

    Unit: quoted
    Why: tells on which side of its breakpoint the solution lies.
    """
    return total(held(other_fee_slope * runs_to + other_fee_start, other_fee_low, other_fee_high)) + flat_fees


# ---- what the price brings


def ex_tax_price(price, list_tax) -> "price":
    """List price without tax, in the channel's currency.

    Unit: quoted
    Source: VAT fraction (HMRC, calculating VAT).
    """
    return price / list_tax


def discounted_price(ex_tax_price, discount) -> "price":
    """What a sale brings after tax and the mean discount, in the channel's currency.

    Unit: quoted
    Why: sales weeks and bundles lower what is received over the year.
    """
    return ex_tax_price * (1 - discount)


def paid(discounted_price, tax_rate) -> "price":
    """What the buyer pays for a set after the mean discount, tax in, in the channel's currency.

    Unit: quoted
    Why: what most fees are taken on.
    """
    return discounted_price * (1 + tax_rate)


def net_sales(discounted_price, channel_rate) -> "price":
    """What a sale brings after tax and the mean discount.

    Unit: cur
    Why: what is left over is counted in the workshop's currency.
    """
    return discounted_price * channel_rate


def selling_fees(price, fee_slope, fee_start, fee_low, fee_high, flat_fees, channel_rate) -> "price":
    """All fees of a sale, per set.

    Unit: cur
    Why: each fee held between its least and its most, plus its fixed part.
    """
    return (total(held(fee_slope * price + fee_start, fee_low, fee_high)) + flat_fees) * channel_rate


def net_receipts(net_sales, postage_income, selling_fees, order_cost) -> "price":
    """What is left of a sale to pay for the piece.

    Unit: cur
    Why: sales and postage in, fees and order cost out.
    """
    return net_sales + postage_income - selling_fees - order_cost


def profit(net_receipts, unit_cost) -> "price":
    """What a sale leaves over.

    Unit: cur
    Why: labour is in the cost, so this comes on top of the hours paid.
    """
    return net_receipts - unit_cost


def margin(profit, net_sales) -> "price":
    """Profit as a share of net sales.

    Unit: 1
    Why: undefined where nothing is sold for money.
    """
    return ratio(profit, net_sales)


def earned_per_hour(profit, own_labour_cost, own_order_cost, own_labour_hours, own_order_hours) -> "price":
    """What an hour of the maker's own at the bench and the packing table really brings.

    Unit: cur/h
    Why: profit and the own labour that is paid, over all own hours; hired help is a cost. Undefined where no own hour
    is spent.
    """
    return ratio(profit + own_labour_cost + own_order_cost, own_labour_hours + own_order_hours)


def times_melt_value(ex_tax_price, channel_rate, melt_value) -> "price":
    """Ex-tax price in times the value of the metal in the piece.

    Unit: 1
    Why: how buyers of precious metal look at a price; undefined where the metal has no value.
    """
    return ratio(ex_tax_price * channel_rate, melt_value)
