"""What stands over the columns of screens, lists and the page and is no name of a quantity: words of the trade."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

HEADINGS: Mapping[str, str] = MappingProxyType(
    {
        # what is made
        "product, alloy": "Products, and below each the alloys in which it is made.",
        "variant": "A product in one of its alloys: each has its own cost and its own prices.",
        "set": "What is sold as one: one piece, a pair or several, as sold_as says.",
        "finished": "Mass of one set after the last step.",
        "as cast": "Mass of one set as it comes out of the flask, before it is cut off and finished.",
        "as cut": "Mass of one set as it is cut out of sheet, wire or rod, before it is finished.",
        "poured at": "Temperature at which the alloy is poured, as alloys.toml states it.",
        "lemel": "Filings and dust that are caught and sold to a refiner: dearer to refine than clean scrap.",
        "charge": "What goes into the crucible: castings, sprues and buttons, and what is lost in the melt.",
        # what it costs
        "one costs": "Unit cost of one: metal, labour, overhead, machines, materials, bought-in work and findings.",
        "a pair costs": "Unit cost of a pair, as one costs.",
        "a set costs": "Unit cost of a set, as one costs.",
        "cost": "Unit cost of one set, before anything is sold.",
        "costs": "Unit cost of one set, before anything is sold.",
        "share": "Part of all that is spent on one set.",
        "in all": "The sum of the lines above.",
        "metal": "Metal bought for one set, less what scrap and lemel bring back.",
        "overhead": "What the workshop costs in a month, spread over its productive hours.",
        "bought-in work": "What others do to a piece for a fee: assay office, plater, setter, casting house.",
        "materials": "What is used up: wax, resin, investment, pickle, boxes.",
        "hands": "Attended time: labour and the overhead that it carries.",
        "times": "How often a step is done for one good set; above 1 where pieces are spoiled, below where many are"
        " done at once.",
        "min": "Attended minutes for one good set.",
        "more": "How much more it is than in the first alloy.",
        # what is asked
        "in force": "Price of the newest published edition on or before the day.",
        "in force in": "Channels, with the price of the newest published edition on or before the day.",
        "asked": "Price that the policy asks now, published or not.",
        "asked in": "Channels, with the price that the policy asks there.",
        "policy asked": "Price that the policy asked when the edition was published.",
        "for": "Margin that the price asked would earn.",
        "to": "Price that it would be moved to, and why.",
        "because": "What decided whether a price is held, raised or lowered.",
        "earns": "Margin that the price in force earns at what things cost now.",
        "ex tax": "Price without the sales tax that the buyer pays in it.",
        "an hour": "What is left of a sale for each attended hour, order included, once all but labour is paid.",
        "an hour of yours": "What is left of a sale for each hour of the maker's own, order included, once all but that"
        " labour is paid.",
        "× metal": "Price without tax in times the value of the metal in the finished piece.",
        "asked margin": "What the price that the policy asks now would earn, as a share of net sales.",
        "decided by": "What set a price: its policy, its least price, the multiple of the wholesale price, one retail"
        " price, or a fixed price; in a quotation also the price in force, or what fewer are offered at.",
        "an order of": "How many sets a quotation is for: made as one run and sent as one order.",
        "offered": "Price of one in a quotation: what the policy asks for the order, never above the price in force nor"
        " above what fewer are offered at.",
        "ladder": "Rules between channels: retail at least a multiple of wholesale (keystone), one retail price.",
        "drift": "How far the price that is asked now lies from the price in force.",
        # editions and studies
        "edition": "All prices published on one day with what they came from; numbered from 1, never changed.",
        "from": "Day from which an edition is in force.",
        "prices": "How many prices an edition holds.",
        "new": "How many prices are published for the first time.",
        "raised": "How many prices are higher than in the edition before.",
        "lowered": "How many prices are lower than in the edition before.",
        "hash": "Fingerprint of an edition: it changes if a sign of the edition or of one before it is changed.",
        "set on": "Day on which a price was last changed.",
        "verdict": "Whether a price is new, held, raised, lowered, or gone.",
        "band": "How far a margin may drift from what the policy asks, in points, before a price is moved.",
        "points": "Difference of two percentages: from 40 % to 37 % are 3 points.",
        "least": "Least margin that the channel's reprice rules keep to.",
        "left at": "Metal price at which only the least margin is left, and how far it is away.",
        "gone at": "Metal price at which nothing is left, and how far it is away.",
        "any": "Even a hundred times the price of today would leave something.",
        "in": "Currency and mass that a price is told in, or the alloy in which a thing is weighed.",
        "age": "Days since a quote was told.",
        "week %": "Change of the price over a week, where it was quoted within a week before either end of it.",
        "month %": "Change of the price over 30 days, where it was quoted within 30 days before either end of them.",
        "year %": "Change of the price over 365 days.",
        "a year": "The past year as a line of blocks, its lowest price at the foot and its highest at the top.",
    }
)  # fmt: skip
