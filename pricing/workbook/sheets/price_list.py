"""The sheet Price list: ready to print, the prices in force, and by one cell what is asked, live from Prices."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from pricing.model.given import word_of
from pricing.shown import Shown
from pricing.units import GRAMS_PER
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.free_rows import CellPut, FreeSheet, Live
from pricing.workbook.sheets.metal_basis import basis
from pricing.workbook.sheets.printing import ALLOWED, on_paper
from pricing.workbook.sheets.ready_cells import letter
from pricing.workbook.sheets.widths import HEAD_SIZE, figures_width, height_of, lines_of, text_width

if TYPE_CHECKING:
    from pricing.model.rows import ChannelRow

#: Least and greatest widths of the columns before the channels: product, alloy, mark, mass; longer names are wrapped.
WIDTHS = ((30, 48), (16, 30), (8, 14), (11, 14))
FIRST_CHANNEL = len(WIDTHS)
MASS_PLACE = FIRST_CHANNEL - 1
#: The same of a channel's prices, whose name is wrapped; where a number takes more, it gets it.
CHANNEL_WIDTH = (13, 20)
#: Size of the type of what is listed.
SIZE = 11
HEAD_ROW = 5
SHEET = "Price list"
#: The heads of names, and what the head of the mass begins with.
HEADS, MASS_HEAD = ("product", "alloy", "mark"), "about"
#: Where a channel's position stands, above its prices, hidden; and a variant's first price, right of them.
POSITION_ROW = 3
#: Where a reader says which prices are shown, and what may stand there.
CHOICE_ROW, CHOICE_CELL = 4, "$B$4"
IN_FORCE, ASKED = "in force", "asked now"
#: Three significant digits, as customers weigh a piece.
THREE_DIGITS = "[<9.995]0.00;[<99.95]0.0;#,##0"
#: A price that is not published.
NONE_PUBLISHED = "—"
#: A list of products that belong to no collection.
NO_COLLECTION = "More"


def write_price_list(book: Book) -> None:
    """Write the sheet."""
    page, resolved = FreeSheet(book, SHEET), book.computed.resolved
    channels = resolved.channels
    end = FIRST_CHANNEL + len(channels)
    widths = _widths(book)
    _write_head(book, page, widths)
    sold, price, masses = book.values("sold"), book.values("price"), book.values("total_g")
    number = HEAD_ROW + 3
    for collection, rows in _by_collection(book):
        page.row(number, [CellPut(collection, ("group",)), *[CellPut(None, ("group",))] * (end - 1)], 22)
        number += 1
        for row in rows:
            mine = slice(row * len(channels), (row + 1) * len(channels))
            asked = [float(each) if there else "" for there, each in zip(sold[mine], price[mine], strict=True)]
            names = _names(book, row)
            lines = max(lines_of(name, width, SIZE) for name, width in zip(names, widths, strict=False))
            line = _line(book, number, row, masses[row], asked, _published(book, row))
            page.row(number, line, height_of(lines, SIZE))
            number += 1
        number += 1
    for note in _notes(book):
        page.row(number, [CellPut(note, ("lead",))])
        number += 1
    for place, width in enumerate(widths):
        page.sheet.set_column(place, place, width)
    page.sheet.set_column(end, end + len(channels), 8, None, {"hidden": True})
    page.sheet.freeze_panes(HEAD_ROW + 2, 1)
    page.sheet.repeat_rows(HEAD_ROW - 1, HEAD_ROW + 1)
    on_paper(book, page.sheet, landscape=len(channels) > 3)
    page.sheet.print_area(0, 0, number - 2, end - 1)
    page.sheet.protect(options=dict(ALLOWED))


def _names(book: Book, row: int) -> tuple[str, str, str]:
    """Product, alloy and mark of a variant, as they are listed."""
    variant = book.computed.resolved.variants[row]
    stated = book.words.stated.alloys[variant.alloy]
    return book.words.product_name(variant.sku), stated.name, stated.mark or ""


def _widths(book: Book) -> list[float]:
    """The widths of all columns that are printed, by what stands in them."""
    rows = range(len(book.computed.resolved.variants))
    listed = list(zip(*[_names(book, row) for row in rows], strict=True)) or [(), (), ()]
    found: list[float] = []
    for (least, most), names in zip(WIDTHS, [*listed, ()], strict=True):
        longest = max((text_width(name, SIZE) for name in names), default=0)
        found.append(min(max(least, longest), most))
    least, most = CHANNEL_WIDTH
    for place, channel in enumerate(book.computed.resolved.channels):
        prices = [float(each["price"][row, place]) for each in (book.computed, book.out.computed) for row in rows]
        figures = figures_width(prices, book.styles.money(currency=channel.currency), SIZE, bold=True)
        longest_word = max((text_width(word, HEAD_SIZE, bold=True) for word in channel.name.split()), default=0)
        found.append(max(least, figures, min(longest_word, most)))
    return found


def _write_head(book: Book, page: FreeSheet, widths: Sequence[float]) -> None:
    resolved = book.computed.resolved
    channels = resolved.channels
    workshop = book.costing.folder.stated.workshop
    unit = workshop.show.mass
    before = [None] * FIRST_CHANNEL
    positions = [CellPut(place, ("hidden",)) for place, _ in enumerate(channels)]
    heads = [*((head, "head_left") for head in HEADS), (f"{MASS_HEAD}, {unit}", "head")]
    page.row(1, [CellPut(workshop.name, ("title",))], 30)
    edition = book.out.edition
    asked = "as asked" if book.out.is_wanted else "not published yet"
    said = f"edition {edition.number} of {edition.as_of}" if edition else f"{resolved.as_of}, {asked}"
    currencies = ", ".join(dict.fromkeys((resolved.currency, *(channel.currency for channel in channels))))
    page.row(2, [CellPut(f"Prices in {currencies}, {said}", ("lead",))])
    page.sheet.set_row(POSITION_ROW - 1, None, None, {"hidden": True})
    page.row(POSITION_ROW, [*before[1:], CellPut(GRAMS_PER[unit], ("hidden",)), *positions])
    if edition:
        page.row(CHOICE_ROW, [CellPut("shown are the prices", ("unit_left",)), CellPut(IN_FORCE, ("input",))])
        page.sheet.data_validation(CHOICE_CELL.replace("$", ""), {"validate": "list", "source": [IN_FORCE, ASKED]})
    lines = max(
        (lines_of(each.name, width, HEAD_SIZE, bold=True)
         for each, width in zip(channels, widths[FIRST_CHANNEL:], strict=True)),
        default=1,
    )  # fmt: skip
    page.row(
        HEAD_ROW,
        [
            *[CellPut(head, (kind,)) for head, kind in heads],
            *[CellPut(each.name, ("head", "folded")) for each in channels],
        ],
        height_of(lines, HEAD_SIZE),
    )
    page.row(HEAD_ROW + 1, [*before, *[CellPut(_audience(book, channel), ("unit",)) for channel in channels]])
    page.row(
        HEAD_ROW + 2, [*before, *[CellPut(_taxed(place, channel), ("unit",)) for place, channel in enumerate(channels)]]
    )


def _audience(book: Book, channel: ChannelRow) -> str:
    """Whom a channel sells to, and in which currency where there are several."""
    audience = word_of(channel, "audience")
    return f"{audience}, {channel.currency}" if book.is_abroad else audience


def _taxed(place: int, channel: ChannelRow) -> Live:
    at = f"{letter(FIRST_CHANNEL + place)}${POSITION_ROW}+1"
    words = ("no sales tax", "tax included", "plus tax")
    formula = f'IF(INDEX(tax_rate,{at})=0,"{words[0]}",IF(INDEX(tax_included,{at}),"{words[1]}","{words[2]}"))'
    return Live(formula, words[0] if channel.tax_rate == 0 else words[1] if channel.tax_included else words[2])


def _by_collection(book: Book) -> Iterator[tuple[str, list[int]]]:
    """Variants by collection, in the order in which collections and variants come; the others at the end."""
    found: dict[str, list[int]] = {}
    for row, variant in enumerate(book.computed.resolved.variants):
        found.setdefault(book.words.products[variant.sku].collection or "", []).append(row)
    rest = found.pop("", [])
    yield from found.items()
    if rest:
        yield NO_COLLECTION if found else "Products", rest


def _published(book: Book, row: int) -> list[float | str]:
    """The published prices of a variant by channel; a dash where there is none, and nothing without an edition."""
    if book.out.edition is None:
        return []
    computed = book.out.computed
    return [
        float(price) if there else NONE_PUBLISHED
        for there, price in zip(computed.sold_places[row], computed["price"][row], strict=True)
    ]


def _line(
    book: Book, number: int, row: int, mass: float, prices: list[float | str], published: list[float | str]
) -> list[CellPut]:
    """One variant: `mass` in gram, `prices` as they are asked, empty where it is not sold, and the `published` ones."""
    channels = len(prices)
    first = f"${letter(FIRST_CHANNEL + channels)}{number}"
    unit = book.costing.folder.stated.workshop.show.mass
    mass_formula = f"INDEX(total_g,{first}/{channels}+1)/{letter(MASS_PLACE)}${POSITION_ROW}"
    cells = [
        *[CellPut(name, ("listed", "folded")) for name in _names(book, row)],
        CellPut(Live(mass_formula, mass / GRAMS_PER[unit]), ("listed",), THREE_DIGITS),
    ]
    for place, shown in enumerate(prices):
        at = f"{first}+{letter(FIRST_CHANNEL + place)}${POSITION_ROW}+1"
        price = f"INDEX(price,{at})"
        if published:
            kept = f"${letter(FIRST_CHANNEL + channels + 1 + place)}{number}"
            price = f'IF({CHOICE_CELL}="{ASKED}",{price},{kept})'
            shown = shown if shown == "" else published[place]
        formula = f'IF(INDEX(sold,{at})=1,{price},"")'
        numbers = book.styles.money(currency=book.computed.resolved.channels[place].currency)
        cells.append(CellPut(Live(formula, shown), ("listed_price",), numbers))
    return [*cells, CellPut(row * channels, ("hidden",)), *[CellPut(each, ("hidden",)) for each in published]]


def _notes(book: Book) -> Iterator[str | Live]:
    """What a buyer should know: least orders, terms, the metal that prices stand on."""
    stated = book.costing.folder.stated
    for name, channel in stated.channels.items():
        said = []
        if channel.minimum_order is not None:
            shown = Shown(channel.currency or stated.workshop.currency, stated.workshop.show)
            said.append(f"minimum order {shown.money(channel.minimum_order)} {shown.currency}")
        if channel.terms:
            said.append(channel.terms)
        if said:
            yield f"{name}: {'; '.join(said)}"
    yield "Masses are of the whole piece or set, with its findings. Prices were made with:"
    for formula, now in basis(book):
        yield Live(formula, now)
