"""Draws channels.toml, and a product's own policies and least prices."""

from __future__ import annotations

from decimal import Decimal

from .chooser import Chooser

AUDIENCES = {"trade": "wholesale", "shop": "retail", "market": "retail"}
# How much of a price fees and margin may take together, so that the rest of the slope stays clear of nothing.
MOST_OF_SLOPE = Decimal("0.85")

# Steps and endings by the digits of the currency's minor unit; some endings are larger than most steps.
STEPS = {
    0: ["1", "5", "10", "50", "100", "500"],
    2: ["0.01", "0.05", "0.1", "0.25", "0.5", "1", "2.5", "5"],
    3: ["0.001", "0.005", "0.05", "0.25", "1"],
}
ENDINGS = {
    0: ["0", "8", "80", "98", "1980"],
    2: ["0", "0.5", "0.9", "0.95", "0.99", "1.9", "7.5"],
    3: ["0", "0.25", "0.95", "0.995", "3.75"],
}
SMALL_MONEY = ("JPY", "KRW", "HUF", "IQD")  # a hundred of them for a pound, near enough
DIGITS = {"JPY": 0, "KRW": 0, "KWD": 3, "TND": 3, "IQD": 3}  # ISO 4217; the others have two


def channels_file(pick: Chooser, currency: str, names: list[str], roles: list[str], currencies: list[str]) -> dict:
    """channels.toml: the named channels, some in other currencies than the workshop's, and perhaps a ladder.

    A channel after the first may price as a keystone of the first, whose own policy never is one, in any
    product: so there is no chain.
    """
    channels = {}
    for name in names:
        # Few currencies, so that several channels often have the same one.
        abroad = pick.one(currencies[:3] if pick.chance(5) else currencies) if pick.chance(4) else currency
        channels[name] = channel_tables(pick, currency, abroad, name, roles)
    for name, channel in channels.items():
        channel["policy"] = policy(pick, channels, name)
    tables: dict = {"channels": channels}
    ladder: dict = {}
    if pick.chance(5):
        ladder["keystone"] = Decimal(pick.one(["2", "1.2", "1.5", "2.25"]))
    if pick.chance(5):
        ladder["one_retail_price"] = pick.chance(8)
    if ladder:
        tables["ladder"] = ladder
    return tables


def of_buyers(pick: Chooser, channel: dict) -> Chooser:
    """Draws money of what a channel's buyers pay in."""
    if "currency" not in channel:
        return pick
    return pick.paid_in(100 if channel["currency"] in SMALL_MONEY else 1)


def channel_tables(pick: Chooser, currency: str, abroad: str, name: str, roles: list[str]) -> dict:
    """One channel without its policy; what it costs the maker is in the workshop's currency."""
    channel: dict = {"audience": AUDIENCES.get(name) or pick.one(["retail", "wholesale"])}
    if abroad != currency or pick.chance(1):
        channel["currency"] = abroad
    buyers = of_buyers(pick, channel)
    if pick.chance(7):
        rate = Decimal(pick.one(["0.2", "0", "0.05", "0.081", "0.19", "0.27"]))
        channel["tax"] = {"rate": rate, "included": pick.chance(5)}
    if pick.chance(5):
        channel["units_per_order"] = pick.number("1", "3", 2) if pick.chance(5) else pick.integer(1, 24)
    if pick.chance(5):
        channel["discount"] = pick.number("0", "0.3", 3)
    if pick.chance(5):
        channel["postage"] = {"charged": buyers.money("0", "9"), "cost": pick.money("0", "9")}
    elif pick.chance(7):
        channel["postage"] = tiers(pick, buyers)
    if pick.chance(4):
        channel["packing_g"] = pick.number("0", "300", 1)
    if pick.chance(3):
        channel["packing_per_set"] = pick.money("0", "2")
    if pick.chance(5):
        channel["packing"] = pick.money("0", "3")
    if pick.chance(5):
        channel |= {"minutes": pick.number("0", "30", 1), "labour": pick.one(roles)}
    if pick.chance(3):
        channel |= {"refund_share": pick.number("0", "0.1", 3), "refund_cost": pick.money("0", "12")}
        if pick.chance(5):
            channel["refund_loss"] = pick.share()
    fees = [fee_tables(buyers, fee) for fee in ["card", "listing", "placement"][: pick.integer(0, 3)]]
    if fees:
        channel["fees"] = fees
    if pick.chance(3):
        channel["least_price"] = buyers.money("0", "400")
    if pick.chance(3):
        channel["minimum_order"] = buyers.money("1", "900")
    if pick.chance(8):
        channel["rounding"] = rounding(buyers, abroad)
    return channel


