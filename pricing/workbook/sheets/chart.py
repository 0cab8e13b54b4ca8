"""What each set's cost is made of: one bar a variant, one colour and one hatching a cost line."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from pricing.records import COST_LINES
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.checks import variant_names
from pricing.workbook.sheets.styles import FONT, INK

#: Colours that stay apart for most eyes (after Okabe and Ito, and a grey); a dark line sets off the pale ones.
COLOURS: Mapping[str, str] = MappingProxyType(
    {
        "metal_cost": "#0072B2", "labour_cost": "#D55E00", "overhead_cost": "#E69F00", "machine_cost": "#009E73",
        "material_cost": "#56B4E9", "fee_cost": "#CC79A7", "findings_cost": "#8A8F94",
    }
)  # fmt: skip
#: What tells the lines apart where colours do not, in print or for eyes that see few. Metal is plain.
HATCHINGS: Mapping[str, str] = MappingProxyType(
    {
        "labour_cost": "wide_upward_diagonal", "overhead_cost": "light_horizontal", "machine_cost": "small_grid",
        "material_cost": "wide_downward_diagonal", "fee_cost": "light_vertical", "findings_cost": "percent_25",
    }
)  # fmt: skip
#: More bars than this nobody reads.
MOST_BARS = 40
BAR_PIXELS, REST_PIXELS, WIDTH_PIXELS = 21, 130, 860


def put_cost_chart(book: Book, sheet_name: str, address: str) -> None:
    """Draw the costs of the first variants on a sheet, from a cell on."""
    costs = book.plan.block("Costs", "variant")
    listed = len(book.computed.resolved.variants)
    bars = min(listed, MOST_BARS)
    if not bars:
        return
    chart = book.workbook.add_chart({"type": "bar", "subtype": "stacked"})
    first, last = costs.first_row, costs.first_row + bars - 1
    categories = variant_names(book, bars)
    for name, word in COST_LINES.items():
        at = book.layout[name].letter
        chart.add_series(
            {
                "name": word,
                "categories": categories,
                "values": f"=Costs!${at}${first}:${at}${last}",
                "values_data": [float(value) for value in book.values(name)[:bars]],
                **_ground(name),
                "border": {"color": INK, "width": 0.5},
                "gap": 35,
            }
        )
    some = f", the first {bars} of {listed}" if listed > bars else ""
    font = {"name": FONT, "size": 9, "color": INK, "bold": False}
    currency = book.computed.resolved.currency
    chart.set_title(
        {"name": f"What a set costs, {currency}{some}", "name_font": {**font, "size": 13}, "overlay": False}
    )
    chart.set_legend({"position": "top", "font": font})
    chart.set_y_axis({"reverse": True, "num_font": font, "line": {"color": INK}})
    chart.set_x_axis(
        {"num_font": font, "num_format": "#,##0", "major_gridlines": {"visible": True, "line": {"color": "#D5DBE0"}}}
    )
    chart.set_chartarea({"border": {"none": True}})
    chart.set_size({"width": WIDTH_PIXELS, "height": REST_PIXELS + BAR_PIXELS * bars})
    book.sheet(sheet_name).insert_chart(
        address,
        chart,
        {
            "object_position": 3,
            "description": "Stacked bars: what each set's cost is made of; the figures stand on Costs",
        },
    )


def _ground(name: str) -> dict[str, object]:
    """How the bars of a cost line are filled."""
    if name not in HATCHINGS:
        return {"fill": {"color": COLOURS[name]}}
    return {"pattern": {"pattern": HATCHINGS[name], "fg_color": "#FFFFFF", "bg_color": COLOURS[name]}}
