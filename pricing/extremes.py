"""What no figure and no day of a workshop lies outside: beyond it stands a slip, and nothing is counted with it.

Far wider than anything that is made or sold: from a fraction of a cent for a gram to the yearly output of a country,
from before anybody's records to after anybody's lease.
"""

from __future__ import annotations

from datetime import date

#: Days that are typed, quoted or asked for.
EARLIEST, LATEST = date(1900, 1, 1), date(2200, 12, 31)
#: Sizes of a figure that is not 0.
SMALLEST, LARGEST = 1e-20, 1e20
#: Prices, in any currency, of a gram, an ounce, a tonne or another currency.
LOWEST_PRICE, HIGHEST_PRICE = 1e-9, 1e12
#: Signs of a number in a table: more digits than any price has.
LONGEST_NUMBER = 40


def beyond(value: object) -> str | None:
    """What to say of a number or a day that lies outside, as a problem without its subject; None where it does not."""
    if isinstance(value, float) and value and not SMALLEST <= abs(value) <= LARGEST:
        return f"{value:g} is {'larger' if abs(value) > 1 else 'smaller'} than anything in a workshop"
    if type(value) is date and not EARLIEST <= value <= LATEST:
        return f"{value} lies outside the years {EARLIEST.year} to {LATEST.year}"
    return None
