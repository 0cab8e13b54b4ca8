"""A plan as plain records by name: what `--json` and `--csv` print. Masses are in gram, fractions 0 to 1."""

from __future__ import annotations

from typing import Any

from pricing.pouring.figures import Flask, Line, Plan
from pricing.records import number

FLASK_FIGURES = (
    "castings_g", "sprue_g", "button_g", "melt_lost_g", "charge_g", "returned_g", "fresh_g", "room_g", "tree_cm3",
    "powder_g", "water_g", "pour_c", "flask_c",
)  # fmt: skip


def plan_record(plan: Plan) -> dict[str, Any]:
    """The whole plan as one document."""
    return {
        "sure": plan.sure,
        "wants": [line_record(line) for line in plan.lines],
        "flasks": [flask_record(flask) for flask in plan.flasks],
        "loads": [
            {
                "load": load.number,
                "machine": load.machine,
                "step": load.step,
                "minutes": number(load.minutes),
                "flasks": list(load.flasks),
                "share": number(load.share),
                "kwh": number(load.kwh),
                "cost": number(load.cost),
            }
            for load in plan.loads
        ],
        "alloys": [
            {
                "alloy": total.alloy,
                "charge_g": number(total.charge_g),
                "returned_g": number(total.returned_g),
                "fresh_g": number(total.fresh_g),
                "to_buy_g": number(total.to_buy_g),
                "cost": number(total.cost),
            }
            for total in plan.alloys
        ],
        "not_poured": [
            {**line_record(each.line), "takes_metal": each.line.design.takes, "metal_g": number(each.metal_g)}
            for each in plan.taken
        ],
        "least_flasks": plan.least_flasks,
        "least_loads": plan.least_loads,
        "gap": plan.gap,
        "found_by": plan.by,
        "notes": list(plan.notes),
    }


def line_record(line: Line) -> dict[str, Any]:
    """One design in one alloy: what is wanted of it, and what to make."""
    design = line.design
    return {
        "sku": design.sku,
        "alloy": design.alloy,
        "size": design.size or None,
        "part_of": design.of or None,
        "castings": [{"name": name, "count": count} for name, count in design.castings],
        "quantity": design.quantity,
        "expected_starts": number(line.expected_starts),
        "patterns": line.patterns,
        "on_trees": line.on_trees,
        "chance": number(line.attained),
        "flasks": [{"flask": flask, "castings": units * design.chain.castings} for flask, units in line.flasks],
    }


def flask_record(flask: Flask) -> dict[str, Any]:
    """One pour, with all that is weighed for it."""
    return {
        "pour": flask.number,
        "alloy": flask.alloy,
        "flask": flask.flask or None,
        "load": flask.load or None,
        "holds": [
            {
                "sku": each.design.sku,
                "size": each.design.size or None,
                "part_of": each.design.of or None,
                "castings": each.castings,
                "missing_g": number(each.missing_g),
            }
            for each in flask.holds
        ],
        "tree_full": number(flask.room),
        **{name: None if (value := getattr(flask, name)) is None else number(value) for name in FLASK_FIGURES},
        "elements": {element: number(grams) for element, grams in flask.elements.items()},
    }


def flat_records(plan: Plan) -> list[dict[str, Any]]:
    """One record for each design on each tree, with the figures of its flask: what `--csv` prints."""
    return [
        {
            "pour": flask.number,
            "load": flask.load or None,
            "alloy": flask.alloy,
            "flask": flask.flask or None,
            "sku": each.design.sku,
            "size": each.design.size or None,
            "part_of": each.design.of or None,
            "castings": each.castings,
            "missing_g": number(each.missing_g),
            **{name: None if (value := getattr(flask, name)) is None else number(value) for name in FLASK_FIGURES},
        }
        for flask in plan.flasks
        for each in flask.holds
    ]
