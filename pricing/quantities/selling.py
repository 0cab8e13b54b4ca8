"""What selling takes in each channel, tax, fees and order cost, and what a price brings after it."""

from pricing.words import (
    held,
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


def order_hours(order_minutes, sets_per_order) -> "channel":
    """Attended hours of packing and sending, per set.

    Unit: h
    Why: an order of several sets is packed once.
    """
    return order_minutes / minutes_per_hour / sets_per_order


def order_labour_cost(order_hours, labour_rate) -> "channel":
    """Cost of packing and sending, per set.

    Unit: cur
    Why: hours by what an hour of the role costs.
    """
    return order_hours * labour_rate


def order_cost(
    order_labour_cost, order_hours, overhead_rate, postage_cost, packing, sets_per_order, refund_share, refund_cost
) -> "channel":
    """What a sale costs besides fees, per set: labour, its overhead, postage, packing, refunds.

    Unit: cur
    Why: all of it is spent again for every order.
    """
    return (
        order_labour_cost
        + order_hours * overhead_rate
        + (postage_cost + packing) / sets_per_order
        + refund_share * refund_cost
    )


def postage_income(postage_charged, tax_rate, sets_per_order) -> "channel":
    """Postage that the buyer pays, without tax, per set.

    Unit: cur
    Why: what is charged for postage has tax in it.
    """
    return postage_charged / (1 + tax_rate) / sets_per_order


# ---- fees, per set


def fee_weight(fee_per_set, sets_per_order, fee_share) -> "fee":
    """How much of a fee's fixed amounts falls on one set.

    Unit: 1
    Why: a fee per order is shared by the sets of the order; some fall on a part of the orders only.
    """
    return where(fee_per_set, 1, 1 / sets_per_order) * fee_share


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


def fee_start(fee_of_order, fee_rate, fee_share, postage_income, fee_tax) -> "fee":
    """What a running fee would be at a list price of 0: its part on postage.

    Unit: cur
    Why: a fee on the whole order is taken on postage too.
    """
    return where(fee_of_order, fee_rate * postage_income * fee_tax * fee_share, 0)


def fee_low(fee_min, fee_weight) -> "fee":
    """The least a fee can be, per set, before its fixed part.

    Unit: cur
    Why: a stated minimum.
    """
    return fee_min * fee_weight


def fee_high(fee_max_stated, fee_max, fee_weight) -> "fee":
    """The most a fee can be, per set, before its fixed part.

    Unit: cur
    Why: a stated cap; no cap is a number beyond any price.
    """
    return where(fee_max_stated, fee_max * fee_weight, no_limit)


def fee_flat(fee_fixed, fee_weight) -> "fee":
    """The fixed part of a fee, per set.

    Unit: cur
    Why: so much per order, whatever its price.
    """
    return fee_fixed * fee_weight


def flat_fees(fee_flat) -> "channel":
    """The fixed parts of all fees of a channel, per set.

    Unit: cur
    Why: sum of the fees.
    """
    return total(fee_flat)


def running_fees(fee_slope) -> "channel":
    """How much all fees of a channel grow per unit of list price when all of them run.

    Unit: 1
    Why: at or above what a sale keeps, no price could pay.
    """
    return total(fee_slope)


def fee_standing(fee_slope, fee_start, fee_low, fee_high) -> "fee":
    """A fee's part that does not move with the price while it runs.

    Unit: cur
    Why: a fee without a rate does not run at all and is held where it stands.
    """
    return where(fee_slope > 0, fee_start, held(fee_start, fee_low, fee_high))


def runs_from(fee_low, fee_start, fee_slope) -> "fee":
    """List price from which a fee leaves its least.

    Unit: cur
    Why: its lower breakpoint.
    """
    return where(fee_slope > 0, (fee_low - fee_start) / where(fee_slope > 0, fee_slope, 1), 0 - no_limit)


def runs_to(fee_high, fee_start, fee_slope) -> "fee":
    """List price at which a fee reaches its most.

    Unit: cur
    Why: its upper breakpoint.
    """
    return where(fee_slope > 0, (fee_high - fee_start) / where(fee_slope > 0, fee_slope, 1), no_limit)


def fees_at_runs_from(runs_from, other_fee_slope, other_fee_start, other_fee_low, other_fee_high, flat_fees) -> "fee":
    """All fees of the channel at the list price where this one leaves its least.

    Unit: cur
    Why: tells on which side of its breakpoint the solution lies.
    """
    return total(held(other_fee_slope * runs_from + other_fee_start, other_fee_low, other_fee_high)) + flat_fees


def fees_at_runs_to(runs_to, other_fee_slope, other_fee_start, other_fee_low, other_fee_high, flat_fees) -> "fee":
    """All fees of the channel at the list price where this one reaches its most.

    Unit: cur
    Why: tells on which side of its breakpoint the solution lies.
    """
    return total(held(other_fee_slope * runs_to + other_fee_start, other_fee_low, other_fee_high)) + flat_fees


def extras_at_runs_from(postage_income, order_cost, fees_at_runs_from) -> "fee":
    """What comes in besides sales, less fees and order cost, at the list price where this fee leaves its least.

    Unit: cur
    Why: with the share of the price that is kept, it gives what is left over there.
    """
    return postage_income - order_cost - fees_at_runs_from


def extras_at_runs_to(postage_income, order_cost, fees_at_runs_to) -> "fee":
    """What comes in besides sales, less fees and order cost, at the list price where this fee reaches its most.

    Unit: cur
    Why: with the share of the price that is kept, it gives what is left over there.
    """
    return postage_income - order_cost - fees_at_runs_to


# ---- what the price brings


def ex_tax_price(price, list_tax) -> "price":
    """List price without tax.

    Unit: cur
    Source: VAT fraction (HMRC, calculating VAT).
    """
    return price / list_tax


def net_sales(ex_tax_price, discount) -> "price":
    """What a sale brings after tax and the mean discount.

    Unit: cur
    Why: sales weeks and bundles lower what is received over the year.
    """
    return ex_tax_price * (1 - discount)


def selling_fees(price, fee_slope, fee_start, fee_low, fee_high, fee_flat) -> "price":
    """All fees of a sale, per set.

    Unit: cur
    Why: each fee held between its least and its most, plus its fixed part.
    """
    return total(held(fee_slope * price + fee_start, fee_low, fee_high) + fee_flat)


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


def earned_per_hour(profit, labour_cost, order_labour_cost, labour_hours, order_hours) -> "price":
    """What an hour at the bench and the packing table really brings.

    Unit: cur/h
    Why: profit and the labour that is paid, over all attended hours; undefined where no hour is spent.
    """
    return ratio(profit + labour_cost + order_labour_cost, labour_hours + order_hours)


def times_melt_value(ex_tax_price, melt_value) -> "price":
    """Ex-tax price in times the value of the metal in the piece.

    Unit: 1
    Why: how buyers of precious metal look at a price; undefined where the metal has no value.
    """
    return ratio(ex_tax_price, melt_value)
