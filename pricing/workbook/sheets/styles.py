"""How cells look: one calm hand, one accent for what may be changed, and number formats by unit and currency."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from xlsxwriter import Workbook
from xlsxwriter.format import Format

from pricing.model.currency import minor_unit_digits
from pricing.workbook.sheets.widths import CODE_SIZE, HEAD_SIZE

FONT = "Arial"  # every system has it, or one with the same widths
INK, FAINT, HAIRLINE, PAPER = "#22303C", "#6B7782", "#D5DBE0", "#F5F7F8"
#: The accent: what may be changed, and what the eye should find first.
ACCENT, ACCENT_PAPER, ACCENT_LINE = "#0B5F6B", "#E3F1F1", "#8FBCC0"
#: What is wrong or loses money: said in words too, never by colour alone.
ALARM, ALARM_PAPER = "#9C2A10", "#FBE6DF"

#: From here on a sum of money stands for "no limit".
NO_LIMIT = 10**11
#: The number format of what is not to be seen: a locked figure that has no effect.
UNSEEN = ";;;"

#: Properties by kind of cell; a kind may be made of several, the later wins.
KINDS: Mapping[str, Mapping[str, object]] = MappingProxyType(
    {
        "plain": {},
        "title": {"font_size": 18, "bold": True, "font_color": ACCENT},
        "lead": {"font_size": 11, "font_color": FAINT},
        "strong": {"bold": True},
        "band": {"bold": True, "font_size": 11, "font_color": ACCENT},
        "unit": {"font_color": FAINT, "italic": True, "align": "right", "font_size": 9},
        "unit_left": {"font_color": FAINT, "italic": True, "font_size": 9},
        "head": {"bold": True, "align": "right", "valign": "bottom", "bottom": 1, "bottom_color": INK, "font_size": 9},
        "head_left": {"bold": True, "valign": "bottom", "bottom": 1, "bottom_color": INK, "font_size": 9},
        "head_words": {"bold": True, "align": "right", "valign": "bottom", "font_size": HEAD_SIZE, "text_wrap": True},
        "code": {"bold": False, "font_size": CODE_SIZE, "font_color": FAINT},
        "input_head": {"font_color": ACCENT},
        "label": {"bottom": 4, "bottom_color": HAIRLINE, "shrink": True},
        "wrapped": {"text_wrap": True, "valign": "top", "bottom": 4, "bottom_color": HAIRLINE},
        "input": {
            "bg_color": ACCENT_PAPER,
            "font_color": ACCENT,
            "border": 1,
            "border_color": ACCENT_LINE,
            "locked": False,
        },
        "fixed": {"font_color": FAINT, "bottom": 4, "bottom_color": HAIRLINE},
        "computed": {"bottom": 4, "bottom_color": HAIRLINE},
        "result": {"bottom": 4, "bottom_color": HAIRLINE, "bold": True, "bg_color": PAPER},
        "after": {"bottom": 4, "bottom_color": HAIRLINE, "indent": 1, "align": "left"},
        "set_in": {"indent": 1, "align": "left"},
        "hidden": {"font_color": FAINT, "font_size": 8},
        "verdict": {
            "bold": True,
            "indent": 1,
            "align": "left",
            "font_color": ACCENT,
            "bottom": 4,
            "bottom_color": HAIRLINE,
        },
        "group": {"bold": True, "font_size": 12, "font_color": ACCENT, "bottom": 1, "bottom_color": ACCENT_LINE},
        "listed": {"font_size": 11, "valign": "top", "bottom": 4, "bottom_color": HAIRLINE},
        "listed_price": {"font_size": 11, "valign": "top", "bottom": 4, "bottom_color": HAIRLINE, "bold": True},
        "folded": {"text_wrap": True},
        "shut": {"locked": True},
        "centred": {"align": "center"},
        "link": {"font_color": ACCENT, "underline": 1},
    }
)


class Styles:
    """The styles of one workbook, each made when it is first asked for."""

    def __init__(self, book: Workbook, currency: str):
        self.book, self.currency = book, currency
        self.digits = minor_unit_digits(currency)
        self._made: dict[tuple[str, str], Format] = {}
        self._indices: dict[tuple[tuple[str, ...], str], int] = {}

    def format(self, *kinds: str, numbers: str = "General") -> Format:
        """The XlsxWriter format of some kinds of cell, the later adding to the earlier."""
        key = ("+".join(kinds), numbers)
        if key not in self._made:
            properties = {"font_name": FONT, "font_size": 10, "font_color": INK, "num_format": numbers}
            for kind in kinds:
                properties |= KINDS[kind]
            self._made[key] = self.book.add_format(properties)
        return self._made[key]

    def index(self, *kinds: str, numbers: str = "General") -> int:
        """The same as the number under which cells of the file name it."""
        key = kinds, numbers
        if key not in self._indices:
            self._indices[key] = int(self.format(*kinds, numbers=numbers)._get_xf_index())
        return self._indices[key]

    def alarm(self) -> Format:
        """What a conditional format puts on: a price below cost, a check that fails."""
        return self.book.add_format({"bg_color": ALARM_PAPER, "font_color": ALARM, "bold": True})

    def idle(self) -> Format:
        """What a conditional format puts on a row that does not count."""
        return self.book.add_format({"font_color": "#A5AEB6"})

    # -- numbers

    def money(self, more: int = 0, currency: str | None = None) -> str:
        """Money with the digits of a currency (the workshop's) and `more` of them."""
        digits = (self.digits if currency is None else minor_unit_digits(currency)) + more
        return f"#,##0.{'0' * digits}" if digits else "#,##0"

    def stated(self, unit: str, currency: str | None = None) -> str:
        """For an input: no digit that the maker typed is hidden (up to six), none is made up beyond the usual."""
        if unit == "switch":
            return "0"
        money = self.money(currency=currency)
        if unit in ("cur", "cur/h", "quoted") and "." in money:
            return f"{money}????"
        return {"cm3": "0.000", "cm2": "0.00"}.get(unit, "General")  # measured: digits that nobody typed

    def computed(self, unit: str, table: str = "", currency: str | None = None) -> str:
        """For a quantity, by its unit; where a fee may have no limit, that is said in words.

        `currency` is that of the row, where it may be another than the workshop's.
        """
        if unit in ("cur", "quoted") and table in ("fee", "price_fee"):
            return f'[>={NO_LIMIT}]"no limit";[<=-{NO_LIMIT}]"no limit";{self.money(currency=currency)}'
        if unit == "quoted":
            return self.money(currency=currency)
        if unit.startswith("cur"):
            return self.money({"cur": 0, "cur/h": 0, "cur/g": 3}.get(unit, 3))
        return {
            "g": "#,##0.00", "h": "0.000", "cm3": "0.000", "cm2": "0.00", "1": "0.000", "1/set": "0.000", "reason": "0",
        }.get(unit, "General")  # fmt: skip

    def unit(self, unit: str, is_share: bool = False) -> str:
        """A unit as the units row says it."""
        named = {
            "1": "fraction" if is_share else "number",
            "switch": "0 or 1",
            "1/set": "per set",
            "reason": "code",
            "quoted": "as quoted",
        }
        words = named.get(unit, unit.replace("pack_unit", "pack unit").replace("/quoted", " for 1"))
        return words.replace("cur", self.currency, 1) if unit.startswith("cur") else words
