"""The forms of what is downloaded: each with every field that its command has, and what was typed into them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from pricing.editions.chain import numbers
from pricing.lists.cut_sheets import PAPERS
from pricing.page.workspace import Look
from pricing.questions.option import Option

#: So many pieces can be ticked; in a larger catalogue they are typed by their skus.
MOST_TICKED = 60
CHANCES = (("90", "90 %"), ("75", "75 %"), ("95", "95 %"), ("99", "99 %"), ("mean", "the mean alone"))


@dataclass(frozen=True)
class ListField:
    """One field: `look` is how it is drawn: "choice", "ticks", "tick", "text", "figure", "date", "lines" or "file".

    `options` are what may be chosen, with their words; `usual` what stands there at first; `is_main` tells those that
    are seen at once.
    """

    option: Option
    look: str = "text"
    options: tuple[tuple[str, str], ...] = ()
    usual: tuple[str, ...] = ()
    hint: str = ""
    unit: str = ""
    is_main: bool = False

    @property
    def name(self) -> str:
        return self.option.name


@dataclass(frozen=True)
class ListForm:
    """What one download is made of: the last part of its address, its title, what it is for, its fields."""

    name: str
    title: str
    words: str
    button: str
    fields: tuple[ListField, ...] = ()
    posts_files: bool = False
    links: tuple[tuple[str, str], ...] = field(default=())

    def option(self, name: str) -> Option:
        return next(each.option for each in self.fields if each.name == name)


def forms(look: Look) -> Mapping[str, ListForm]:
    """Every form, by the last part of its address."""
    stated = look.costing.folder.stated
    channels = tuple((name, name) for name in stated.channels)
    kinds = {name: channel.audience for name, channel in stated.channels.items()}
    retail = [name for name, kind in kinds.items() if kind == "retail"]
    fields = _Common(look, channels)
    audiences = [("shops", "shops: trade and suggested retail")] if "wholesale" in kinds.values() else []
    audiences += [("buyers", "buyers: retail")] if retail else []
    every = (
        ListForm(
            "workbook", "Workbook",
            "Every figure as a live formula. Change one cell, the price of silver or an hour, and every price moves, "
            "in any spreadsheet program.",
            "Download the workbook", (fields.prices, *_workbook()),
        ),
        ListForm(
            "price-list", "Price list", "With pictures and your terms, ready to print; no costs on it.",
            "Download the price list",
            (
                ListField(Option("audience", "words", "Who reads it.", "For"), "choice", tuple(audiences),
                          is_main=True),
                fields.prices, fields.form,
                fields.channel("the first wholesale one, for buyers the first retail one"),
                ListField(
                    Option("retail", "channel", "Channel of the suggested retail price.", "Suggested retail price of"),
                    "choice", (("", "the first retail channel"), *channels),
                ),
                *fields.goods, fields.valid_until, fields.locale, fields.paper, fields.pictures,
            ),
        ),
        ListForm(
            "quotation", "Quotation",
            "For a commission: alloys side by side, several quantities, a clause for the metal.",
            "Download the quotation", _quotation(look, fields, channels),
        ),
        ListForm(
            "tags", "Price tags and stall cards",
            "To be cut; a stall card is for your own pocket, with the price to walk away at.", "Download the tags",
            _tags(fields, channels, retail),
        ),
        ListForm(
            "upload-sheet", "Upload sheet", "For an online shop's own import: a row for each variant and channel.",
            "Download the upload sheet",
            (
                ListField(Option("channel", "channel", "Whose prices.", "Sold in", several=True), "ticks", channels,
                          tuple(retail), is_main=True),
                fields.prices,
                ListField(Option("changed_since", "count", "Only prices set after that edition.",
                                 "Only what changed since edition"), "figure", is_main=True),
                *fields.goods,
                ListField(Option("earlier", "file", "An earlier sheet: only lines that it does not have."), "file",
                          hint="an earlier sheet, for the lines that it does not have"),
                ListField(Option("columns", "file", "Which columns, a TOML file."), "file",
                          hint="a TOML file; the built-in ones without it"),
            ),
            posts_files=True, links=(("/lists/upload-columns", "The built-in columns, to be changed"),),
        ),
        ListForm("cards", "Job cards", "A page for each pour, or a card for each order of a list.",
                 "Download the cards", _cards(look, fields), posts_files=True, links=(("/pour", "Plan a pour first"),)),
        ListForm("template", "Sheet for new products", "An empty sheet to fill with products, and to import again.",
                 "Download the sheet"),
    )  # fmt: skip
    return MappingProxyType({each.name: each for each in every})


class _Common:
    """Fields that several forms have."""

    def __init__(self, look: Look, channels: Sequence[tuple[str, str]]):
        self.channels = channels
        self.form = ListField(Option("form", "words", "What kind of file.", "As"), "choice",
                              (("pdf", "PDF"), ("html", "one HTML file")), is_main=True)  # fmt: skip
        self.prices = ListField(
            Option("prices", "words", "Which prices: those in force, of an edition, or as asked now.", "Prices"),
            "choice", _prices(look), is_main=True,
        )  # fmt: skip
        goods = goods_sold(look)
        ticked = len(goods) <= MOST_TICKED
        self.goods = (
            ListField(
                Option("sku", "product", "Only these pieces.", "Only these pieces", several=True),
                "ticks" if ticked else "text", goods if ticked else (), hint="" if ticked else "skus, commas between",
            ),
            ListField(Option("alloy", "alloy", "Only in these alloys.", "Only in these alloys", several=True), "ticks",
                      alloys_of(look)),
        )  # fmt: skip
        self.valid_until = ListField(Option("valid_until", "words", "Until when the prices hold.", "Valid until"),
                                     "date")  # fmt: skip
        self.locale = ListField(
            Option("locale", "words", "How numbers and dates are written.", "Numbers and dates as in"),
            hint="en_GB; if left empty by habit",
        )
        self.paper = ListField(Option("paper", "words", "Paper of a PDF.", "Paper"), "choice",
                               (("", "as usual there"), *((name, name) for name in PAPERS)))  # fmt: skip
        self.pictures = ListField(Option("no_pictures", "switch", "Leave the pictures out.", "Leave the pictures out"),
                                  "tick")  # fmt: skip

    def channel(self, first: str, usual: str = "") -> ListField:
        """Whose prices; `first` says which where none is named."""
        option = Option("channel", "channel", "Whose prices.", "Sold in")
        return ListField(option, "choice", (("", first), *self.channels), (usual,))


def goods_sold(look: Look) -> tuple[tuple[str, str], ...]:
    """What is sold at all, each size that has its own price for itself: sku and name."""
    variants = look.costing.computed.resolved.variants
    goods = dict.fromkeys(each.sku for each in variants if each.sold_places)
    return tuple((sku, look.products[sku].name) for sku in goods)


def alloys_of(look: Look) -> tuple[tuple[str, str], ...]:
    """Every alloy of the folder, with what it is called."""
    return tuple((name, alloy.name) for name, alloy in look.costing.folder.stated.alloys.items())


def _prices(look: Look) -> tuple[tuple[str, str], ...]:
    """Which prices may go out: those in force first, then those of earlier editions, and what is asked now."""
    edition = look.going_out.edition
    if edition is None:
        return (("", "as asked now: nothing is published yet"),)
    earlier = reversed([number for number in numbers(look.costing.folder.root) if number != edition.number])
    return (
        ("", f"in force: edition {edition.number} of {edition.as_of}"),
        *((str(number), f"of edition {number}") for number in earlier),
        ("asked", "as asked now"),
    )


def _workbook() -> tuple[ListField, ...]:
    def side(name: str) -> ListField:
        about = f"What changes {name} of the maps, and between which values."
        return ListField(
            Option(name, "words", about, f"{name.capitalize()} of the maps"), hint="metal_prices.Ag=30..60"
        )

    return (
        ListField(Option("sure", "switch", "Between which prices the policy asks, as sure as your figures are.",
                         "Tell how sure the prices are"), "tick"),
        side("across"), side("down"),
        ListField(Option("map", "words", "A sheet with a price and a margin against two figures.",
                         "A sheet of maps, one a line"), "lines", hint="thimble:sterling:shop"),
    )  # fmt: skip


def _quotation(look: Look, fields: _Common, channels: Sequence[tuple[str, str]]) -> tuple[ListField, ...]:
    return (
        ListField(Option("sku", "product", "What is quoted.", "Piece", required=True), "choice", goods_sold(look),
                  is_main=True),
        ListField(Option("quantities", "words", "For so many, each as one order; up to six.", "Quantities"),
                  usual=("10 25 50",), is_main=True),
        ListField(Option("customer", "words", "For whom.", "For whom"), is_main=True),
        fields.form,
        ListField(Option("channel", "channel", "By whose policy.", "As sold in"), "choice",
                  (("", "the first that sells it, trade before retail"), *channels)),
        ListField(Option("alloy", "alloy", "In which alloys; up to three side by side.",
                         "In, or all that are sold there", several=True), "ticks", alloys_of(look)),
        ListField(Option("reference", "words", "The customer's word or number for it.", "Their word for it")),
        ListField(Option("number", "words", "Your number for it.", "Your number for it"), hint="by the day and minute"),
        fields.valid_until,
        ListField(Option("delivery", "words", "When it is ready.", "Ready"), hint="six weeks from your order"),
        ListField(Option("metal", "words", "Metal that the customer brings, credited as scrap.",
                         "Metal that the customer brings, credited as scrap"), hint="20:9ct, or 20:gold-9ct"),
        ListField(Option("discounts", "switch", "Off the price in force by the discounts that keep its margin.",
                         "By the discounts that keep its margin; leave the quantities empty for theirs"), "tick"),
        ListField(Option("charge_design", "switch", "Charge the design to the order.",
                         "Charge the design to the order"), "tick"),
        fields.locale, fields.paper, fields.pictures,
        ListField(Option("extras", "words", "Lines on top, once for the order; they stand after the prices.",
                         "Extras after the prices, one a line"), "lines", hint="sizing = 15"),
    )  # fmt: skip


def _tags(fields: _Common, channels: Sequence[tuple[str, str]], retail: Sequence[str]) -> tuple[ListField, ...]:
    def size(name: str, about: str, label: str, usual: str = "") -> ListField:
        return ListField(Option(name, "number", about, label), "figure", usual=(usual,), unit="mm")

    return (
        ListField(Option("kind", "words", "Which tags.", "Kind"), "choice",
                  (("swing", "swing tags, on a string"), ("ring", "ring tags"),
                   ("card", "stall cards, for your own pocket")), is_main=True),
        ListField(Option("channel", "channel", "Whose prices.", "Sold in"), "choice",
                  (("", "the first retail channel"), *channels), (retail[0] if retail else "",), is_main=True),
        fields.prices, *fields.goods,
        ListField(Option("copies", "count", "So many of each tag.", "Of each", default=1), "figure", usual=("1",)),
        ListField(Option("skip", "count", "Places already used on the first sheet.", "Places used already", default=0),
                  "figure", usual=("0",)),
        ListField(Option("sheet", "words", "Sheet, by name or in mm.", "Sheet"), hint="A4, Letter or 210x297"),
        size("width", "Width of one.", "Width of one"), size("height", "Height of one.", "Height of one"),
        size("margin", "At least so much free around the sheet.", "Free around the sheet", "8"),
        size("gap", "Between one and the next.", "Between one and the next", "3"),
        ListField(Option("friendly", "number", "Cards: what a friend gets off.", "Stall cards: a friend gets off"),
                  "figure", hint="0.05 is 5 %", unit="fraction"),
        ListField(Option("hour", "number", "Cards: what an hour must bring when you walk away.",
                         "Stall cards: an hour must bring"), "figure", hint="as your policy asks, else your pay"),
        fields.locale,
    )  # fmt: skip


def _cards(look: Look, fields: _Common) -> tuple[ListField, ...]:
    return (
        ListField(Option("kind", "words", "A page for each pour, or a card for each order of it.", "Kind"), "choice",
                  (("pour", "a page for each pour"), ("order", "a card for each order of the list")), is_main=True),
        ListField(Option("want", "words", "What is wanted.", "Wanted, one a line"), "lines",
                  hint="thimble:sterling=12", is_main=True),
        fields.form,
        ListField(Option("wants", "file", "What is wanted, as a CSV with the columns sku, alloy, size, quantity.",
                         "Or a list of wants"), "file", hint="a CSV: sku, alloy, size, quantity"),
        ListField(Option("for_list", "file", "A list of orders, as a CSV.", "A list of orders"), "file",
                  hint="a CSV: sku, quantity, and order, for, due, note …"),
        ListField(Option("sure", "words", "How sure it is that enough come out good.", "Enough with a chance of"),
                  "choice", CHANCES),
        ListField(Option("mix", "alloy", "Alloys whose fresh metal is told by element, to mix it.",
                         "Tell by element, to mix it", several=True), "ticks", alloys_of(look)),
        fields.locale, fields.paper,
    )  # fmt: skip
