"""A day as people write it."""

from __future__ import annotations

from datetime import date

from pricing.errors import UsageFault
from pricing.extremes import beyond


def day(text: str | None) -> date | None:
    """A day written as 2026-11-20; None for none. Raises UsageFault for what is no day."""
    if text is None:
        return None
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise UsageFault(f'"{text}" is no date. Write it as {date.today().isoformat()}.') from None
    if problem := beyond(found):
        raise UsageFault(f"{problem}. Write it as {date.today().isoformat()}.")
    return found
