"""The *Products* template: a sheet for makers who keep a spreadsheet, one row a product."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from pricing.folder.read import Folder
from pricing.folder.shapes import plain_shapes
from pricing.model.given import unit_of
from pricing.model.product import Casting, Product
from pricing.model.rows import CastingRow, VariantRow
from pricing.safe_files import placed

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.worksheet import Worksheet

SHEET, LISTS = "Products", "Lists"
#: Rows of the sheet, counted from 1: names of the columns, and where products begin.
HEAD_ROW, UNIT_ROW, FIRST_ROW = 4, 3, 5
#: So many rows are ready to be filled.
ROWS = 500
#: How wide a column is that has nothing long in it.
ORDINARY = 13
#: In a cell that takes several names they are parted by this.
COMMA = ","


@dataclass(frozen=True)
class TemplateColumn:
    """A column of the template: its name is the product's key, or that of its one casting.

    `kind` is text, number, whole or names (several, with commas); `listed` is what its names are chosen from.
    """

    name: str
    kind: str = "text"
    unit: str = ""
    of_casting: bool = False
    listed: str = ""
    width: int = ORDINARY

    @property
    def model(self) -> type[BaseModel]:
        return Casting if self.of_casting else Product

    @property
    def key(self) -> str:
        """The key in the file."""
        return "name" if self.name == "casting" else self.name

    @property
    def options(self) -> tuple[str, ...]:
        """The words that may stand there, where the model knows them all."""
        shape = plain_shapes(self.model)[self.key]
        return shape.options if shape.kind == "choice" else ()

    @property
    def meaning(self) -> str:
        return self.model.model_fields[self.key].description or ""


#: Which part of the folder the names of a key are chosen from.
CHOSEN_FROM: Mapping[str, str] = MappingProxyType(
    {
        "like": "products",
        "alloys": "alloys",
        "in_alloy": "alloys",
        "process": "processes",
        "flask": "flasks",
        "sold_in": "channels",
    }
)
#: Keys whose words are long, and how wide their columns are.
WIDTHS: Mapping[str, int] = MappingProxyType(
    {"sku": 18, "name": 28, "alloys": 26, "process": 18, "mesh": 24, "photo": 24, "sold_in": 22}
)


def _columns(model: type[BaseModel]) -> Iterator[TemplateColumn]:
    """A column for each key that holds one value; the parts of a set stand where the product has them."""
    shapes, of_casting = plain_shapes(model), model is Casting
    for key in model.model_fields:
        if key == "castings":
            yield from _columns(Casting)
        if key not in shapes:
            continue
        shape = shapes[key]
        name = "casting" if of_casting and key == "name" else key
        kind = "whole" if shape.is_whole else shape.kind if shape.kind in ("number", "names") else "text"
        listed = key if shape.kind == "choice" else CHOSEN_FROM.get(key, "")
        width = ORDINARY if name == "casting" else WIDTHS.get(key, ORDINARY)
        yield TemplateColumn(
            name, kind, unit_of(CastingRow if of_casting else VariantRow, key), of_casting, listed, width
        )


COLUMNS: tuple[TemplateColumn, ...] = tuple(_columns(Product))
HOW = (
    "One row a product: fill what you know, leave the rest empty. troytag import FILE --into FOLDER shows what becomes "
    "of it. Several names in a cell are parted by commas."
)
CASTING_HOW = (
    "The casting: its volume one way only, volume_cm3, mesh, model_g with model_density, or metal_g with in_alloy and "
    "weighed. Further castings and findings are added in the product's file."
)


def lists(folder: Folder) -> Mapping[str, Sequence[str]]:
    """What the names of the columns are chosen from, in the order of the columns."""
    stated = folder.stated
    named: dict[str, Sequence[str]] = {
        "products": tuple(stated.products),
        "alloys": tuple(stated.alloys),
        "processes": tuple(stated.processes),
        "flasks": tuple(stated.workshop.flasks),
        "channels": tuple(stated.channels),
    }
    return MappingProxyType(
        {column.listed: column.options or named[column.listed] for column in COLUMNS if column.listed}
    )


def write_template(folder: Folder, path: Path, force: bool = False) -> None:
    """Write the template for a folder, with the folder's own names to choose from, whole or not at all.

    Raises UsageFault where a file stands already and `force` is not given, TroytagError where it cannot be written.
    """
    from xlsxwriter import Workbook

    from pricing.workbook.sheets.styles import ACCENT, Styles

    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with placed(path, force) as beside:
        book = Workbook(beside, options)
        styles = Styles(book, folder.stated.workshop.currency)
        sheet, names = book.add_worksheet(SHEET), book.add_worksheet(LISTS)
        sheet.set_tab_color(ACCENT)
        sheet.set_row(0, 28)
        sheet.write(0, 0, SHEET, styles.format("title"))
        sheet.write(1, 0, HOW, styles.format("lead"))
        sheet.write(1, _place("casting"), CASTING_HOW, styles.format("lead"))
        sheet.freeze_panes(HEAD_ROW, 2)
        sources = _write_lists(names, styles, lists(folder))
        for place, column in enumerate(COLUMNS):
            _write_column(sheet, styles, place, column, lists(folder), sources)
        _for_paper(book, sheet)
        book.close()


def _place(name: str) -> int:
    return next(place for place, column in enumerate(COLUMNS) if column.name == name)


def _write_lists(sheet: Worksheet, styles: Any, found: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """The folder's names on a sheet of their own; gives the range of each list."""
    sources = {}
    for place, (name, words) in enumerate(found.items()):
        sheet.set_column(place, place, 22)
        sheet.write(0, place, name, styles.format("head_left"))
        for row, word in enumerate(words, 1):
            sheet.write(row, place, word, styles.format("label"))
        letter = chr(ord("A") + place)
        if words:
            sources[name] = f"={LISTS}!${letter}$2:${letter}${len(words) + 1}"
    sheet.freeze_panes(1, 0)
    return sources


