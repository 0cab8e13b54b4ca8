"""The sheet Read me: what this is, as of when, on which metal, how to use it, whether all is well."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pricing.shown import metal_named, metal_of
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.chart import put_cost_chart
from pricing.workbook.sheets.checks import OK, WRONG, verdict_address
from pricing.workbook.sheets.free_rows import CellPut, FreeSheet, Live
from pricing.workbook.sheets.labels import metal_unit
from pricing.workbook.sheets.plan import of_little_use
from pricing.workbook.sheets.printing import ALLOWED, on_paper
from pricing.workbook.sheets.ready_cells import letter

HOW_TO_USE = (
    "On Inputs, Parts, Steps, Channels and Prices, type over a figure on a tinted ground. Everything follows at once.",
    "What a figure means shows when you stand on it, and when you point at the name above it. Words has them all.",
    "An empty tinted cell means that nothing is stated there; the line beside it says what is taken then.",
    "A step that many products share stands once for each: filter Steps by its name, change one, copy it down.",
    "Sheets are protected, without a password, so that no formula is typed over by accident.",
    "Price list is ready to print. Checks must say OK; after a change it says that inputs were changed.",
)
KEEPING = (
    "The workshop folder stays the source: this workbook does not change it. To keep what you changed here, save it "
    "and type: troytag import FILE --into FOLDER. It shows what would change, and writes it with --write."
)
CAUTIONS = (
    "A price is as good as the minutes, losses and fees behind it: check these first.",
    "Metal moves: look at the day above before you promise a price for long.",
    "Marks, tax and what may be called silver or gold are matters of the law where you sell.",
)
LEGEND = (
    ("input", "38.40", "you may change it"),
    ("fixed", "piece", "follows from a word in the folder or another row, or has no effect there: locked"),
    ("computed", "1.23", "computed, a live formula"),
    ("result", "4.56", "computed, and what one looks for"),
)
SHEETS = (
    ("Inputs", "metal prices, exchange rates, hours, alloys, machines, materials, flasks"),
    ("Parts", "each product in each alloy: castings, findings, materials used"),
    ("Steps", "every step: minutes, machines, what comes out good, what is lost"),
    ("Costs", "what a set costs, and where its metal goes"),
    ("Channels", "where it is sold: tax, orders, fees, rounding"),
    ("Prices", "what to ask, and what it brings"),
    ("Price list", "to print"),
    ("Checks", "whether all of it agrees"),
    ("Words", "what every name means"),
)
WIDTHS = (20, 16, 16, 13, 36)
CHART_COLUMN = len(WIDTHS) + 1


def write_read_me(book: Book, also: Sequence[tuple[str, str]] = ()) -> None:
    """Write the sheet; `also` are sheets besides the usual ones, each with what it is for."""
    page, resolved = FreeSheet(book, "Read me"), book.computed.resolved
    workshop = book.costing.folder.stated.workshop
    asked = book.costing.asked
    run = "" if asked.run is None else f", for a run of {asked.run:g} sets"
    page.row(1, [CellPut(workshop.name, ("title",))], 30)
    page.row(2, [CellPut(f"Costs and prices in {resolved.currency}, {metal_of(resolved)}{run}", ("lead",))])
    page.row(4, [CellPut("All checks", ("strong",)), CellPut(Live(verdict_address(), OK), ("verdict",))])
    page.sheet.conditional_format(
        "B4", {"type": "text", "criteria": "begins with", "value": WRONG, "format": book.styles.alarm()}
    )
    number = _metals(book, page, 6)
    number = _paragraphs(page, number, "How to use it", HOW_TO_USE)
    number = _paragraphs(page, number, "What you change here", (of_little_use(book.plan.cells) or KEEPING,))
    number = _paragraphs(page, number, "Before you rely on it", CAUTIONS)
    number = _legend(page, number)
    number = _sheets(book, page, number, (*SHEETS, *also))
    for place, width in enumerate(WIDTHS):
        page.sheet.set_column(place, place, width)
    page.sheet.set_column(len(WIDTHS), len(WIDTHS), 3)
    put_cost_chart(book, "Read me", f"{letter(CHART_COLUMN)}2")
    on_paper(book, page.sheet)
    page.sheet.protect(options=dict(ALLOWED))


def _metals(book: Book, page: FreeSheet, number: int) -> int:
    """The metals that prices stand on, live."""
    metals = book.computed.resolved.metals
    if not metals:
        return number
    block = book.plan.block("Inputs", "metal")
    places = {(item.kind, item.name): letter(place) for place, item in block.shown_items}
    page.row(number, [CellPut("Metal prices", ("band",)), None, None, None])
    heads = (
        ("metal", ("head_left",)),
        ("price", ("head",)),
        ("quoted in", ("head_left", "set_in")),
        ("quoted on", ("head_left",)),
    )
    page.row(number + 1, [CellPut(head, kinds) for head, kinds in heads])
    for at, metal in enumerate(metals, number + 2):
        row = block.first_row + at - number - 2
        price, was = (f"Inputs!${places[kind, 'quote_price']}${row}" for kind in ("input", "was"))
        quoted_on = str(metal.quoted_on or "")
        live_day = Live(f'IF({price}={was},Inputs!${places["after", "quoted on"]}${row},"typed here")', quoted_on)
        page.row(
            at,
            [
                CellPut(metal_named(metal.name), ("label",)),
                CellPut(Live(price, float(metal.quote_price)), ("result",), "#,##0.00????"),
                CellPut(metal_unit(metal), ("after",)),
                CellPut(live_day, ("label",)),
            ],
        )
    return number + 3 + len(metals)


def _paragraphs(page: FreeSheet, number: int, title: str, sentences: tuple[str, ...]) -> int:
    page.row(number, [CellPut(title, ("band",))])
    for sentence in sentences:
        for line in _folded(sentence):
            number += 1
            page.row(number, [CellPut(line)])
    return number + 2


def _folded(sentence: str) -> Iterator[str]:
    """A sentence in lines that fit the width of the text; the later ones set in."""
    from textwrap import wrap

    yield from wrap(sentence, 96, initial_indent="·  ", subsequent_indent="   ")


def _legend(page: FreeSheet, number: int) -> int:
    page.row(number, [CellPut("What cells look like", ("band",))])
    for row, (kind, example, meaning) in enumerate(LEGEND, number + 1):
        content = example if example.isalpha() else float(example)
        page.row(row, [CellPut(content, (kind, "centred", "shut"), "0.00"), CellPut(meaning, ("set_in",))])
    return number + len(LEGEND) + 2


def _sheets(book: Book, page: FreeSheet, number: int, sheets: Sequence[tuple[str, str]]) -> int:
    page.row(number, [CellPut("Sheets", ("band",))])
    link = book.styles.format("link")
    for row, (name, what) in enumerate(sheets, number + 1):
        page.row(row, [None, CellPut(what)])
        page.sheet.write_url(row - 1, 0, f"internal:'{name}'!A1", link, name)
    return number + len(sheets) + 2
