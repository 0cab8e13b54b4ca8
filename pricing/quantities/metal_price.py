"""What one gram of each alloy is worth, what it costs to buy and what scrap of it brings back."""

from pricing.words import maximum, total, where


def spot_per_g(quote_price, grams_per_unit, exchange_rate) -> "metal":
    """Price of one gram of a metal in the workshop's currency, by the quote and exchange rate in force.

    Unit: cur/g
    Why: a quote is per troy ounce, kilogram, pound or tonne and may be in a foreign currency.
    """
    return quote_price / grams_per_unit * exchange_rate


def content_value_per_g(mass_fraction, spot_per_g) -> "content":
    """What one element adds to the value of one gram of its alloy.

    Unit: cur/g
    Why: an alloy is worth its contents, each by its mass fraction.
    """
    return mass_fraction * spot_per_g


def melt_value_per_g(is_priced, content_value_per_g) -> "alloy":
    """Value of the metal in one gram of alloy at the price in force.

    Unit: cur/g
    Why: contents listed as unpriced (copper in sterling, say) are given no value by the trade.
    """
    return total(where(is_priced, content_value_per_g, 0))


def scrap_value_per_g(pays_as_scrap, content_value_per_g) -> "alloy":
    """Value of one gram of alloy counting only the elements that the refiner pays for.

    Unit: cur/g
    Why: refiners settle on named metals only, usually the precious ones.
    """
    return total(where(pays_as_scrap, content_value_per_g, 0))


def grain_price_per_g(melt_value_per_g, premium, fabrication_per_g, unreclaimed_tax) -> "alloy":
    """Price of one gram bought as casting grain.

    Unit: cur/g
    Why: the bullion dealer adds a premium on the value and a charge by weight; tax that cannot be claimed back stays.
    """
    return (melt_value_per_g * (1 + premium) + fabrication_per_g) * (1 + unreclaimed_tax)


def stock_premium_in_force(stock_premium_stated, stock_premium, premium) -> "alloy":
    """Premium of sheet and wire over the melt value.

    Unit: 1
    Why: where none is stated for stock, the grain's is taken.
    """
    return where(stock_premium_stated, stock_premium, premium)


def stock_fabrication_in_force(stock_fabrication_per_g_stated, stock_fabrication_per_g, fabrication_per_g) -> "alloy":
    """Charge by weight for sheet and wire.

    Unit: cur/g
    Why: where none is stated for stock, the grain's is taken.
    """
    return where(stock_fabrication_per_g_stated, stock_fabrication_per_g, fabrication_per_g)


def stock_price_per_g(melt_value_per_g, stock_premium_in_force, stock_fabrication_in_force, unreclaimed_tax) -> "alloy":
    """Price of one gram bought as sheet, wire or rod.

    Unit: cur/g
    Why: rolled and drawn stock carries its own premium and charge.
    """
    return (melt_value_per_g * (1 + stock_premium_in_force) + stock_fabrication_in_force) * (1 + unreclaimed_tax)


def bought_premium_in_force(bought_premium_stated, bought_premium, premium) -> "alloy":
    """Premium of castings from a casting house over the melt value.

    Unit: 1
    Why: where none is stated for them, the grain's is taken.
    """
    return where(bought_premium_stated, bought_premium, premium)


def bought_fabrication_in_force(
    bought_fabrication_per_g_stated, bought_fabrication_per_g, fabrication_per_g
) -> "alloy":
    """Charge by weight of a casting house.

    Unit: cur/g
    Why: where none is stated for castings, the grain's is taken.
    """
    return where(bought_fabrication_per_g_stated, bought_fabrication_per_g, fabrication_per_g)


def bought_price_per_g(
    melt_value_per_g, bought_premium_in_force, bought_fabrication_in_force, unreclaimed_tax
) -> "alloy":
    """Price of one gram bought as castings.

    Unit: cur/g
    Why: a casting house charges its metal with a premium and a charge of its own.
    """
    return (melt_value_per_g * (1 + bought_premium_in_force) + bought_fabrication_in_force) * (1 + unreclaimed_tax)


def buy_price_per_g(is_cut, stock_price_per_g, is_bought, bought_price_per_g, grain_price_per_g) -> "variant":
    """Price of one gram of fresh metal in the form this variant is made from.

    Unit: cur/g
    Why: a cast piece starts from grain, a sawn one from sheet, wire or rod, a bought one as a casting.
    """
    return where(is_cut, stock_price_per_g, where(is_bought, bought_price_per_g, grain_price_per_g))


def scrap_less_fee_per_g(scrap_value_per_g, scrap_payout, scrap_fee_per_g) -> "alloy":
    """What a refiner would settle for one gram of clean scrap; below 0 where it is not worth its fee.

    Unit: cur/g
    Why: a payout share of the value less the assay and lot fees.
    """
    return scrap_value_per_g * scrap_payout - scrap_fee_per_g


def scrap_price_per_g(scrap_less_fee_per_g) -> "alloy":
    """What one gram of clean scrap brings, sold to a refiner.

    Unit: cur/g
    Why: scrap not worth its fee is kept, never paid for.
    """
    return maximum(0, scrap_less_fee_per_g)


def lemel_less_fee_per_g(scrap_value_per_g, lemel_payout, lemel_fee_per_g) -> "alloy":
    """What a refiner would settle for one gram of filings and dust (lemel); below 0 where it is not worth its fee.

    Unit: cur/g
    Why: lemel must be melted and assayed first, so it is settled at a lower share than clean scrap.
    """
    return scrap_value_per_g * lemel_payout - lemel_fee_per_g


def lemel_price_per_g(lemel_less_fee_per_g) -> "alloy":
    """What one gram of filings and dust (lemel) brings, sold to a refiner.

    Unit: cur/g
    Why: lemel not worth its fee is kept, never paid for.
    """
    return maximum(0, lemel_less_fee_per_g)
