"""The card of a pour: one page for each, read at arm's length, filled in with wet gloves."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from pricing.costing import Costing
from pricing.lists.number_habits import Habit
from pricing.lists.rendering import Paper
from pricing.pouring.cautions import DEFERS, cautions_for
from pricing.pouring.figures import Flask, Plan
from pricing.pouring.mixing import charge_for_tree
from pricing.shown import NOTHING, Shown, hours, shown_of

#: Density that the trade's rule takes for wax, in g/cm3.
RULE_OF_WAX = 1.0

#: The unit in which metal is filled in, whatever the workshop shows: the log takes it so where no unit is written.
WEIGHED_IN = "g"
#: What is filled in after the metal weighed in, which has its own blanks: all that the log asks for, in its unit.
_BLANKS = (
    f"button and sprues back, {WEIGHED_IN}",
    f"good castings, as cast, {WEIGHED_IN}",
    f"spoiled castings, {WEIGHED_IN}",
    f"filings swept up, {WEIGHED_IN}",
    "spoiled, at which step",
    "minutes of each step",
)


def pour_card(
    costing: Costing, plan: Plan, habit: Habit, mixed: Collection[str] = (), paper: str | None = None
) -> Paper:
    """The cards of all pours of a plan; of the `mixed` alloys the fresh metal is told by element too."""
    stated = costing.folder.stated
    document = {
        "title": "Pour card",
        "workshop": stated.workshop.name,
        "date": costing.computed.resolved.as_of.isoformat(),
        "paper": paper or habit.paper,
        "pours": [_pour(costing, plan, flask, mixed, shown_of(stated)) for flask in plan.flasks],
        "filled_in": WEIGHED_IN,
        "defers": DEFERS,
    }
    return Paper("pour_card", document, {})


def _pour(costing: Costing, plan: Plan, flask: Flask, mixed: Collection[str], shown: Shown) -> dict[str, Any]:
    stated = costing.folder.stated
    alloy = stated.alloys[flask.alloy]
    load = next((load for load in plan.loads if load.number == flask.load), None)
    variants = [costing.computed.resolved.all_variants[each.design.place] for each in flask.holds]
    words = [
        word
        for row in variants
        for step in row.steps
        for word in (step.name, *(use.material or "" for use in step.uses))
    ]
    weighed = [("fresh" if plan.has_drawer else "fresh, at least", shown.mass(flask.fresh_g))]
    weighed.append(("returned" if plan.has_drawer else "returned, at most", shown.mass(flask.returned_g)))
    mould = []
    if flask.powder_g is not None and flask.water_g is not None:
        mould = [("powder", f"{flask.powder_g:,.0f} g"), ("water", f"{flask.water_g:,.0f} g")]
    heat = [
        (f"{load.step}, {load.machine}", hours(load.minutes / 60)) if load else None,
        ("flask at", shown.temperature(flask.flask_c)) if load else None,
        ("pour at", shown.temperature(flask.pour_c)),
    ]
    return {
        "number": str(flask.number),
        "of": str(len(plan.flasks)),
        "alloy": alloy.name,
        "mark": alloy.mark or "",
        "flask": flask.flask or "no flask",
        "load": f"load {load.number}, with {_others(load.flasks, flask.number)}" if load else "",
        "charge": shown.mass(flask.charge_g),
        "weighed": [list(row) for row in weighed],
        "elements": [[element, shown.mass(grams)] for element, grams in flask.elements.items()]
        if flask.alloy in mixed
        else [],
        "mould": [list(row) for row in mould],
        "heat": [list(row) for row in heat if row and row[1] != NOTHING],
        "holds": [
            {
                "count": f"{each.castings:,}",
                "name": each.design.titled,
                "missing": shown.mass(each.missing_g),
            }
            for each in flask.holds
        ],
        "parts": [
            ["castings", shown.mass(flask.castings_g)],
            ["sprues and button", shown.mass(flask.sprue_g + flask.button_g)],
            ["melt loss", shown.mass(flask.melt_lost_g)],
            *([["crucible holds", shown.mass(flask.room_g)]] if flask.room_g else []),
        ],
        "rule": _rule(costing, flask, shown) if flask.flask else "",
        "blanks": list(_BLANKS),
        "cautions": [
            {"head": each.head, "text": each.text, "source": each.source}
            for each in cautions_for(alloy, load is not None, words)
        ],
    }


def _others(flasks: tuple[int, ...], own: int) -> str:
    others = [str(number) for number in flasks if number != own]
    return f"{'pour' if len(others) == 1 else 'pours'} {', '.join(others)}" if others else "no other"


def _rule(costing: Costing, flask: Flask, shown: Shown) -> str:
    """The way by the scale: what one gram of a sprued tree in wax takes, and what the button takes."""
    alloy = costing.folder.stated.alloys[flask.alloy]
    per_gram = charge_for_tree(1.0, RULE_OF_WAX, alloy)
    button = charge_for_tree(0.0, RULE_OF_WAX, alloy, flask.button_g / alloy.density)
    plus = f" + {shown.mass(button)} for the button" if flask.button_g else ""
    return f"or weigh the sprued tree: its weight × {per_gram:.2f} / density of the wax or resin{plus}"
