"""What `troytag stock` shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from types import MappingProxyType
from typing import TypeVar

from pricing.cli.screens import screen
from pricing.drawer.model import KeptEntry
from pricing.drawer.state import Drawer, Move
from pricing.drawer.worth import Lying, total
from pricing.errors import Faults, UsageFault
from pricing.shown import Shown

EXAMPLE = "troytag stock {folder} add bought sterling 100 --paid 85"
#: Under which options fields are typed that have another name.
OPTIONS = MappingProxyType({"money": "--paid", "currency": "--currency", "form": "--form", "corrects": "--corrects"})
Made = TypeVar("Made")


def understood(read: Callable[[], Made], options: Mapping[str, str] = OPTIONS) -> Made:
    """What was typed; UsageFault for what cannot be understood, which names the options."""
    try:
        return read()
    except Faults as wrong:
        told = (f"{options.get(each.key, each.key)}: {each.problem}. {each.mend}" for each in wrong.faults)
        raise UsageFault("\n".join(told)) from None


def drawer(found: Sequence[Lying], shown: Shown, on: date) -> None:
    """What lies there, a line for each alloy and form, and what all of it is worth."""
    rows: list[tuple[str, ...]] = [
        (
            each.alloy,
            each.form,
            shown.mass(each.held.grams, unit=False),
            per_g(each.held.average),
            shown.money(each.held.cost_paid),
            per_g(each.today_per_g),
            shown.money(each.today),
        )
        for each in found
    ]
    paid, today = total([each.held.cost_paid for each in found]), total([each.today for each in found])
    rows.append(("in all", "", "", "", shown.money(paid), "", shown.money(today)))
    heads = ("alloy", "form", shown.show.mass, "paid a g", "cost paid", "today a g", "today")
    console = screen.out()
    console.print(f"The drawer on {on}, amounts in {shown.currency}", style="bold")
    console.print()
    console.print(screen.table(heads, rows, left=2, strong=[len(rows) - 1]))
    short = [each for each in found if each.held.grams < 0]
    hints = [
        f"{each.form} {each.alloy}: {shown.mass(-each.held.grams)} more were taken than were ever weighed in. Count "
        f"what lies there: add counted {each.alloy} GRAMS --form {each.form}"
        for each in short
    ]
    if any(each.held.grams > 0 and each.held.average is None for each in found):
        hints.append("What some of it had cost is not known; where it can be found, say it: add counted … --paid …")
    screen.advise(hints)


def per_g(amount: float | None) -> str:
    """An amount for a gram: four digits behind the point, since a gram of brass costs a penny."""
    return "–" if amount is None else f"{amount:,.4f}"


def ahead(whole: Drawer, drawer: Drawer) -> str:
    """What to tell of entries of the `whole` drawer that are of later days than this one; "" where there are none."""
    later = len({move.entry.number for move in whole.moves}) - len({move.entry.number for move in drawer.moves})
    return f"{later} {'entry is' if later == 1 else 'entries are'} of a later day and not counted" if later else ""


def added(kept: KeptEntry, drawer: Drawer | None, shown: Shown, today: date) -> str:
    """What became of an entry, and what lies there now, or will once its day has come."""
    now = "now" if kept.day <= today else f"on {kept.day}"
    said = [f"Entry {kept.number} of {kept.day} is written down."]
    if drawer is not None:
        for move in (move for move in drawer.moves if move.entry.number == kept.number):
            if move.difference and move.before.grams:
                cost = "" if move.cost is None else f", {shown.money(move.cost, signed=True)} {shown.currency}"
                said.append(f"It differs by {shown.mass(move.difference, signed=True)}{cost}.")
        for alloy, form in dict.fromkeys((line.alloy, line.form) for line in kept.lines):
            held = drawer.of(alloy, form)
            average = "" if held.average is None else f", at {per_g(held.average)} {shown.currency} a gram"
            said.append(f"There are {shown.mass(held.grams)} of {form} {alloy} {now}{average}.")
    return " ".join(said)


def moves(found: Sequence[Move], shown: Shown) -> None:
    """A line for each line of every entry."""
    rows = [
        (
            f"{move.entry.number} {move.line.what}",
            move.entry.day.isoformat(),
            f"{move.line.form} {move.line.alloy}",
            shown.mass(move.moved_g, unit=False, signed=True),
            shown.mass(move.after.grams, unit=False),
            shown.money(move.cost_moved, signed=True),
            _remark(move),
        )
        for move in found
    ]
    heads = ("entry", "day", "metal", shown.show.mass, "then", "cost", "note")
    made = screen.table(heads, rows, left=3)
    made.columns[-1].justify, made.columns[-1].no_wrap = "left", False
    screen.out().print(made)


def _remark(move: Move) -> str:
    batch = f"batch {move.entry.batch}" if move.entry.batch else ""
    got = move.line.money if move.line.what == "sold" else None
    brought = "" if got is None else f"brought {got:,.2f} {move.entry.currency}"
    corrects = f"corrects {move.entry.corrects}" if move.entry.corrects else ""
    return ", ".join(filter(None, (batch, brought, corrects, move.entry.note)))
