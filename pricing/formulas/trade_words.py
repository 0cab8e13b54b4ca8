"""What people of the trade call a thing, and the quantities and keys of files in which it is found here."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple


class TradeWord(NamedTuple):
    """A word of the trade: what it is, and the names to ask for next, each a quantity or a key of a file."""

    meaning: str
    see: tuple[str, ...]


_GILDING = TradeWord(
    "A layer of metal laid on a finished piece, paid by the metal in it: a use with the alloy and its thickness. In the"
    " United States vermeil is silver under at least 2.5 microns of gold; elsewhere other limits hold: look them up.",
    ("microns", "covers", "step_material_cost"),
)
_HALLMARK = TradeWord(
    "What an assay office tests and strikes: steps with a fee, done from a mass upward, in the alloys that hold the"
    " metal. What must be marked is for the law of the place.",
    ("from_g", "holding", "fee", "fee_cost"),
)
_WEIGHT = TradeWord(
    "What a piece weighs: as it is poured, finished, and with all that is in it.",
    ("as_cast_g", "finished_g", "total_g"),
)
_SPRUE = TradeWord(
    "What feeds the castings and is cut off them, in grams for each gram of castings.", ("sprue_ratio", "sprue_g")
)
_WHOLESALE = TradeWord(
    "Whom a channel sells to, and how far its prices may lie apart from the others'.", ("audience", "keystone")
)
_PAID = TradeWord("What a channel keeps of each sale or order.", ("fees", "selling_fees"))
_TAX = TradeWord(
    "Tax in a price or on top of it, and purchase tax that cannot be claimed back.", ("tax", "unreclaimed_tax")
)
_FINDING = TradeWord(
    "What is bought ready-made, or made here, and joined to a piece: its price, metal and stone.",
    ("findings", "findings_cost", "metal_g", "other_g"),
)
_SCRAP = TradeWord(
    "Metal that goes back into the crucible or to the refiner, and what is paid for it.",
    ("scrap_payout", "returns_g", "surplus_g", "scrap_price_per_g"),
)
_LEMEL = TradeWord(
    "Filings and dust caught at the bench, and what a refiner pays for them.",
    ("caught", "caught_g", "lemel_payout", "lemel_price_per_g"),
)
_FINENESS = TradeWord("How much of each element is in an alloy, and what is struck for it.", ("composition", "mark"))

#: In small letters; a word of several has its spaces.
TRADE_WORDS: Mapping[str, TradeWord] = MappingProxyType(
    {
        **dict.fromkeys(("gilding", "gold plating", "plating", "vermeil"), _GILDING),
        **dict.fromkeys(("hallmark", "hallmarking", "assay"), _HALLMARK),
        **dict.fromkeys(("weight", "mass"), _WEIGHT),
        **dict.fromkeys(("sprue", "sprues", "runner"), _SPRUE),
        "tree": TradeWord(
            "The castings of one flask on their sprue: how many, and what feeds them.",
            ("pieces_per_flask", "sprue_ratio", "flasks_per_set"),
        ),
        "button": TradeWord("What is left in the mouth of a flask after the pour.", ("button_cm3", "sprue_g")),
        **dict.fromkeys(("lemel", "filings"), _LEMEL),
        **dict.fromkeys(("scrap", "refiner"), _SCRAP),
        "grain": TradeWord(
            "Casting metal as it is bought, over its melt value.",
            ("premium", "fabrication_per_g", "buy_price_per_g"),
        ),
        "investment": TradeWord(
            "The powder that a flask is filled with. Its dust holds silica: follow its maker's data sheet.",
            ("water_per_100", "slurry_density", "powder_g"),
        ),
        "spoilage": TradeWord("What does not come out right, and where it goes.", ("good", "rejects", "starts")),
        **dict.fromkeys(("carat", "karat", "fineness"), _FINENESS),
        **dict.fromkeys(("stone", "chain", "clasp", "bail", "jump ring"), _FINDING),
        **dict.fromkeys(("ring size", "finger size"), TradeWord("A ring made for each finger.", ("sizes", "standard"))),
        **dict.fromkeys(("wholesale", "retail"), _WHOLESALE),
        **dict.fromkeys(("commission", "card fee"), _PAID),
        **dict.fromkeys(("vat", "sales tax"), _TAX),
        "wage": TradeWord("Pay of an hour, and what comes on top of it.", ("rate", "on_cost", "labour_cost")),
    }
)
