"""Which number a maker may have meant who wrote one as no file of numbers takes it.

A mend that is off by a factor costs money, so that a number is proposed only where nothing but currency signs,
currency codes and blanks stands around it, and where its commas and points can be read in one way, or in two that are
both told.
"""

from __future__ import annotations

import re
import unicodedata

from pricing.model.currency import currencies

MINUS_SIGNS = "\N{MINUS SIGN}\N{EN DASH}\N{FIGURE DASH}\N{NON-BREAKING HYPHEN}"

_CODE = re.compile(r"(?<![A-Za-z])[A-Za-z]{3}(?![A-Za-z])")
_PLAIN = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_BEGUN = re.compile(r"[.,](\d+)", re.ASCII)
_ENDED = re.compile(r"(\d+)[.,]", re.ASCII)
#: One comma before three digits: thousands to some, a decimal comma to others. No thousands begin with 0.
_EITHER = re.compile(r"[1-9]\d{0,2},\d{3}", re.ASCII)
_GROUPED = re.compile(r"\d{1,3}(?:(?:,\d{3})+\.\d+|(?:,\d{3}){2,})", re.ASCII)
_GROUPED_BY_POINTS = re.compile(r"\d{1,3}(?:(?:\.\d{3})+,\d+|(?:\.\d{3}){2,})", re.ASCII)
_GROUPED_BY_BLANKS = re.compile(r"\d{1,3}(?:[ '_\N{RIGHT SINGLE QUOTATION MARK}]\d{3})+(?:[.,]\d+)?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"\d+,\d+", re.ASCII)


def readings(text: str) -> tuple[str, ...]:
    """The numbers that this text may mean, with digits and a point only: none, one, or two where nobody can say.

    `"1.234,56 €"` is 1234.56; `"1,799"` is 1799 or, where the comma is a decimal one, 1.799, in this order.
    """
    bare = _bare(text)
    sign = "-" if bare.startswith("-") else ""
    digits = bare[1:].lstrip() if bare.startswith(("+", "-")) else bare
    return tuple(sign + re.sub(r"^0+(?=\d)", "", number) for number in _unsigned(digits))


def proposed(found: tuple[str, ...]) -> str:
    """One or two readings as the end of a mend, without a full stop."""
    return found[0] if len(found) == 1 else f"{found[0]}, or {found[1]} if the comma is a decimal one"


def as_fraction(text: str) -> str | None:
    """A percentage as the fraction that it is, where it can be read in one way."""
    found = readings(text.strip().removesuffix("%"))
    return f"{float(found[0]) / 100:.6g}" if len(found) == 1 else None


def _bare(text: str) -> str:
    """The text without currency signs and codes, with plain blanks and a plain minus sign."""
    bare = "".join(
        " " if letter.isspace() or unicodedata.category(letter) == "Sc" else "-" if letter in MINUS_SIGNS else letter
        for letter in text
    )
    return _CODE.sub(lambda code: " " if code[0].upper() in currencies() else code[0], bare).strip()


def _unsigned(digits: str) -> tuple[str, ...]:
    if _PLAIN.fullmatch(digits):
        return (digits,)
    if match := _BEGUN.fullmatch(digits):
        return (f"0.{match[1]}",)
    if match := _ENDED.fullmatch(digits):
        return (match[1],)
    if _EITHER.fullmatch(digits):
        return digits.replace(",", ""), digits.replace(",", ".")
    if _GROUPED.fullmatch(digits):
        return (digits.replace(",", ""),)
    if _GROUPED_BY_POINTS.fullmatch(digits):
        return (digits.replace(".", "").replace(",", "."),)
    if _GROUPED_BY_BLANKS.fullmatch(digits):
        return (re.sub(r"[^\d.]", "", digits.replace(",", ".")),)
    return (digits.replace(",", "."),) if _DECIMAL_COMMA.fullmatch(digits) else ()
