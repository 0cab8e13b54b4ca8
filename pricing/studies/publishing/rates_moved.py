"""Exchange rates of channels that are not what they were when the prices in force were published."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from pricing.studies.prices_out import quotes_in_force
from pricing.studies.repricing.reprice import Repricing

#: Rates nearer than this are the same.
SAME = 1e-12


class RateMoved(NamedTuple):
    """One unit of `currency` in the workshop's, `home`: now, before (in the edition of the day `since`).

    `channels` are those whose prices are asked in it.
    """

    currency: str
    home: str
    now: float
    before: float
    since: date
    channels: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """As every face tells it."""
        return (
            f"{', '.join(self.channels)}: asked in {self.currency}, and 1 {self.currency} is {self.now:g} {self.home}, "
            f"{self.before:g} on {self.since}: what is asked there moves with it"
        )


def rates_moved(repricing: Repricing) -> tuple[RateMoved, ...]:
    """The currencies that channels are priced in and whose rate differs from that of the edition in force.

    What such a channel asks moves with the rate, whether a cost hangs on it or not.
    """
    edition, stated = repricing.edition, repricing.costing.folder.stated
    home = repricing.costing.computed.resolved.currency
    if edition is None or edition.currency != home:
        return ()
    before = {quote["metal"]: quote["price"] for quote in edition.content["quotes"] if quote["per"] == "unit"}
    found = []
    for quote in quotes_in_force(repricing.costing):
        channels = tuple(name for name, channel in stated.channels.items() if channel.currency == quote.metal)
        if quote.per == "unit" and channels and quote.metal in before:
            now, then = float(quote.price), float(before[quote.metal])
            if abs(now - then) > SAME * then:
                found.append(RateMoved(quote.metal, home, now, then, edition.as_of, channels))
    return tuple(found)