def tiers(pick: Chooser, buyers: Chooser) -> list[dict]:
    """Postage by mass, ascending; the last takes the rest, or is for a mass that nothing reaches."""
    ends = sorted(set(pick.some([Decimal("12.5"), 50, 100, 250, 750, 2000, 20000], least=1)))
    if pick.chance(2):
        ends.append(90_000_000)
    result: list[dict] = [{"up_to_g": end} for end in ends]
    if ends[-1] != 90_000_000:
        result.append({})
    for tier in result:
        tier |= {"charged": buyers.money("0", "30"), "cost": pick.money("0", "30")}
    return result


def fee_tables(pick: Chooser, name: str) -> dict:
    """A fee of any shape: no rate, a zero rate, held from below, from above, from both, flat, of some orders only."""
    fee: dict = {"name": name}
    if pick.chance(8):
        fee["rate"] = Decimal(0) if pick.chance(2) else pick.number("0.001", "0.15", 4)
    if pick.chance(4):
        fee["fixed"] = pick.money("0", "1.5")
    held = pick.one(["", "min", "max", "both"])
    if held in ("min", "both"):
        fee["min"] = pick.money("0", "8")
    if held in ("max", "both"):
        fee["max"] = fee.get("min", Decimal(0)) + pick.money("0", "20")
    if pick.chance(4):
        fee["share"] = pick.share()
    if pick.chance(6):
        fee["of"] = pick.one(["item", "order"])
    if pick.chance(6):
        fee["per"] = pick.one(["order", "set"])
    if pick.chance(5):
        fee["taxed"] = pick.chance(3)
    if fee.keys() == {"name"}:
        fee["fixed"] = pick.money("0.1", "1")
    return fee


def rounding(pick: Chooser, currency: str) -> dict:
    """A rounding rule; bands of steps ascend in `below`, their steps in no order."""
    digits = DIGITS.get(currency, 2)
    rule: dict = {}
    if pick.chance(7):
        rule["step"] = Decimal(pick.one(STEPS[digits]))
    if pick.chance(5):
        rule["ending"] = Decimal(pick.one(ENDINGS[digits]))
    if pick.chance(6):
        rule["direction"] = pick.one(["up", "nearest"])
    if pick.chance(3):
        ends = pick.some([50, 20, 5, 150, 400], least=1)
        rule["steps_by_price"] = [
            {"below": end * pick.unit, "step": Decimal(pick.one(STEPS[digits]))} for end in sorted(ends)
        ]
    return rule


def policy(pick: Chooser, channels: dict, name: str) -> dict:
    """Any policy that is no error in this channel."""
    first = next(iter(channels))
    kinds = ["margin", "markup", "earn", "multiple", "multiples", "fixed"]
    if name != first:
        kinds.append("keystone")
    kind = pick.one(kinds)
    if kind == "margin":
        room = min(MOST_OF_SLOPE - fees_of_slope(channels[name]), Decimal("0.7"))
        return {"margin": pick.number("0", str(max(room, Decimal("0.01"))), 2)}
    if kind == "markup":
        return {"markup": pick.number("0", "2", 2)}
    if kind == "earn":
        return {"earn": pick.money("1", "80")}
    if kind == "multiple":
        return {"multiple": pick.number("0.5", "4", 2)}
    if kind == "multiples":
        return {"metal_multiple": pick.number("1", "3", 2), "work_multiple": pick.number("0.5", "3", 2)}
    if kind == "fixed":
        return {"fixed": of_buyers(pick, channels[name]).money("0.5", "400")}
    return {"keystone_of": first, "multiple": Decimal(pick.one(["2", "1", "1.8", "2.25"]))}


def fees_of_slope(channel: dict) -> Decimal:
    """What all running fees take of a unit of net sales."""
    with_tax = 1 + channel.get("tax", {}).get("rate", Decimal(0))
    taken = Decimal(0)
    for fee in channel.get("fees", []):
        base = with_tax if fee.get("taxed", True) else Decimal(1)
        taken += fee.get("rate", Decimal(0)) * fee.get("share", Decimal(1)) * base
    return taken


def own_selling(pick: Chooser, channels: dict, name: str) -> dict:
    """A product's own policy, least price or order size in a channel, or some of them."""
    kinds = pick.some(["policy", "least_price", "units_per_order"], least=1)
    own: dict = {}
    if "policy" in kinds:
        own["policy"] = policy(pick, channels, name)
    if "least_price" in kinds:
        own["least_price"] = of_buyers(pick, channels[name]).money("0.5", "500")
    if "units_per_order" in kinds:
        own["units_per_order"] = pick.number("1", "3", 2) if pick.chance(5) else pick.integer(1, 24)
    return own
