"""The quantities of an order at a stall: what it comes to, what a friend is asked, and where to walk away.

Formulas as those of `pricing/quantities/`, read by the same readers.
"""

from pricing.quantities.asking import _rounded_up, _step_for  # the one way in which prices are rounded
from pricing.words import maximum, minimum, where


def order_price(asked_price, sets_per_order) -> "price":
    """What is asked for an order, all its sets together.

    Unit: quoted
    Why: several sets go over the counter for so many times the price of one.
    """
    return asked_price * sets_per_order


def walk_away_price(required_price, sets_per_order, least_coin) -> "price":
    """What an order must bring at least, all its sets together.

    Unit: quoted
    Why: below it the order no longer brings what is wanted; rounded up to the least coin, since a coin less is short.
    """
    return _rounded_up(required_price * sets_per_order, least_coin, 0)


def friendly_goal(order_price, friendly_share, can_be_had, walk_away_price) -> "price":
    """What a friend is asked for an order, before it is rounded.

    Unit: quoted
    Why: a share off, but never below where one walks away.
    """
    return maximum(order_price * (1 - friendly_share), where(can_be_had, walk_away_price, 0))


def friendly_step(friendly_goal, applies_below_stated, applies_below, step_position, step_size) -> "price":
    """Step that the friendly price is rounded to.

    Unit: quoted
    Why: the first whose bound is above it.
    """
    return _step_for(friendly_goal, applies_below_stated, applies_below, step_position, step_size)


def friendly_price(friendly_goal, friendly_step, ending, order_price) -> "price":
    """What a friend is asked for an order, all its sets together.

    Unit: quoted
    Why: rounded up by the channel's own rule, and never above what is asked of anybody.
    """
    return minimum(_rounded_up(friendly_goal, friendly_step, ending), order_price)