def _write_column(
    sheet: Worksheet,
    styles: Any,
    place: int,
    column: TemplateColumn,
    found: Mapping[str, Sequence[str]],
    sources: Mapping[str, str],
) -> None:
    from pricing.workbook.sheets.validation import LONGEST_MESSAGE

    sheet.set_column(place, place, column.width, None)
    sheet.write(UNIT_ROW - 1, place, column.unit, styles.format("unit_left"))
    sheet.write(HEAD_ROW - 1, place, column.name, styles.format("head_left", "input_head"))
    blank = styles.format("input", numbers="@" if column.kind in ("text", "names") else "General")
    for row in range(FIRST_ROW - 1, FIRST_ROW - 1 + ROWS):
        sheet.write_blank(row, place, None, blank)
    said = column.meaning
    if column.kind == "names":
        said = f"{said} With commas between: {', '.join(found[column.listed])}."
    rule: dict[str, object] = {"validate": "any"}
    if column.listed and column.kind == "text" and column.listed in sources:
        rule = {"validate": "list", "source": sources[column.listed], "error_message": "Choose one from the list."}
    elif column.kind in ("number", "whole"):
        rule = {
            "validate": "decimal" if column.kind == "number" else "integer",
            "criteria": ">=",
            "value": 0,
            "error_message": "Type a number, without a unit; 12 % is 0.12.",
        }
    rule |= {"ignore_blank": True, "input_title": column.name, "input_message": said[:LONGEST_MESSAGE]}
    sheet.data_validation(FIRST_ROW - 1, place, FIRST_ROW + ROWS - 2, place, rule)
    sheet.write_comment(HEAD_ROW - 1, place, said, {"width": 260, "height": 80, "font_size": 9, "color": "#F5F7F8"})


def _for_paper(book: Workbook, sheet: Worksheet) -> None:
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(UNIT_ROW - 1, HEAD_ROW - 1)
    book.set_properties({"title": "Products", "comments": "Written by troytag."})
