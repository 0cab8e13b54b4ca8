"""Records as one plain sheet of a workbook: a head, figures aligned, ready to be filtered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

#: Columns are not made wider than this, in signs.
WIDEST = 40


def write_records(
    path: Path, title: str, records: Sequence[Mapping[str, Any]], money_digits: int, force: bool = False
) -> None:
    """Write records, one a row, to a new workbook; None is an empty cell, text stays text.

    Names that speak of a margin are shown as percent, all other figures with the currency's digits; the cells hold
    them in full. Raises UsageFault where the file stands already, unless `force`.
    """
    import xlsxwriter

    from pricing.safe_files import placed

    names = list(dict.fromkeys(name for record in records for name in record))
    with placed(path, force) as beside:
        book = xlsxwriter.Workbook(
            beside, {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
        )
        sheet = book.add_worksheet(title)
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "bottom"})
        money = book.add_format({"num_format": f"#,##0.{'0' * money_digits}".rstrip(".")})
        share = book.add_format({"num_format": "0.0%"})
        for place, name in enumerate(names):
            sheet.write_string(0, place, name, head)
            widest = len(name) // 2
            for row, record in enumerate(records, 1):
                value = record.get(name)
                if isinstance(value, (int, float)) and not isinstance(value, bool):
                    sheet.write_number(row, place, value, share if name.startswith("margin") else money)
                elif value is not None:
                    sheet.write_string(row, place, str(value))
                    widest = max(widest, len(str(value)))
            sheet.set_column(place, place, min(max(widest + 2, 9), WIDEST))
        sheet.freeze_panes(1, 3)
        sheet.autofilter(0, 0, max(len(records), 1), max(len(names) - 1, 0))
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(0)
        book.close()
